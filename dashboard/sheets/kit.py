"""Sheets that go with a kit: contents list for the lid, packing list, inspection sheet and tags."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import groupby, zip_longest
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import KeepTogether, Table, TableStyle

from dashboard.cautions import ROLE_HAZARDS
from dashboard.palette import VERDICTS, Mark
from dashboard.sheets import told
from dashboard.sheets.paper import (
    LINE,
    Code,
    Marked,
    Page,
    Tick,
    beside,
    cautions,
    facts,
    gap,
    head,
    joined,
    mark,
    para,
    spoken,
    status,
    table,
    words,
)  # fmt: skip
from rules.engine import Assessment, Finding

KIT = (
    "select kit.*, h.weight_kg, h.is_weight_known, r.runtime_low_h, r.runtime_high_h from kit "
    "left join holding as h using (kit_id) left join kit_runtime as r using (kit_id) where member = ? and kit = ?"
)
ITEMS = (
    "select item.*, k.label, b.charge_limit_days, p.label as plug, f.label as plug_far, rp.label as rf, "
    "rf.label as rf_far, c.label as sort from item left join kind as k using (kind) left join battery as b using (item_id) "
    "left join connector as p on p.plug = item.dc_plug left join connector as f on f.plug = item.dc_plug_far "
    "left join connector as rp on rp.plug = item.rf_plug left join connector as rf on rf.plug = item.rf_plug_far "
    "left join chemistry as c on c.chemistry = item.chemistry where item.kit_id = ? order by module, item.line"
)
INSPECTION_DAYS = 365  # one inspection day before each season, common practice
STORES = ("source", "pack")


def find(assessment: Assessment, member: str, kit: str) -> dict[str, Any]:
    """A kit by its member and name."""
    return told.one(assessment, "kit", KIT, member, kit)


def items(assessment: Assessment, kit_id: int) -> list[dict[str, Any]]:
    """The items of a kit, by module, each with `charge_by`, the day its charge runs out."""
    found = told.rows(assessment, ITEMS, kit_id)
    for item in found:
        item["charge_by"] = charge_by(item["charged"], item["charge_limit_days"])
    return found


def charge_by(charged: date | None, within_days: float | None) -> date | None:
    """The day by which something that was charged once is to be charged again."""
    return None if charged is None or within_days is None else charged + timedelta(days=round(within_days))


def inspect_by(inspected: date | None) -> date | None:
    """The day by which a kit is to be looked over again."""
    return None if inspected is None else inspected + timedelta(days=INSPECTION_DAYS)


def times(item: dict[str, Any]) -> str:
    """How many of an item there are."""
    return f"{item['quantity']} \N{MULTIPLICATION SIGN}"


def details(item: dict[str, Any]) -> str:
    """The figures that tell one item from another: what a person would check on its label."""
    said: list[str] = []

    def say(value: object, form: str = "{}") -> None:
        if value is not None:
            said.append(form.format(value))

    say(item["bands"])
    say(item["rf_watts"], "{:g} W")
    say(item["sort"] if item["role"] in STORES else None)
    say(item["capacity_ah"], "{:g} Ah")
    say(item["solar_watts"], "{:g} W panel")
    say(item["amps_rated"] if item["role"] in ("fuse", "lead", "converter", "charger") else None, "{:g} A")
    say(item["length_m"], "{:g} m")
    for near, far in (("plug", "plug_far"), ("rf", "rf_far")):
        ends = [item[end] for end in (near, far) if item[end]]
        say(" to ".join(dict.fromkeys(ends)) if ends and item["role"] not in ("radio", *STORES) else None)
    return ", ".join(said)


def naming(item: dict[str, Any], good_until: date | None = None) -> Marked:
    """An item with its figures below, and what is wrong with it."""
    said = mark("{}", item["item"])
    if item["is_spare"]:
        said = mark("{} (spare)", said)
    if item["condition"] not in ("ok", "unknown"):
        said = mark("{} <b>{}: leave it out</b>", said, item["condition"])
    known = ", ".join(filter(None, (details(item), good_until and f"good until {told.day(good_until)}")))
    return mark('{}<br/><font size="7" color="#55645e">{}</font>', said, known) if known else said


def modules(found: Sequence[dict[str, Any]]) -> list[tuple[str, list[dict[str, Any]]]]:
    """Items by module, in order."""
    return [(name, list(group)) for name, group in groupby(found, lambda item: item["module"])]


def paired(
    heads: Sequence[str], listed: Sequence[Sequence[Any]], shares: Sequence[float], width: float
) -> Table:
    """A table with two entries beside each other on every row; the module is named once."""
    blank = [""] * len(heads)
    halves = [[*left, *right] for left, right in zip_longest(listed[::2], listed[1::2], fillvalue=blank)]
    return table(
        [*heads, *([*heads[:-1], ""] if len(listed) > 1 else blank)], halves, [*shares, *shares], width
    )


def hazards(found: Sequence[dict[str, Any]]) -> set[str]:
    """What to be careful of with these items."""
    asked = {ROLE_HAZARDS[item["role"]] for item in found if item["role"] in ROLE_HAZARDS}
    if any(
        item["kind"] in ("generator", "extension_cord", "inverter") or item["role"] == "charger"
        for item in found
    ):
        asked.add("mains")
    return asked


def verdict(assessment: Assessment, kit: dict[str, Any]) -> Mark:
    """A kit's verdict."""
    return VERDICTS[
        told.one(
            assessment,
            "kit",
            "select verdict from score where subject_kind = 'kit' and subject_id = ?",
            kit["kit_id"],
        )["verdict"]
    ]


def open_findings(assessment: Assessment, kit: dict[str, Any]) -> list[Finding]:
    """What blocks or limits a kit, or is not known of it, worst first; one of each rule."""
    found: dict[str, Finding] = {}
    for finding in assessment.findings(
        "s.member = ? and s.kit = ? and j.subject_kind in ('kit', 'item') and j.severity_no < 2",
        [kit["member"], kit["kit"]],
    ):
        found.setdefault(finding.rule, finding)
    return list(found.values())


def _top(assessment: Assessment, kit: dict[str, Any], page: Page, base: str, what: str) -> list[Any]:
    """Name, verdict and code of a kit."""
    found = verdict(assessment, kit)
    left = [
        para(kit["kit"], "title"),
        para(mark("{} of <b>{}</b>{}", what, kit["member"], f", {kit['purpose']}" if kit["purpose"] else "")),
        gap(1.5),
        para(status(found), "big"),
    ]
    code = Code(told.address(base, "kit", member=kit["member"], kit=kit["kit"]), 26)
    return [beside(left, code, page.width, 28 * mm), gap(1)]


def lid(assessment: Assessment, member: str, kit: str, paper: str = "A4", base: str = told.BASE) -> bytes:
    """Contents list for a kit's lid: verdict, charge dates, items by module, a code to the kit's page.

    Raises
    ------
    SheetError
        There is no such kit, paper or base address.
    """
    page, held = Page(paper), find(assessment, member, kit)
    found = items(assessment, held["kit_id"])
    weight = told.amount(held["weight_kg"], "kg", 1)
    lines = [
        *_top(assessment, held, page, base, "Kit"),
        facts(
            [
                ("for", told.amount(held["hours"], "h")),
                ("lasts on its own", told.span(held["runtime_low_h"], held["runtime_high_h"])),
                ("weight", weight if held["is_weight_known"] else f"{weight}, some items not weighed"),
                ("packed", told.day(held["packed"])),
                ("looked over", told.day(held["inspected"])),
                ("look over again by", told.day(inspect_by(held["inspected"]))),
                ("this list", told.day(assessment.today)),
                ("things inside", str(sum(item["quantity"] for item in found))),
            ],
            page.width,
        ),
    ]
    if opened := open_findings(assessment, held):
        rest = len(opened) - 4
        said = joined([status(told.mark_of(f), f.title.lower()) for f in opened[:4]], "; ")
        lines += [gap(1), para(mark("<b>Open:</b> {}{}", said, f"; and {rest} more" if rest > 0 else ""))]
    stores = [item for item in found if item["role"] in STORES and item["capacity_ah"] is not None]
    if stores:
        lines += [
            head("When was it charged?"),
            table(
                ["battery", "Ah", "last charged", "charge again by", "charged on", "charged on", "charged on"],
                [
                    [
                        item["item"] if item["quantity"] == 1 else f"{times(item)} {item['item']}",
                        f"{item['capacity_ah']:g}",
                        told.day(item["charged"]),
                        told.day(item["charge_by"]),
                        "", "", "",
                    ]
                    for item in stores
                ],
                [32, 8, 17, 18, 15, 15, 15],
                page.width,
                is_boxed=True,
            ),
        ]  # fmt: skip
    lines.append(head("What is inside?"))
    for name, group in modules(found):
        listed = [(Tick(), times(item), naming(item, item["expires"])) for item in group]
        lines += [paired(["", "", name], listed, [6, 8, 71], page.width), gap(2)]
    if not found:
        lines.append(para("Nothing has been written down for this kit yet."))
    lines += cautions(told.warned(hazards(found)), page.width)
    return page.pdf(f"{member} / {kit}: contents", lines, assessment.today)


# --- packing for one assignment ---

SENT = (
    "select a.*, p.*, m.member, k.kit, k.member as owner, k.kit || case when k.member_id <> a.member_id then ' of ' || k.member else '' end as whose_kit, e.starts as event_starts, e.temp_min_c, e.temp_max_c, e.is_storm_possible, "
    "e.shelter, e.minutes_to_care, pt.label as post_label, a.starts as comes, a.ends as goes, "
    "pk.carried_kg, pk.post_kit_id, pk.carry_limit_kg as limit_kg, r.runtime_low_h, r.runtime_high_h, r.need_h, "
    "r.is_on_mains, r.how, w.dark_h, w.is_alone, m.walk_limit_km as own_walk_km, m.carry_limit_kg as own_carry_kg, "
    "m.cold_limit_c as own_cold_c, m.heat_limit_c as own_heat_c, m.night_ok, m.solo_ok, "
    "m.licence_class, m.training "
    "from assignment as a join post as p using (post_id) join event as e on e.event_id = p.event_id "
    "join member as m on m.member_id = a.member_id left join kit as k on k.kit_id = a.kit_id "
    "left join post_type as pt using (post_type) "
    "left join post_kit as pk on pk.post_id = a.post_id and pk.kit_id = a.kit_id "
    "left join runtime as r on r.post_kit_id = pk.post_kit_id left join watch as w on w.post_kit_id = pk.post_kit_id "
)


def post_hazards(sent: dict[str, Any]) -> set[str]:
    """What to be careful of at a post."""
    asked = {
        "lightning": sent["is_storm_possible"],
        "traffic": sent["is_beside_traffic"],
        "masts": sent["mast_m"],
        "mains": sent["has_mains"],
        "carrying": sent["walk_km"] or sent["access"] in ("walk", "carry"),
        "weather": (sent["temp_max_c"] or 0) >= 27
        or (sent["temp_min_c"] if sent["temp_min_c"] is not None else 9) <= 5,
        "first_aid": sent["post_type"] in ("medical", "aid_station"),
    }
    return {hazard for hazard, is_so in asked.items() if is_so}


def conditions(sent: dict[str, Any]) -> list[tuple[str, object]]:
    """What a post asks of who goes there."""
    cold, hot = sent["temp_min_c"], sent["temp_max_c"]
    way = sent["access"] + (f", {sent['walk_km']:g} km on foot" if sent["walk_km"] else "")
    return [
        ("be there", told.from_to(sent["comes"], sent["goes"])),
        ("way in", way),
        ("weather", "not known" if cold is None or hot is None else f"{cold:.0f} to {hot:.0f} °C"),
        ("shelter", sent["shelter"] or "not known"),
        (
            "work",
            f"{sent['post_label'] or sent['post_type']}, {(sent['duty'] or 'not known').replace('_', ' ')}",
        ),
        ("bands", sent["bands"] or "not told"),
        ("least power", told.amount(sent["rf_watts_min"], "W")),
        ("mains there", sent["has_mains"]),
    ]


def packing(assessment: Assessment, assignment_id: int, paper: str = "A4") -> bytes:
    """Packing list of one person for one post: what the post asks, what is open, what to charge and take.

    Raises
    ------
    SheetError
        There is no such assignment or paper.
    """
    page = Page(paper)
    sent = told.one(assessment, "assignment", f"{SENT} where a.assignment_id = ?", assignment_id)
    name = f"{sent['event']} / {sent['post']}"
    with_what = f" with {sent['whose_kit']}" if sent["kit"] else ", bringing no kit"
    lines: list[Any] = [
        para(sent["post"], "title"),
        para(mark("{}: <b>{}</b>{}", sent["event"], sent["member"], with_what)),
        gap(1.5),
        facts(conditions(sent), page.width),
    ]
    if sent["kit"]:
        lasts = "mains" if sent["is_on_mains"] else told.span(sent["runtime_low_h"], sent["runtime_high_h"])
        lines.append(
            facts(
                [
                    ("kit lasts there", f"{lasts} (assumed figures)" if sent["how"] == "assumed" else lasts),
                    ("the shift needs", told.amount(sent["need_h"], "h", 1)),
                    ("to carry", told.amount(sent["carried_kg"], "kg", 1)),
                    ("own limit", told.amount(sent["limit_kg"], "kg", 1)),
                ],
                page.width,
            )
        )
    opened = assessment.findings(
        "s.event = ? and s.post = ? and (s.member = ? and s.kit is not distinct from ? or s.member is null) and j.severity_no < 2",
        [sent["event"], sent["post"], sent["member"], sent["kit"]],
    )
    if opened:
        told_once = {f.sentence: f for f in opened}
        lines += [
            head("What is still open?"),
            table(
                ["", "what", "what to do"],
                [
                    [status(told.mark_of(f)), spoken(f.sentence), spoken(f.fix)]
                    for f in list(told_once.values())[:8]
                ],
                [14, 50, 50],
                page.width,
            ),
        ]
        if len(told_once) > 8:
            lines.append(para(f"And {len(told_once) - 8} more in the dashboard.", "small"))
    found = items(assessment, sent["kit_id"]) if sent["kit_id"] is not None else []
    found = [item for item in found if item["is_usable"]]
    stores = [item for item in found if item["role"] in STORES and item["capacity_ah"] is not None]
    if stores:
        eve = sent["comes"] - timedelta(days=1)
        lines += [
            head(f"Charge on {told.moment(eve)[:14]}"),
            table(
                ["", "", "battery", "last charged"],
                [[Tick(), times(i), naming(i), told.day(i["charged"])] for i in stores],
                [6, 9, 82, 20],
                page.width,
            ),
        ]
    lines.append(head("What goes along?"))
    for module, group in modules(found):
        taken = [(Tick(), Tick(), times(item), naming(item)) for item in group]
        lines += [paired(["in", "back", "", module], taken, [7, 9, 8, 61], page.width), gap(2)]
    if not found:
        lines.append(para("No kit is assigned: bring what the post lead asks for, and your personal pack."))
    lines += cautions(told.warned(post_hazards(sent) | hazards(found)), page.width)
    return page.pdf(f"{name}: packing list for {sent['member']}", lines, assessment.today)


# --- inspection ---


def inspection(
    assessment: Assessment, member: str, kit: str, paper: str = "A4", base: str = told.BASE
) -> bytes:
    """Sheet to look a kit over by: what was found, every item to tick, room to write.

    Raises
    ------
    SheetError
        There is no such kit, paper or base address.
    """
    page, held = Page(paper), find(assessment, member, kit)
    found = items(assessment, held["kit_id"])
    lines: list[Any] = [
        *_top(assessment, held, page, base, "Inspection of a kit"),
        facts(
            [
                ("last looked over", told.day(held["inspected"])),
                ("due again", told.day(inspect_by(held["inspected"]))),
                ("looked over on", "________________"),
                ("by (another member)", "________________"),
            ],
            page.width,
        ),
    ]
    if opened := open_findings(assessment, held):
        lines += [
            head("What to look at first?"),
            table(
                ["done", "", "what", "what to do"],
                [[Tick(), status(told.mark_of(f)), spoken(f.sentence), spoken(f.fix)] for f in opened[:10]],
                [8, 14, 48, 48],
                page.width,
            ),
        ]
        if len(opened) > 10:
            lines.append(para(f"And {len(opened) - 10} more in the dashboard.", "small"))
    lines.append(head("Is every item there, whole and dated?"))
    for module, group in modules(found):
        lines += [
            table(
                ["ok", "mend", "", module, "dates", "measured, or what to mend"],
                [[Tick(), Tick(), times(i), naming(i), _dates(i), ""] for i in group],
                [7, 9, 9, 45, 25, 35],
                page.width,
                is_boxed=True,
            ),
            gap(2),
        ]
    if not found:
        lines.append(para("Nothing has been written down for this kit yet."))
    end = table(
        ["", "at the end"],
        [
            [Tick(), "station set up and a signal report exchanged from another place"],
            [Tick(), "polarity of every power lead measured with a meter"],
            [Tick(), "match of every antenna measured in its bands"],
            [Tick(), "lid list renewed, tag filled in and hung on the kit"],
        ],
        [7, 123],
        page.width,
    )
    answers = [Tick("the kit may go out"), gap(1.5), Tick("not before it is mended")]
    sign = beside(answers, para("signature ______________________________"), page.width, page.width / 2)
    lines += [KeepTogether([end, gap(3), sign]), *cautions(told.warned(hazards(found)), page.width)]
    return page.pdf(f"{member} / {kit}: inspection", lines, assessment.today)


def _dates(item: dict[str, Any]) -> Marked:
    """The days that an inspector compares with what the item says."""
    named = (
        ("charge by", item["charge_by"]),
        ("good until", item["expires"]),
        ("tested", item["tested"] or item["swr_tested"]),
        ("polarity", item["polarity_checked"]),
    )
    return joined([f"{name} {told.day(value)}" for name, value in named if value], "; ")


def tags(
    assessment: Assessment, kits: Sequence[tuple[str, str]], paper: str = "A4", base: str = told.BASE
) -> bytes:
    """Inspection tags to cut out and hang on kits, eight on a page.

    Parameters
    ----------
    kits
        Member and name of each kit.

    Raises
    ------
    SheetError
        A kit, the paper or the base address is not known, or no kit is named.
    """
    page = Page(paper)
    wide, high = page.width / 2, (page.height - 4 * mm) / 4
    drawn = [_tag(assessment, member, kit, base, wide) for member, kit in kits]
    if not drawn:
        drawn = [para("No kit has been sent yet.")]
    drawn += [""] * (len(drawn) % 2)
    sheet = Table(
        [drawn[at : at + 2] for at in range(0, len(drawn), 2)],
        colWidths=[wide] * 2,
        rowHeights=high - 0.5,
    )
    sheet.setStyle(
        TableStyle(
            [
                ("GRID", (0, 0), (-1, -1), 0.6, LINE, None, (3, 3)),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 8),
                ("RIGHTPADDING", (0, 0), (-1, -1), 8),
                ("TOPPADDING", (0, 0), (-1, -1), 8),
            ]
        )
    )
    return page.pdf("Inspection tags: cut along the dashed lines", [sheet], assessment.today)


def _tag(assessment: Assessment, member: str, kit: str, base: str, wide: float) -> list[Any]:
    held = find(assessment, member, kit)
    found = items(assessment, held["kit_id"])
    charges = [item["charge_by"] for item in found if item["charge_by"]]
    goods = [item["expires"] for item in found if item["expires"]]
    room = wide - 16
    left = [
        para(words(member, 24), "label"),
        para(words(kit, 44), "big"),
        gap(0.5),
        para(status(verdict(assessment, held)), "cell"),
        gap(1),
        para(mark("look over by <b>{}</b>", told.day(inspect_by(held["inspected"]))), "cell"),
        para(mark("charge by <b>{}</b>", told.day(min(charges, default=None))), "cell"),
        para(mark("first date to pass <b>{}</b>", told.day(min(goods, default=None))), "cell"),
    ]
    code = Code(told.address(base, "kit", member=member, kit=kit), 24)
    return [
        beside(left, code, room, 25 * mm),
        *[gap(2.6), para("looked over on ____________  by ________________________", "cell")] * 3,
    ]
