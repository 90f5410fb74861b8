"""Packing list of one person for one post: where and when, what the post asks, what is open, what to charge and take."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from reportlab.platypus import Paragraph

from dashboard import units
from dashboard.sheets import kit, told
from dashboard.sheets.boxes import lines
from dashboard.sheets.paper import (
    Marked,
    Page,
    Tick,
    cautions,
    facts,
    fix,
    gap,
    head,
    joined,
    mark,
    para,
    spoken,
    status,
    table,
)
from data import plain_words
from rules.engine import Assessment, Finding
from rules.facts.posts import CARRIED, loads

MOST_BLOCKS, FEW_SHOWN = 8, 3  # what blocks is all said; what limits only where little else is
BESIDE_SHOWN = 12
BY_HAND = ("frequency, shift and tone", "if the radio fails, call")
ASKED = {"is_id_asked": "identity card", "is_vetting_asked": "background check", "is_waiver_asked": "waiver"}
AWAY_FROM = {"people": "antenna to people", "power line": "mast to power line"}
DISTANCES = """
    (select max(x.public_safe_m) from exposure as x join post_kit as k using (post_kit_id)
        where k.post_id = p.post_id and k.is_assigned) as keep_m,
    (select clear_m from fall_zone as z where z.post_id = p.post_id) as clear_m
"""
SENT = f"""
    select a.*, p.*, {CARRIED.format("p")} as is_carried, a.starts as comes, a.ends as goes, pt.label as post_label,
        m.member, k.kit, k.member as owner,
        k.kit || case when k.member_id <> a.member_id then ' of ' || k.member else '' end as whose_kit,
        first.member as brought_first_by,
        e.starts as event_starts, e.clocks_change, e.clock_min, e.clock_after_min, e.temp_min_c, e.temp_max_c,
        e.is_storm_possible, e.storm_watch, e.minutes_to_care,
        e.channel, e.channel_alternate, e.channel_simplex,
        e.is_id_asked, e.is_vetting_asked, e.is_waiver_asked, e.training_asked,
        r.runtime_low_h, r.runtime_high_h, r.need_h, r.elsewhere_h, r.untold, r.is_on_mains, r.how, w.is_dark, w.is_alone, h.near,
        m.walk_limit_km as own_walk_km, m.carry_limit_kg as own_carry_kg, m.cold_limit_c as own_cold_c,
        m.heat_limit_c as own_heat_c, m.night_ok, m.solo_ok, m.licence_class, m.training,
        {DISTANCES}
    from assignment as a
    join post as p using (post_id)
    join event as e on e.event_id = p.event_id
    join member as m on m.member_id = a.member_id
    left join kit as k on k.kit_id = a.kit_id
    left join post_type as pt using (post_type)
    left join post_kit as pk on pk.post_id = a.post_id and pk.kit_id = a.kit_id
    left join member as first on first.member_id = pk.member_id
    left join runtime as r on r.post_kit_id = pk.post_kit_id
    left join own_turn as t on t.assignment_id = a.assignment_id
    left join watch as w on w.post_kit_id = t.post_kit_id
    left join hardship as h on h.post_kit_id = t.post_kit_id
"""
PLACE = (
    f"select p.*, {CARRIED.format('p')} as is_carried, e.is_storm_possible, e.temp_min_c, e.temp_max_c "
    "from post as p join event as e using (event_id) "
)


def with_loads(assessment: Assessment, sent: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Rows of SENT with what each carries there on foot (`rules.facts.posts.loads`), NULL where nothing is carried."""
    carried = loads(assessment.con, assessment.policy, {row["post_id"] for row in sent})
    nothing = dict.fromkeys(("weighed_kg", "is_weighed", "carriers", "carry_limit_kg"))
    return [row | carried.get(row["assignment_id"], nothing) for row in sent]


def post_hazards(sent: dict[str, Any]) -> set[str]:
    """What to be careful of at a post: a row of SENT or PLACE. Where nobody tells of storms, traffic or the weather, of these too."""
    coldest, hottest = sent["temp_min_c"], sent["temp_max_c"]
    asked = {
        "lightning": sent["is_storm_possible"] is not False,
        "traffic": sent["is_beside_traffic"] is not False,
        "masts": sent["mast_m"],
        "mains": sent["has_mains"],
        "carrying": sent["walk_km"] or sent["is_carried"],
        "weather": coldest is None or hottest is None or coldest <= 5 or hottest >= 27,
        "first_aid": sent["post_type"] in ("medical", "aid_station"),
    }
    return {hazard for hazard, is_so in asked.items() if is_so}


def conditions(sent: dict[str, Any]) -> list[tuple[str, object]]:
    """What a post asks of who goes there."""
    way = sent["access"] + (f", {told.figure(sent['walk_km'], 'km')} on foot" if sent["walk_km"] else "")
    duty = plain_words.called("duty", sent["duty"]) or "not known"
    return [
        ("way in", way),
        ("weather", told.weather(sent["temp_min_c"], sent["temp_max_c"])),
        ("shelter", told.shelter(sent)),
        ("work", ", ".join(dict.fromkeys((sent["post_label"] or sent["post_type"], duty)))),
        ("bands", sent["bands"] or "not told"),
        ("least power", told.amount(sent["rf_watts_min"], "W")),
        ("mains there", sent["has_mains"]),
    ]


def channels(event: dict[str, Any]) -> Paragraph:
    """The channels of an event by name."""
    named = [mark("{} <b>{}</b>", use, name) for use, name in told.channels(event)]
    return para(mark("Channels: {}", joined(named, "; ") if named else "not known"))


def asked_of_all(event: dict[str, Any]) -> list[tuple[str, object]]:
    """What the organiser asks of everyone who is sent, where anything is."""
    asked = [name for column, name in ASKED.items() if event[column]]
    asked += (event["training_asked"] or "").split()
    return [("asked of all", ", ".join(asked))] if asked else []


def storm_watch(event: dict[str, Any]) -> list[tuple[str, object]]:
    """What tells of a storm, where one may come."""
    if event["is_storm_possible"] is False:
        return []
    return [("storm watch", (event["storm_watch"] or "not known").replace("_", " "))]


def distances(post: dict[str, Any]) -> dict[str, str]:
    """How far the antennas and the mast of a post are to stay from people and from a power line; a row with DISTANCES."""
    kept = [("people", post["keep_m"], 1), ("power line", post["clear_m"], 0)]
    return {of: units.at_least(metres, "m", places) for of, metres, places in kept if metres is not None}


def _agreed(sent: dict[str, Any]) -> list[tuple[str, object]]:
    """What holds for a post beside: clocks that change, where it stands, a vehicle that stays, check-ins, how else help is called."""
    every = "" if sent["check_in_min"] is None else f"every {sent['check_in_min']:.0f} min"
    other = (sent["alert_path"] or "").replace("_", " ")
    care = "" if sent["minutes_to_care"] is None else told.amount(sent["minutes_to_care"], "min")
    agreed = [
        ("clocks", told.clocks(sent, sent["comes"], sent["goes"])),
        ("place", sent["site"]),
        ("vehicle stays", sent["has_vehicle"]),
        ("check in", every),
        ("if no check-in comes", sent["missed_check_in"]),
        ("other way to call", other),
        ("minutes to care", care),
    ]
    said = [(label, value) for label, value in agreed if value not in (None, "")]
    return [*said, *storm_watch(sent), *asked_of_all(sent)]


def _keep(sent: dict[str, Any]) -> list[tuple[str, object]]:
    """The distances to keep; that of people is said to be missing where a kit is brought and none was worked out."""
    kept = {of: f"{metres} or more" for of, metres in distances(sent).items()}
    if sent["kit"]:
        kept = {"people": "not known"} | kept
    return [(AWAY_FROM[of], said) for of, said in kept.items()]


def _beside(assessment: Assessment, sent: dict[str, Any]) -> Paragraph:
    """Who else is sent to the post, when and with what; and the other turns of who holds the list."""
    others = told.rows(
        assessment,
        f"{SENT} where a.post_id = ? and a.assignment_id <> ? order by a.starts, m.member, a.assignment_id",
        sent["post_id"],
        sent["assignment_id"],
    )
    said = [
        mark(
            "<b>{}</b>{}, {}",
            "you again" if row["member"] == sent["member"] else row["member"],
            f" with {row['whose_kit']}" if row["kit"] else " without a kit",
            told.turn(row["comes"], row["goes"]),
        )
        for row in others[:BESIDE_SHOWN]
    ]
    more = f"; and {len(others) - len(said)} more" if len(others) > len(said) else ""
    return para(mark("Also sent there: {}{}", joined(said, "; ") if said else "nobody", more))


def packing(assessment: Assessment, assignment_id: int, paper: str | None = None) -> bytes:
    """The list of one assignment.

    Raises
    ------
    SheetError
        There is no such assignment or paper.
    """
    page = Page(paper)
    one = told.one(assessment, "assignment", f"{SENT} where a.assignment_id = ?", assignment_id)
    (sent,) = with_loads(assessment, [one])
    found = kit.items(assessment, sent["kit_id"]) if sent["kit_id"] is not None else []
    found = [item for item in found if item["is_usable"]]
    with_what = f" with {sent['whose_kit']}" if sent["kit"] else ", bringing no kit"

    def drawn(is_tight: bool) -> list[Any]:
        return [
            para(sent["post"], "title"),
            para(told.from_to(sent["comes"], sent["goes"]), "big"),
            para(mark("{}: <b>{}</b>{}", sent["event"], sent["member"], with_what)),
            gap(1.5),
            facts(
                [*conditions(sent), *(_lasting(sent) if sent["kit"] else []), *_keep(sent), *_agreed(sent)],
                page.width,
                across=5,
            ),
            channels(sent),
            _beside(assessment, sent),
            lines([(to_write, None) for to_write in BY_HAND], page.width),
            *_open(assessment, page, sent, is_tight),
            *_charge(page, sent, found, is_tight),
            *cautions(told.warned(post_hazards(sent) | kit.hazards(found)), page.width),
            head("What goes along?"),
            kit.listed(
                page,
                found,
                ["in", "back", ""],
                [7, 9, 8, 61],
                lambda item: (Tick(), Tick(), kit.times(item), kit.naming(item)),
                is_tight,
            )
            if found
            else para(
                "No kit is assigned to you: ask the event lead what to bring, and take your personal pack."
            ),
        ]

    title = f"Packing list for {sent['member']}: {sent['event']} / {sent['post']}"
    return page.pdf(title, page.fewest(drawn), assessment.today)


def _lasting(sent: dict[str, Any]) -> list[tuple[str, object]]:
    """How long the kit lasts and what it weighs, beside what is asked."""
    lasts = told.lasts(sent) + (" (assumed figures)" if sent["how"] == "assumed" else "")
    if told.is_short(sent) and sent["untold"]:
        lasts += f"; {sent['untold']}"
    return [
        ("kit lasts there", lasts),
        ("the shift needs", told.shift_needs(sent)),
        *(_carried(sent) if sent["is_carried"] else []),
    ]


def load(sent: dict[str, Any]) -> tuple[float | None, bool]:
    """Kilograms that are carried in, as much of them as is known, and whether it is more."""
    is_more = not sent["is_weighed"] and bool(sent["weighed_kg"])
    return sent["weighed_kg"] if sent["is_weighed"] or is_more else None, is_more


def _carried(sent: dict[str, Any]) -> list[tuple[str, object]]:
    """What is carried in with the kit, or as much of it as is known, beside the limit for that."""
    load_kg, more = load(sent)
    shared, whose = (f", shared by {sent['carriers']}", "their") if sent["carriers"] else ("", "own")
    return [
        ("to carry", told.amount(load_kg, "kg", 1) + (" or more" if more else "") + shared),
        (f"{whose} limit", told.amount(sent["carry_limit_kg"], "kg", 1)),
    ]


def _open(assessment: Assessment, page: Page, sent: dict[str, Any], is_tight: bool) -> list[Any]:
    """What blocks this person with this kit at this post, or may; then what limits them there."""
    bearing = told.bearing(assessment, sent["event"], [sent]).get(sent["post"], [])
    opened = [f for f in bearing if f.post is None or f.member is None or _is_theirs(f, sent)]
    blocks = [f for f in opened if f.severity == "blocks"][:MOST_BLOCKS]
    limits = [f for f in opened if f.severity != "blocks" and f.post is not None]
    shown = blocks + limits[: max(0, FEW_SHOWN - len(blocks))]
    if not opened:
        return []
    known = (f"{sent['event']}/{sent['post']}: ", f"{sent['owner']}/{sent['kit']}: ", f"{sent['member']}: ")

    def said(finding: Finding) -> Marked:
        """Without whom it is about, who holds the list."""
        text = units.in_finding(finding.sentence, finding)
        for name in known:
            text = text.removeprefix(name)
        return spoken(text[:1].upper() + text[1:])

    rest = len(opened) - len(shown)
    more = f"And {rest} more in the dashboard." if rest else ""
    body = [[status(told.mark_of(f)), said(f), fix(f)] for f in shown]
    return [
        head("What is still open?"),
        *(
            [table(["", "what", "what to do"], body, [17, 50, 50], page.width, is_tight=is_tight)]
            if body
            else []
        ),
        *([para(more, "small")] if more else []),
    ]


def _is_theirs(finding: Finding, sent: dict[str, Any]) -> bool:
    """Whether what is found at a post is said of this person there, or of the kit that they bring, whoever brings it first."""
    first = sent["member"] if finding.file in ("members", "assignments") else sent["brought_first_by"]
    called = sent["kit"] if first == sent["owner"] else f"{sent['kit']} of {sent['owner']}"
    return (finding.member, finding.kit) in (
        (sent["member"], None),
        (sent["member"], sent["whose_kit"]),
        (first, called),
    )


def _charge(page: Page, sent: dict[str, Any], found: list[dict[str, Any]], is_tight: bool) -> list[Any]:
    """What to charge on the day before, and what never to charge."""
    body = [
        [
            Tick(),
            kit.times(item),
            kit.naming(item),
            kit.NEVER_CHARGE if item["is_disposable"] else told.day(item["charged"]),
        ]
        for item in kit.stores(found)
    ]
    eve = sent["comes"] - timedelta(days=1)
    names = ["", "", "battery", "last charged"]
    shares = [6, 9, 74, 28]
    listed = table(names, body, shares, page.width, is_tight=is_tight) if body else None
    return [head(f"Charge on {eve:%a %Y-%m-%d}"), listed] if listed else []
