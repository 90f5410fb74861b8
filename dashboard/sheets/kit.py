"""Sheets that go with a kit: contents list for the lid, packing list, inspection sheet and tags."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import KeepTogether, Table, TableStyle

from dashboard import units
from dashboard.cautions import ON_MAINS, ROLE_HAZARDS
from dashboard.palette import VERDICTS, Mark
from dashboard.sheets import told
from dashboard.sheets.columns import Columns, entries
from dashboard.sheets.paper import (
    LINE,
    Code,
    Marked,
    Page,
    Tick,
    beside,
    cautions,
    facts,
    fix,
    gap,
    head,
    joined,
    mark,
    para,
    sentence,
    status,
    table,
    words,
)  # fmt: skip
from rules.engine import Assessment, Finding

KIT = (
    "select kit.*, h.weight_kg, h.is_weight_known, r.runtime_low_h, r.runtime_high_h from kit "
    "left join holding as h using (kit_id) left join kit_runtime as r using (kit_id) where member = ? and kit = ?"
)
ITEMS = """
    select item.*, k.label, b.charge_limit_days, c.label as sort,
        item.chemistry is not null and c.charge_days is null as is_disposable,
        p.label as plug, f.label as plug_far, rp.label as rf, rf.label as rf_far
    from item
    left join kind as k using (kind)
    left join battery as b using (item_id)
    left join connector as p on p.plug = item.dc_plug
    left join connector as f on f.plug = item.dc_plug_far
    left join connector as rp on rp.plug = item.rf_plug
    left join connector as rf on rf.plug = item.rf_plug_far
    left join chemistry as c on c.chemistry = item.chemistry
    where item.kit_id = ? order by module, item.line
"""
NOTHING = "Nothing has been written down for this kit yet."
NEVER_CHARGE = Marked("<b>never: fit fresh cells</b>")
OPEN_SHOWN = 4
INSPECTED = "not_inspected_this_year"
NO_DAY = Marked("<b>now</b>, no day is known")
STORES = ("source", "pack")
NO_STORES = ("supply_30a", "generator")
PLUGS_UNSAID = ("radio", "other_radio", *STORES)


def find(assessment: Assessment, member: str, kit: str) -> dict[str, Any]:
    """A kit by its member and name."""
    return told.one(assessment, "kit", KIT, member, kit)


def written(assessment: Assessment, kit_id: int) -> list[dict[str, Any]]:
    """Every item on the list of a kit, by module: what was taken out of it, too."""
    return told.rows(assessment, ITEMS, kit_id)


def items(assessment: Assessment, kit_id: int) -> list[dict[str, Any]]:
    """The items that are in a kit, by module, each with `charge_by`, the day its charge runs out."""
    found = [item for item in written(assessment, kit_id) if item["condition"] != "removed"]
    for item in found:
        item["charge_by"] = charge_by(item["charged"], item["charge_limit_days"])
    return found


def charge_by(charged: date | None, within_days: float | None) -> date | None:
    """The day by which something that was charged once is to be charged again."""
    return None if charged is None or within_days is None else charged + timedelta(days=round(within_days))


def inspect_within(assessment: Assessment) -> timedelta:
    """For how long an inspection of a kit counts, by the rule that asks for the next."""
    return told.within(assessment, INSPECTED)


def inspect_by(assessment: Assessment, inspected: date | None) -> date | None:
    """The day by which a kit is to be looked over again."""
    return None if inspected is None else inspected + inspect_within(assessment)


def due(assessment: Assessment, inspected: date | None) -> Marked:
    """When a kit is to be looked over again, and whether that day has passed."""
    by = inspect_by(assessment, inspected)
    if by is None:
        return NO_DAY
    return _by(assessment, by)


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
    say(item["length_m"], "{:.3g} m")
    for near, far in (("plug", "plug_far"), ("rf", "rf_far")):
        ends = [item[end] for end in (near, far) if item[end]]
        say(" to ".join(dict.fromkeys(ends)) if ends and item["role"] not in PLUGS_UNSAID else None)
    return ", ".join(said)


def naming(item: dict[str, Any], good_until: date | None = None) -> Marked:
    """An item with its figures below, and what is wrong with it."""
    said = mark("{}", item["item"])
    if item["is_spare"]:
        said = mark("{} (spare)", said)
    if item["condition"] not in ("ok", "unknown"):
        said = mark("{} <b>{}: leave it out</b>", said, item["condition"])
    known = ", ".join(
        filter(None, (units.said(details(item)), good_until and f"good until {told.day(good_until)}"))
    )
    return mark('{} &nbsp;<font size="7.6" color="#4a5852">{}</font>', said, known) if known else said


def modules(found: Sequence[dict[str, Any]]) -> list[tuple[str, list[dict[str, Any]]]]:
    """Items by module, in order."""
    return [(name, list(group)) for name, group in groupby(found, lambda item: item["module"])]


def listed(
    page: Page,
    found: Sequence[dict[str, Any]],
    heads: Sequence[str],
    shares: Sequence[float],
    row: Callable[[dict[str, Any]], Sequence[object]],
    is_tight: bool,
) -> Columns:
    """Items in two columns, each module under its name.

    Parameters
    ----------
    heads : above what stands before the item's name
    row : what stands before the item's name, then the name
    """
    return Columns(
        [
            entry
            for module, group in modules(found)
            for entry in entries([*heads, module], [row(item) for item in group], shares, page, is_tight)
        ]
    )


def hazards(found: Sequence[dict[str, Any]]) -> set[str]:
    """What to be careful of with these items."""
    asked = {hazard for item in found for hazard in ROLE_HAZARDS.get(item["role"], ())}
    return asked | {"mains" for item in found if item["kind"] in ON_MAINS}


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


def _top(assessment: Assessment, kit: dict[str, Any], page: Page, code: Code | None, what: str) -> list[Any]:
    """Name, verdict and code, if there is one, of a kit."""
    found = verdict(assessment, kit)
    left = [
        para(kit["kit"], "title"),
        para(mark("{} of <b>{}</b>{}", what, kit["member"], f", {kit['purpose']}" if kit["purpose"] else "")),
        gap(1.5),
        para(status(found), "big"),
    ]
    return [beside(left, code, page.width, 28 * mm), gap(1)]


def _code(base: str, member: str, kit: str, side_mm: float = 26) -> Code | None:
    """A code that leads to the page of a kit, where others can reach it."""
    return told.code(base, "kit", side_mm, member=member, kit=kit)


def lid(
    assessment: Assessment, member: str, kit: str, paper: str | None = None, base: str = told.BASE
) -> bytes:
    """Contents list for a kit's lid: verdict, charge dates, items by module, a code to the kit's page where others reach it.

    Raises
    ------
    SheetError
        There is no such kit, paper or base address.
    """
    page, held = Page(paper), find(assessment, member, kit)
    found, leads = items(assessment, held["kit_id"]), _code(base, member, kit)

    def drawn(is_tight: bool) -> list[Any]:
        return [
            *_top(assessment, held, page, leads, "Kit"),
            _at_a_glance(assessment, held, found, page),
            *_open(assessment, held),
            *_charges(assessment, found, page),
            *cautions(told.warned(hazards(found)), page.width),
            head("What is inside?"),
            listed(
                page,
                found,
                ["", ""],
                [6, 8, 71],
                lambda item: (Tick(), times(item), naming(item, item["expires"])),
                is_tight,
            )
            if found
            else para(NOTHING),
        ]

    return page.pdf(f"Contents of {member} / {kit}", page.fewest(drawn), assessment.today)


def _at_a_glance(
    assessment: Assessment, kit: dict[str, Any], found: Sequence[dict[str, Any]], page: Page
) -> Table:
    weight, meant = told.amount(kit["weight_kg"], "kg", 1), kit | {"need_h": kit["hours"]}
    return facts(
        [
            ("meant for", told.shift_needs(meant)),
            ("lasts on its own", told.lasts_alone(meant)),
            ("weight", weight if kit["is_weight_known"] else f"{weight}, some items not weighed"),
            ("packed", told.day(kit["packed"])),
            ("looked over", told.day(kit["inspected"])),
            ("look over again by", due(assessment, kit["inspected"])),
            ("this list", told.day(assessment.today)),
            ("things inside", str(sum(item["quantity"] for item in found))),
        ],
        page.width,
    )


def _open(assessment: Assessment, kit: dict[str, Any]) -> list[Any]:
    """What is open, in one line."""
    opened = open_findings(assessment, kit)
    rest = len(opened) - OPEN_SHOWN
    said = joined([status(told.mark_of(f), f.title.lower()) for f in opened[:OPEN_SHOWN]], "; ")
    more = f"; and {rest} more" if rest > 0 else ""
    return [gap(1), para(mark("<b>Open:</b> {}{}", said, more))] if opened else []


def stores(found: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """What holds a charge and works, be its capacity and chemistry told or not."""
    holds = [item for item in found if item["role"] in STORES and item["kind"] not in NO_STORES]
    return [item for item in holds if item["is_usable"]]


def _by(assessment: Assessment, due: date | None) -> Marked:
    """A day by which something is to be done, and whether it has passed."""
    is_late = due is not None and due < assessment.today
    return mark("<b>{}, late</b>" if is_late else "{}", told.day(due))


def _charge_first(assessment: Assessment, found: Sequence[dict[str, Any]]) -> Marked:
    """The day by which the first battery of a kit is to be charged again."""
    days = [item["charge_by"] for item in stores(found) if not item["is_disposable"]]
    if not days:
        return Marked("nothing to charge")
    if None in days:
        return mark("charge {}", NO_DAY)
    return mark("charge by <b>{}</b>", _by(assessment, min(days)))


def _charges(assessment: Assessment, found: Sequence[dict[str, Any]], page: Page) -> list[Any]:
    """When each battery was charged, with room to write."""
    body = [
        [
            item["item"] if item["quantity"] == 1 else f"{times(item)} {item['item']}",
            "not known" if item["capacity_ah"] is None else f"{item['capacity_ah']:g}",
            "" if item["is_disposable"] else told.day(item["charged"]),
            NEVER_CHARGE if item["is_disposable"] else _by(assessment, item["charge_by"]),
            "", "", "",
        ]
        for item in stores(found)
    ]  # fmt: skip
    names = ["battery", "Ah", "last charged", "charge again by", "charged on", "charged on", "charged on"]
    shares = [32, 8, 17, 18, 15, 15, 15]
    return (
        [head("When was it charged?"), table(names, body, shares, page.width, is_boxed=True)] if body else []
    )


# --- inspection ---


def inspection(
    assessment: Assessment, member: str, kit: str, paper: str | None = None, base: str = told.BASE
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
        *_top(assessment, held, page, _code(base, member, kit), "Inspection of a kit"),
        facts(
            [
                ("last looked over", told.day(held["inspected"])),
                ("due again", due(assessment, held["inspected"])),
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
                [[Tick(), status(told.mark_of(f)), sentence(f), fix(f)] for f in opened[:10]],
                [8, 14, 48, 48],
                page.width,
            ),
        ]
        if len(opened) > 10:
            lines.append(para(f"And {len(opened) - 10} more in the dashboard.", "small"))
    lines += [
        *cautions(told.warned(hazards(found)), page.width),
        head("Is every item there, whole and dated?"),
    ]
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
        lines.append(para(NOTHING))
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
    lines.append(KeepTogether([end, gap(3), sign]))
    return page.pdf(f"Inspection of {member} / {kit}", lines, assessment.today)


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
    assessment: Assessment, kits: Sequence[tuple[str, str]], paper: str | None = None, base: str = told.BASE
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
        [drawn[at : at + 2] for at in range(0, len(drawn), 2)], colWidths=[wide] * 2, rowHeights=high - 0.5
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
    goods = [item["expires"] for item in found if item["expires"]]
    room = wide - 16
    left = [
        para(words(member, 24), "label"),
        para(words(kit, 44), "big"),
        gap(0.5),
        para(status(verdict(assessment, held)), "cell"),
        gap(1),
        para(mark("look over again: <b>{}</b>", due(assessment, held["inspected"])), "cell"),
        para(_charge_first(assessment, found), "cell"),
        para(mark("first thing expires <b>{}</b>", told.day(min(goods, default=None))), "cell"),
    ]
    return [
        beside(left, _code(base, member, kit, 24), room, 25 * mm),
        *[gap(4.5), para("looked over on ____________  by ________________________", "cell")] * 3,
    ]
