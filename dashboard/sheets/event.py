"""The packet of an event: posts with who and which kit, what is open, shifts, go or no go by own limits, cautions."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from dashboard.palette import ANSWERS, VERDICTS, Mark
from dashboard.sheets import kit, told
from dashboard.sheets.packing import (
    DISTANCES,
    PLACE,
    SENT,
    asked_of_all,
    channels,
    distances,
    load,
    post_hazards,
    storm_watch,
    with_loads,
)
from dashboard.sheets.paper import (
    BREAK,
    Marked,
    Page,
    Tick,
    cautions,
    facts,
    gap,
    head,
    joined,
    mark,
    para,
    readable,
    status,
    table,
    words,
)
from rules.engine import Assessment, Finding

POSTS = (
    "select p.*, pt.label, c.uncovered_h, c.short_h, c.first_gap, c.first_short, c.people, "
    f"e.is_storm_possible, e.shelter as event_shelter, {DISTANCES} from post as p join event as e using (event_id) "
    "left join post_type as pt using (post_type) left join coverage as c using (post_id) where event_id = ? order by p.line"
)
BRIEFING = (
    "Nobody is paid for operating.",
    "Identify at least every ten minutes and at the end; a cross-band node or portable repeater identifies too.",
    "Runners who are injured or drop out: bib number and exact place. No names and no medical detail on the air.",
    "Know the exact place before medical is called.",
)
"""What is said to all before an event, whoever holds which post."""
KEY = [ANSWERS[word] for word in ("blocks", "limits", "not known")]
OPEN_SHOWN = 3  # but all that is known to block
SIGN_MM = 6  # a row that is signed
PEOPLE_A_ROW = 10  # a row of the table stays on one page


def packet(assessment: Assessment, event: str, paper: str | None = None) -> bytes:
    """Everything for one event on paper: posts, shifts, runtime, what is open, go or no go, cautions.

    Raises
    ------
    SheetError
        There is no such event or paper.
    """
    page = Page(paper, is_wide=True)
    held = told.one(
        assessment,
        "event",
        "select event.*, dark_h, s.verdict from event left join darkness using (event_id) join score as s "
        "on s.subject_kind = 'event' and s.subject_id = event_id where event = ?",
        event,
    )
    posts = told.rows(assessment, POSTS, held["event_id"])
    sent = with_loads(
        assessment,
        told.rows(
            assessment,
            f"{SENT} where p.event_id = ? order by p.line, a.starts, m.member, a.assignment_id",
            held["event_id"],
        ),
    )
    verdicts = told.verdicts(assessment, "post")
    ready = sum(verdicts[f"{event}/{post['post']}"].word.startswith("ready") for post in posts)
    hazards = {"lightning", "first_aid", "weather", *_hazards(assessment, held["event_id"])}
    bearing = told.bearing(assessment, event, sent)

    def drawn(is_tight: bool) -> list[Any]:
        return [
            para(event, "title"),
            para(told.from_to(held["starts"], held["ends"]), "big"),
            para(
                mark(
                    "{} of {} posts can be held as planned: {}",
                    ready,
                    len(posts),
                    status(VERDICTS[held["verdict"]]),
                )
            ),
            gap(1.5),
            facts(
                [
                    ("weather", told.weather(held["temp_min_c"], held["temp_max_c"])),
                    ("storms possible", held["is_storm_possible"]),
                    ("dark hours", told.amount(held["dark_h"], "h", 1)),
                    ("shelter", held["shelter"]),
                    *storm_watch(held),
                    ("minutes to care", told.amount(held["minutes_to_care"], "min")),
                    ("public there", held["is_public"]),
                    ("briefed", told.day(held["briefed"])),
                    ("packets sent", told.day(held["packets_sent"])),
                    ("action starts", told.moment(held["action_starts"])),
                    *_clocks(held),
                    *asked_of_all(held),
                ],
                page.width,
                across=6,
            ),
            channels(held),
            head("Who is where, with what?"),
            para(
                mark("What is open: {}; what to do stands on the packing lists.", joined(map(status, KEY))),
                "small",
            ),
            gap(1),
            _posts(page, posts, sent, verdicts, bearing, is_tight),
            *_gaps(page, posts),
            *cautions(told.warned(hazards), page.width),
            head("For the briefing"),
            para(mark("{}", joined(BRIEFING, " "))),
            head("Who comes when?"),
            _shifts(page, sent, is_tight),
            *_go(page, sent, is_tight),
        ]

    return page.pdf(f"Event packet: {event}", page.fewest(drawn), assessment.today)


def _clocks(event: dict[str, Any]) -> list[tuple[str, object]]:
    """How clocks change while it runs, where they do."""
    said = told.clocks(event, event["starts"], event["ends"])
    return [("clocks", said)] if said else []


def _hazards(assessment: Assessment, event_id: int) -> set[str]:
    """What to be careful of at the posts of an event and with what is brought there."""
    places = told.rows(assessment, f"{PLACE} where event_id = ?", event_id)
    brought = told.rows(
        assessment,
        "select distinct role, kind from item where is_usable and kit_id in (select kit_id from assignment where event_id = ?)",
        event_id,
    )
    return {"charging", "exposure", *kit.hazards(brought)}.union(*map(post_hazards, places))


def _posts(
    page: Page,
    posts: list[dict[str, Any]],
    sent: list[dict[str, Any]],
    verdicts: dict[str, Mark],
    bearing: dict[str, list[Finding]],
    is_tight: bool,
) -> Any:
    body: list[list[object]] = []
    for post in posts:
        here = list(dict.fromkeys(_sent(row) for row in sent if row["post_id"] == post["post_id"]))
        worst: dict[str, Finding] = {}
        for found in bearing.get(post["post"], []):
            worst.setdefault(found.rule, found)
        opened = list(worst.values())
        stops = sum((f.severity, f.status) == ("blocks", "not met") for f in opened)
        shown = [status(told.mark_of(f), f.title.lower()) for f in opened[: max(stops, OPEN_SHOWN)]]
        more = f"; and {len(opened) - len(shown)} more" if len(opened) > len(shown) else ""
        name = mark("<b>{}</b>", post["post"])
        body.append(
            [
                mark(
                    '{}<br/><font size="7.6" color="#4a5852">{}</font>',
                    name,
                    joined(
                        [post["label"] or post["post_type"], *([post["site"]] if post["site"] else [])], BREAK
                    ),
                ),
                _open(post),
                joined(here[:PEOPLE_A_ROW], BREAK) if here else Marked("<b>nobody yet</b>"),
                joined((f"{of} {metres}" for of, metres in distances(post).items()), BREAK),
                status(verdicts[f"{post['event']}/{post['post']}"]),
                mark("{}{}", joined(shown, "; "), more) if shown else "",
            ]
        )
        for at in range(PEOPLE_A_ROW, len(here), PEOPLE_A_ROW):
            body.append([mark("{}, more", name), "", joined(here[at : at + PEOPLE_A_ROW], BREAK), "", "", ""])
    names = [
        "post",
        "open",
        "who, kit: it lasts / the shift needs",
        "antenna, mast: keep away",
        "verdict",
        "what is open",
    ]
    return table(names, body, [34, 46, 69, 26, 31, 58], page.width, is_tight=is_tight)


def _open(post: dict[str, Any]) -> Marked:
    """When a post is open and for how long, and what was agreed for it: a vehicle, a shelter of its own, check-ins, calls, low power."""
    said = [told.turn(post["opens"], post["closes"]), told.needed(post["shift_h"])]
    if post["has_vehicle"]:
        said.append("a vehicle stays")
    if post["is_storm_possible"] is not False and post["shelter"] != post["event_shelter"]:
        said.append(mark("in a storm: {}", words(told.shelter(post))))
    if post["check_in_min"] is not None:
        said.append(f"check in every {post['check_in_min']:.0f} min")
    if post["missed_check_in"]:
        said.append(mark("if none comes: {}", words(post["missed_check_in"])))
    if post["alert_path"]:
        said.append(f"other way to call: {post['alert_path'].replace('_', ' ')}")
    if post["power_setting"] == "low":
        said.append("at low power")
    return joined(said, BREAK)


def _who(row: dict[str, Any]) -> Marked:
    what = f", {readable(row['whose_kit'], 60)}" if row["kit"] else ", no kit"
    return mark("<b>{}</b>{}", words(row["member"], 40), what)


def _sent(row: dict[str, Any]) -> Marked:
    if not row["kit"]:
        return _who(row)
    asks = f"; {row['untold']}" if told.is_short(row) and row["untold"] else ""
    return mark("{}: {}{}", _who(row), _lasts(row), asks)


def _lasts(row: dict[str, Any]) -> Marked:
    if row["kit"] is None:
        return Marked("-")
    if row["is_on_mains"]:
        return Marked("mains")
    said = "{} / {}"
    if told.is_short(row):
        is_sure = row["runtime_high_h"] is not None and row["runtime_high_h"] < row["need_h"]
        said = "<b>{} / {}</b> short" if is_sure else "<b>{} / {}</b> may be short"
    return mark(said, told.lasts(row), told.shift_needs(row))


def _gaps(page: Page, posts: list[dict[str, Any]]) -> list[Any]:
    bare = [post for post in posts if post["first_gap"] or post["first_short"]]
    if not bare:
        return []
    body = [
        [p["post"], _from(p["uncovered_h"], p["first_gap"]), _from(p["short_h"], p["first_short"])]
        for p in bare
    ]
    names = ["post", "nobody there for", "fewer than planned for"]
    return [head("Where is somebody still wanted?"), table(names, body, [60, 55, 55], page.width)]


def _from(hours: float, first: datetime | None) -> str:
    """Hours of which the first begins then."""
    return f"{told.needed(hours)}, first from {told.moment(first)}" if first else ""


def _shifts(page: Page, sent: list[dict[str, Any]], is_tight: bool) -> Any:
    ordered = sorted(sent, key=lambda row: (row["member"], row["comes"]))
    body = [
        [
            Tick(),
            row["member"],
            told.turn(row["comes"], row["goes"]),
            row["post"],
            row["whose_kit"] or "no kit",
            _lasts(row),
            "",
        ]
        for row in ordered
    ]
    names = ["here", "who", "from, to", "post", "kit", "kit lasts / shift needs", "checked in, checked out"]
    return table(names, body, [8, 26, 40, 44, 40, 40, 50], page.width, SIGN_MM, is_tight=is_tight)


def _go(page: Page, sent: list[dict[str, Any]], is_tight: bool) -> list[Any]:
    """One row a person: what the post asks beside the limit that the person has set, to tick go or no go."""
    body = []
    for row in sorted(sent, key=lambda row: row["member"]):
        near = row["near"] or ""
        body.append(
            [
                mark("<b>{}</b><br/>{}", row["member"], row["post"]),
                _limit(row["walk_km"], row["own_walk_km"], "km", is_near="walk" in near)
                if row["is_carried"] or row["is_on_foot"] or row["walk_km"] is not None
                else "-",
                _load(row) if row["is_carried"] and row["kit"] else "-",
                _limit(row["temp_min_c"], row["own_cold_c"], "°C", is_least=True, is_near="cold" in near),
                _limit(row["temp_max_c"], row["own_heat_c"], "°C", is_near="heat" in near),
                _wish(row["is_dark"], row["night_ok"]),
                _wish(row["is_alone"], row["solo_ok"]),
                [Tick("go"), gap(0.8), Tick("no go")],
            ]
        )
    if not body:
        return []
    names = ["who, where", "walk", "carry", "cold", "heat", "in the dark", "alone", "on the day"]
    return [
        head("Go or no go, by one's own limits"),
        para(
            "Each cell has what the post asks, then the limit that the person has set. One thing near a limit is talked over; "
            "two are a no. What is not known is found out first. Anyone may say no without a reason.",
            "small",
        ),
        gap(1),
        table(names, body, [42, 24, 30, 27, 25, 30, 30, 22], page.width, is_tight=is_tight),
    ]


def _limit(
    asked: float | None,
    limit: float | None,
    unit: str,
    is_least: bool = False,
    is_more: bool = False,
    is_near: bool = False,
) -> Marked:
    """What is asked, of which a part is known where there `is_more`, beside a limit, and whether it is near that or past it."""
    said = "not known" if asked is None else told.figure(asked, unit) + (" or more" if is_more else "")
    if limit is None:
        return mark("{} / not set", said)
    is_past = asked is not None and (asked < limit if is_least else asked > limit)
    shown = "<b>{} / {}: past it</b>" if is_past else "<b>{} / {}: near it</b>" if is_near else "{} / {}"
    return mark(shown, said, told.figure(limit, unit))


def _load(row: dict[str, Any]) -> Marked:
    """What is carried in with a kit beside one's own limit, or beside that of all who share it."""
    load_kg, is_more = load(row)
    limit = row["carry_limit_kg"] if row["carriers"] else row["own_carry_kg"]
    said = _limit(load_kg, limit, "kg", is_more=is_more, is_near="carry" in (row["near"] or ""))
    return mark("{} ({} together)", said, row["carriers"]) if row["carriers"] else said


def _wish(is_asked: bool | None, wish: bool | None) -> Marked:
    if is_asked is False:
        return Marked("-")
    asked = "yes" if is_asked else "not known"
    said = {True: "{} / fine", False: "<b>{} / does not wish it</b>", None: "{} / not set"}[wish]
    return mark(said, asked)
