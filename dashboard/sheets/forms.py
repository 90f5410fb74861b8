"""Public federal incident forms, filled from the club's data as far as it goes, in a plain layout of our own.

What each form asks for stands in `dashboard.sheets.blocks`.
"""

from __future__ import annotations

import re
from typing import Any

from reportlab.platypus import PageBreak, Table

from dashboard.sheets import told
from dashboard.sheets.blocks import DATES, FORMS, PERIOD, Block, Form
from dashboard.sheets.boxes import (
    PRINTED_MM,
    Drawn,
    Value,
    boxes,
    filled,
    fullest,
    heading,
    listed,
    named,
    period,
    prepared,
    ticked,
)
from dashboard.sheets.packing import SENT
from dashboard.sheets.paper import Marked, Page, SheetError, gap, joined, mark, para, words
from rules.engine import Assessment

SOURCE = (
    "Block names and numbers as in the FEMA/NIMS ICS Forms Booklet (FEMA 502-2); the layout is our own. "
    "Left blank: what the club's data does not say."
)
WIDE = ("ICS 204", "ICS 205", "ICS 211", "ICS 217A", "ICS 218")
ANALOGUE = {"fm", "ssb", "ssb_processed", "am", "cw"}
POSTS_A_ROW = 12
SPARE_RESOURCES, LEAST_CONTACTS, LEAST_LOG = 2, 3, 6  # empty rows, however full the page is
POSTS = "select post.*, pt.label from post left join post_type as pt using (post_type) where event_id = ? order by line"


def form(
    assessment: Assessment,
    number: str,
    event: str | None = None,
    paper: str | None = None,
    post: str | None = None,
) -> bytes:
    """One of the forms, filled for an event; ICS 217A is for the whole club, ICS 214 may be for one post.

    Parameters
    ----------
    number
        204, 205, 205A, 211, 214, 217A or 218, with or without `ICS` before it.

    Raises
    ------
    SheetError
        There is no such form, event, post or paper.
    """
    name = f"ICS {number.upper().removeprefix('ICS').strip()}"
    if name not in FORMS:
        known = ", ".join(known.removeprefix("ICS ") for known in FORMS)
        raise SheetError(f'form: "{number}" is not made here. Write one of {known}.')
    asked, page = FORMS[name], Page(paper, is_wide=name in WIDE)
    if name == "ICS 217A":
        drawn = [_availability(assessment, asked, page)]
    elif event is None:
        raise SheetError(f"form: {name} is for one event. Write which.")
    else:
        told_event = told.one(assessment, "event", "from event where event = ?", event)
        sent = told.rows(
            assessment,
            f"{SENT} where p.event_id = ? order by p.line, m.member, a.starts, a.assignment_id",
            told_event["event_id"],
        )
        made = {
            "ICS 204": _assignments,
            "ICS 205": _radio_plan,
            "ICS 205A": _contacts,
            "ICS 211": _check_in,
            "ICS 218": _equipment,
        }
        if name == "ICS 214":
            drawn = _logs(assessment, asked, page, told_event, sent, post)
        else:
            drawn = [made[name](assessment, asked, page, told_event, sent)]
    story: list[Any] = []
    for one in drawn:
        story += [PageBreak()] if story else []
        story += fullest(page, lambda spare, one=one: _whole(asked, one(spare)))
    return page.pdf(
        f"{asked.number} {asked.title}" + (f": {event}" if event else ""), story, assessment.today
    )


def _incident(page: Page, asked: Form, name: str, during: list[str], shares: list[float]) -> Table:
    """The blocks that say which incident and when, side by side."""
    return boxes(
        page, [(asked.block("Incident Name"), name), (asked.block(PERIOD), named(DATES, during))], shares
    )


def _prepared_on(assessment: Assessment, asked: Form) -> tuple[Block, Value]:
    """The block that says when a form was prepared: the day; the time is written in."""
    return asked.block("Date/Time Prepared"), named(("Date", "Time"), [f"{assessment.today:%Y-%m-%d}"])


def _whole(asked: Form, blocks: list[Any]) -> list[Any]:
    """A form's blocks between its title and its source."""
    return [para(mark("{}: {}", asked.number, asked.title), "title"), *blocks, gap(2), para(SOURCE, "small")]


def _assignments(
    assessment: Assessment, asked: Form, page: Page, event: dict[str, Any], sent: list[dict[str, Any]]
) -> Drawn:
    """ICS 204: one resource for each post with the people sent there, and the channels by name; supervisors are written in."""
    people: dict[int, list[str]] = {}
    kits: dict[int, list[str]] = {}
    for row in sent:
        people.setdefault(row["post_id"], []).append(row["member"])
        if row["kit"]:
            kits.setdefault(row["post_id"], []).append(f"{row['kit']} of {row['owner']}")
    resources, contacts = (asked.blocks[4], asked.blocks[7])
    body: list[list[object]] = []
    work: list[Marked] = []
    for post in told.rows(assessment, POSTS, event["event_id"]):
        here, brought = (list(dict.fromkeys(of.get(post["post_id"], ()))) for of in (people, kits))
        bands = f"radio, {post['bands']}" if post["bands"] else ""
        leader = here[0] if len(here) == 1 else ""
        body.append([", ".join(here), leader, str(len(here)), bands, joined([post["post"], *brought])])
        hours = told.from_to(post["opens"], post["closes"])
        work.append(mark("{}: {}, {}", post["post"], post["label"] or post["post_type"], hours))

    def drawn(spare: int) -> list[Any]:
        return [
            _incident(page, asked, event["event"], period(event["starts"], event["ends"]), [90, 177]),
            boxes(page, [(block, named(block.fields)) for block in asked.blocks[2:4]], [110, 157]),
            heading(resources),
            filled(page, resources.fields, body, [50, 40, 18, 60, 99], SPARE_RESOURCES, PRINTED_MM),
            gap(2),
            listed(page, asked.block("Work Assignments"), work),
            boxes(page, [(asked.block("Special Instructions"), Marked("<br/><br/>"))], [1]),
            heading(contacts),
            filled(page, contacts.fields, told.channels(event), [100, 167], LEAST_CONTACTS + spare),
            *prepared(page, asked),
        ]

    return drawn


def _radio_plan(
    assessment: Assessment, asked: Form, page: Page, event: dict[str, Any], sent: list[dict[str, Any]]
) -> Drawn:
    """ICS 205: the channels of the net by name, then a row for each set of bands and modes that posts ask for.

    Frequencies are not in the data.
    """
    uses: dict[tuple[str | None, str | None], list[str]] = {}
    for post in told.rows(assessment, POSTS, event["event_id"]):
        uses.setdefault((post["bands"], post["modes"]), []).append(post["post"])
    channels = asked.block("Basic Radio Channel Use")
    body: list[list[object]] = [
        ["", "", function, words(name, 40), "all posts", *[""] * 6] for function, name in told.channels(event)
    ]
    body += [
        [
            "", "", "", "", joined(words(name, 40) for name in names[at : at + POSTS_A_ROW]), "", "", "", "",
            _mode(modes), " ".join(filter(None, (bands, modes))),
        ]
        for (bands, modes), names in uses.items()
        for at in range(0, len(names), POSTS_A_ROW)
    ]  # fmt: skip

    def drawn(spare: int) -> list[Any]:
        return [
            boxes(
                page,
                [
                    (asked.block("Incident Name"), event["event"]),
                    _prepared_on(assessment, asked),
                    (asked.block(PERIOD), named(DATES, period(event["starts"], event["ends"]))),
                ],
                [60, 70, 137],
            ),
            heading(channels),
            filled(page, channels.fields, body, [13, 11, 22, 38, 62, 20, 18, 20, 18, 18, 30], spare),
            gap(2),
            boxes(page, [(asked.block("Special Instructions"), Marked("<br/><br/>"))], [1]),
            *prepared(page, asked),
        ]

    return drawn


def _mode(modes: str | None) -> str:
    """A for analogue, D for digital, M for mixed; "" where no mode is told."""
    told_modes = set((modes or "").split())
    kinds = {"A" if mode in ANALOGUE else "D" for mode in told_modes}
    return "M" if len(kinds) > 1 else "".join(kinds)


def _contacts(
    assessment: Assessment, asked: Form, page: Page, event: dict[str, Any], sent: list[dict[str, Any]]
) -> Drawn:
    """ICS 205A: who holds which position, by name; the way to reach them is the post's band."""
    people = sorted(sent, key=lambda row: (row["member"], row["comes"]))
    contacts = asked.block("Basic Local Communications Information")
    body: list[list[object]] = [
        list(contact)
        for contact in dict.fromkeys(
            (row["post"], row["member"], f"radio, {row['bands']}" if row["bands"] else "") for row in people
        )
    ]

    def drawn(spare: int) -> list[Any]:
        return [
            _incident(page, asked, event["event"], period(event["starts"], event["ends"]), [60, 120]),
            heading(contacts),
            filled(page, contacts.fields, body, [60, 50, 70], spare),
            *prepared(page, asked),
        ]

    return drawn


def _check_in(
    assessment: Assessment, asked: Form, page: Page, event: dict[str, Any], sent: list[dict[str, Any]]
) -> Drawn:
    """ICS 211: one row for each person sent; times, vehicles and places are written at the desk."""
    resources = asked.block(
        "List single resource personnel (overhead) by agency and name, OR list resources by format"
    )
    rest = asked.blocks[asked.blocks.index(resources) + 1 : -1]
    names = [*resources.fields, *(block.name for block in rest)]
    seen: dict[str, list[str]] = {}
    skills: dict[str, str] = {}
    for row in sent:
        seen.setdefault(row["member"], []).append(row["post"])
        skills[row["member"]] = _skills(row["licence_class"], row["training"])
    body: list[list[object]] = []
    for member in sorted(seen):
        given = {"Resource Name or Identifier": member, "Incident Assignment": ", ".join(dict.fromkeys(seen[member])), "Leader's Name": member,
                 "Total Number of Personnel": "1", "Other Qualifications": skills[member]}  # fmt: skip
        fields = [*resources.fields, *(block.title for block in rest)]
        body.append([given.get(field, "") for field in fields])
    located = asked.block("Check-In Location")
    begins = period(event["starts"], event["ends"])[::2]

    def drawn(spare: int) -> list[Any]:
        return [
            boxes(
                page,
                [
                    (asked.block("Incident Name"), event["event"]),
                    (asked.block("Incident Number"), ""),
                    (located, ticked(located.fields)),
                    (asked.block("Start Date/Time"), named(("Date", "Time"), begins)),
                ],
                [65, 40, 100, 62],
            ),
            heading(resources),
            filled(page, names, body, [12, 16, 19, 11, 12, 23, 9, 17, 21, 23, 20, 23, 17, 20, 17, 25, 34, 21], spare),
            *prepared(page, asked),
        ]  # fmt: skip

    return drawn


def _skills(licence: str | None, training: str | None) -> str:
    """A licence class and courses as the courses are written on their certificates: `general, IS-100 IS-700`."""
    courses = re.sub(r"\bis(\d+)", r"IS-\1", training or "").replace("_", " ")
    return ", ".join(filter(None, (licence, courses)))


def _logs(
    assessment: Assessment,
    asked: Form,
    page: Page,
    event: dict[str, Any],
    sent: list[dict[str, Any]],
    post: str | None,
) -> list[Drawn]:
    """ICS 214: one page for each post, with the people sent there, and room for the log."""
    posts = [row for row in told.rows(assessment, POSTS, event["event_id"]) if post in (None, row["post"])]
    if not posts and post is None:
        posts = [{"post_id": None, "post": "", "opens": event["starts"], "closes": event["ends"]}]
    if not posts:
        raise SheetError(
            f'event "{event["event"]}" has no post "{post}". Write one as it stands in posts.csv.'
        )
    return [_log(asked, page, event["event"], place, sent) for place in posts]


def _log(asked: Form, page: Page, event: str, place: dict[str, Any], sent: list[dict[str, Any]]) -> Drawn:
    """The log of one post."""
    here = list(dict.fromkeys(row["member"] for row in sent if row["post_id"] == place["post_id"]))
    resources, log = asked.block("Resources Assigned"), asked.block("Activity Log")
    people: list[list[object]] = [[member, place["post"], ""] for member in here]

    def drawn(spare: int) -> list[Any]:
        return [
            _incident(page, asked, event, period(place["opens"], place["closes"]), [60, 120]),
            boxes(
                page,
                [
                    (asked.block("Name"), here[0] if len(here) == 1 else ""),
                    (asked.block("ICS Position"), place["post"]),
                    (asked.block("Home Agency (and Unit)"), ""),
                ],
                [60, 60, 60],
            ),
            heading(resources),
            filled(page, resources.fields, people, [60, 60, 60], SPARE_RESOURCES),
            heading(log),
            filled(page, log.fields, [], [40, 140], LEAST_LOG + spare),
            *prepared(page, asked),
        ]

    return drawn


def _availability(assessment: Assessment, asked: Form, page: Page) -> Drawn:
    """ICS 217A: one row for each band that the club's radios have; channels are not in the data."""
    found = told.rows(
        assessment,
        "select b.band, b.low_mhz, b.high_mhz, sum(i.quantity)::integer as radios, count(distinct i.kit_id) as kits, "
        "count(distinct i.member_id) as members, max(i.rf_watts) as rf_watts, "
        "string_agg(distinct i.modes, ' ') as modes from item as i "
        "join band as b on list_contains(string_split(i.bands, ' '), b.band) where i.role = 'radio' and i.is_usable "
        "and i.rf_watts > 0 group by all order by b.low_mhz",
    )
    body: list[list[object]] = [
        [
            f"{row['band']} ({row['low_mhz']:g} to {row['high_mhz']:g} MHz)",
            f"{told.many(row['radios'], 'radio')} in {told.many(row['kits'], 'kit')}, up to {row['rf_watts']:g} W",
            "", "", told.many(row["members"], "member"), "", "", "", "", _mode(row["modes"]),
            " ".join(sorted(set((row["modes"] or "").split()))),
        ]
        for row in found
    ]  # fmt: skip
    names = [block.name for block in asked.blocks]

    def drawn(spare: int) -> list[Any]:
        return [gap(2), filled(page, names, body, [36, 38, 24, 36, 26, 18, 18, 18, 18, 16, 32], spare)]

    return drawn


def _equipment(
    assessment: Assessment, asked: Form, page: Page, event: dict[str, Any], sent: list[dict[str, Any]]
) -> Drawn:
    """ICS 218: one row for each kit that is sent, with all who bring it and wherever they do, from the first until the last."""
    information = asked.block("Vehicle/Equipment Information")
    stored = {
        row["kit_id"]: row
        for row in told.rows(
            assessment,
            "select kit_id, (select sum(usable_wh) from battery as b where b.kit_id = kit.kit_id) as usable_wh, "
            "max(rf_watts) as rf_watts, string_agg(distinct bands, ' ' order by bands) as bands from kit left join "
            "(from item where role = 'radio' and is_usable) using (kit_id) group by kit_id",
        )
    }
    brought: dict[int, list[dict[str, Any]]] = {}
    for row in (row for row in sent if row["kit"]):
        brought.setdefault(row["kit_id"], []).append(row)
    body: list[list[object]] = []
    for kit_id, turns in brought.items():
        held, kit = stored[kit_id], turns[0]
        size = [
            f"{held[name]:.0f} {unit}"
            for name, unit in (("rf_watts", "W"), ("usable_wh", "Wh"))
            if held[name]
        ]
        bands = " ".join(dict.fromkeys((held["bands"] or "").split()))
        who, posts = (", ".join(dict.fromkeys(turn[of] for turn in turns)) for of in ("member", "post"))
        comes, goes = min(turn["comes"] for turn in turns), max(turn["goes"] for turn in turns)
        body.append(
            [
                "", "", "radio kit", "", ", ".join(size), bands, kit["owner"], who, kit["kit"], posts,
                f"{comes:%Y-%m-%d %H:%M}", f"{goes:%Y-%m-%d %H:%M}",
            ]
        )  # fmt: skip

    def drawn(spare: int) -> list[Any]:
        return [
            boxes(
                page,
                [
                    (asked.block("Incident Name"), event["event"]),
                    (asked.block("Incident Number"), ""),
                    _prepared_on(assessment, asked),
                    (asked.block("Vehicle/Equipment Category"), "radio equipment"),
                ],
                [60, 40, 80, 60],
            ),
            heading(information),
            filled(page, information.fields, body, [17, 17, 23, 19, 29, 21, 20, 21, 26, 28, 21, 21], spare),
            *prepared(page, asked),
        ]

    return drawn
