"""Public federal incident forms, filled from the club's data as far as it goes, in a plain layout of our own.

What each form asks for stands in `dashboard.sheets.blocks`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from reportlab.platypus import PageBreak, Table, TableStyle

from dashboard.sheets import told
from dashboard.sheets.blocks import DATES, FORMS, PERIOD, Block, Form
from dashboard.sheets.kit import SENT
from dashboard.sheets.paper import INK, LINE, Marked, Page, SheetError, gap, joined, mark, para, table, words
from rules.engine import Assessment

SOURCE = (
    "Block names and numbers as in the FEMA/NIMS ICS Forms Booklet (FEMA 502-2); the layout is our own. "
    "Left blank: what the club's data does not say."
)
ANALOGUE = {"fm", "ssb", "ssb_processed", "am", "cw"}
LEAST_ROWS = 8
POSTS_A_ROW = 12


def form(
    assessment: Assessment, number: str, event: str | None = None, paper: str = "A4", post: str | None = None
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
    asked, page = (
        FORMS[name],
        Page(paper, is_wide=name in ("ICS 204", "ICS 205", "ICS 211", "ICS 217A", "ICS 218")),
    )
    if name == "ICS 217A":
        story = _availability(assessment, asked, page)
    elif event is None:
        raise SheetError(f"form: {name} is for one event. Write which.")
    else:
        told_event = told.one(assessment, "event", "from event where event = ?", event)
        sent = told.rows(
            assessment,
            f"{SENT} where p.event_id = ? order by p.line, m.member, a.starts",
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
            story = _logs(assessment, asked, page, told_event, sent, post)
        else:
            story = made[name](assessment, asked, page, told_event, sent)
    story = [para(mark("{}: {}", asked.number, asked.title), "title"), *story, gap(2), para(SOURCE, "small")]
    return page.pdf(
        f"{asked.number} {asked.title}" + (f": {event}" if event else ""), story, assessment.today
    )


def _boxes(page: Page, given: Sequence[tuple[Block, object]], shares: Sequence[float]) -> Table:
    """Blocks side by side, each with its heading and what stands in it."""
    whole = sum(shares)
    drawn = Table(
        [[[para(block.name, "label"), gap(0.6), para(value, "cell")] for block, value in given]],
        colWidths=[page.width * share / whole for share in shares],
    )
    drawn.setStyle(
        TableStyle(
            [
                ("GRID", (0, 0), (-1, -1), 0.5, LINE),
                ("BOX", (0, 0), (-1, -1), 0.8, INK),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
            ]
        )
    )
    return drawn


def _named(fields: Sequence[str], values: Sequence[object] = ()) -> Marked:
    """Sub-fields with their values, or with room to write."""
    held = [*values, *[None] * (len(fields) - len(values))]
    return Marked(
        " &nbsp; ".join(
            mark("{}: <b>{}</b>", field, value) if value else mark("{}: ____________", field)
            for field, value in zip(fields, held, strict=True)
        )
    )


def _period(starts: datetime, ends: datetime) -> list[str]:
    return [f"{starts:%Y-%m-%d}", f"{ends:%Y-%m-%d}", f"{starts:%H:%M}", f"{ends:%H:%M}"]


def _heading(block: Block) -> Any:
    return para(block.name, "head")


def _rows(body: list[list[object]], width: int, least: int = LEAST_ROWS) -> list[list[object]]:
    """Rows with empty ones below, to write in."""
    return [*body, *[[""] * width for _ in range(max(2, least - len(body)))]]


def _filled(
    page: Page,
    names: Sequence[str],
    body: list[list[object]],
    shares: Sequence[float],
    least: int = LEAST_ROWS,
) -> Table:
    return table(names, _rows(body, len(names), least), shares, page.width, is_boxed=True, least_mm=7)


def _prepared(page: Page, asked: Form) -> list[Any]:
    block = asked.blocks[-1]
    return [gap(2), _boxes(page, [(block, _named(block.fields))], [1])]


def _assignments(
    assessment: Assessment, asked: Form, page: Page, event: dict[str, Any], sent: list[dict[str, Any]]
) -> list[Any]:
    """ICS 204: one resource for each post with the people sent there; supervisors and channels are written in."""
    posts = told.rows(assessment, "from post where event_id = ? order by line", event["event_id"])
    people: dict[int, dict[str, str | None]] = {}
    for row in sent:
        people.setdefault(row["post_id"], {})[row["member"]] = row["kit"]
    resources, contacts = (asked.blocks[4], asked.blocks[7])
    body: list[list[object]] = []
    work: list[str] = []
    for post in posts:
        here = people.get(post["post_id"], {})
        bands = f"radio, {post['bands']}" if post["bands"] else ""
        kits = ", ".join(dict.fromkeys(filter(None, here.values())))
        hours = f"{post['opens']:%Y-%m-%d %H:%M} to {post['closes']:%Y-%m-%d %H:%M}"
        leader = next(iter(here)) if len(here) == 1 else ""
        body.append(
            [", ".join(here), leader, str(len(here)), bands, joined(filter(None, (post["post"], kits)))]
        )
        work.append(mark("{}: {}, {}", post["post"], post["post_type"].replace("_", " "), hours))
    return [
        _boxes(
            page,
            [
                (asked.block("Incident Name"), event["event"]),
                (asked.block(PERIOD), _named(DATES, _period(event["starts"], event["ends"]))),
                (asked.blocks[2], _named(asked.blocks[2].fields)),
            ],
            [60, 120, 87],
        ),
        _boxes(page, [(asked.blocks[3], _named(asked.blocks[3].fields))], [1]),
        _heading(resources),
        _filled(page, resources.fields, body, [50, 40, 18, 60, 99]),
        gap(2),
        _boxes(page, [(asked.block("Work Assignments"), Marked("<br/>".join(work)))], [1]),
        _boxes(page, [(asked.block("Special Instructions"), Marked("<br/><br/>"))], [1]),
        _heading(contacts),
        _filled(page, contacts.fields, [], [100, 167], 4),
        *_prepared(page, asked),
    ]


def _radio_plan(
    assessment: Assessment, asked: Form, page: Page, event: dict[str, Any], sent: list[dict[str, Any]]
) -> list[Any]:
    """ICS 205: one row for each set of bands and modes that posts ask for; frequencies are not in the data."""
    posts = told.rows(assessment, "from post where event_id = ? order by line", event["event_id"])
    uses: dict[tuple[str | None, str | None], list[str]] = {}
    for post in posts:
        uses.setdefault((post["bands"], post["modes"]), []).append(post["post"])
    channels = asked.block("Basic Radio Channel Use")
    body: list[list[object]] = [
        [
            "",
            "",
            "",
            "",
            joined(words(name, 40) for name in names[at : at + POSTS_A_ROW]),
            "",
            "",
            "",
            "",
            _mode(modes),
            " ".join(filter(None, (bands, modes))),
        ]
        for (bands, modes), names in uses.items()
        for at in range(0, len(names), POSTS_A_ROW)
    ]
    return [
        _boxes(
            page,
            [
                (asked.block("Incident Name"), event["event"]),
                (
                    asked.block("Date/Time Prepared"),
                    _named(("Date", "Time"), [f"{assessment.today:%Y-%m-%d}"]),
                ),
                (asked.block(PERIOD), _named(DATES, _period(event["starts"], event["ends"]))),
            ],
            [60, 70, 137],
        ),
        _heading(channels),
        _filled(page, channels.fields, body, [13, 11, 22, 38, 62, 20, 18, 20, 18, 18, 30]),
        gap(2),
        _boxes(page, [(asked.block("Special Instructions"), Marked("<br/><br/>"))], [1]),
        *_prepared(page, asked),
    ]


def _mode(modes: str | None) -> str:
    """A for analogue, D for digital, M for mixed; "" where no mode is told."""
    told_modes = set((modes or "").split())
    kinds = {"A" if mode in ANALOGUE else "D" for mode in told_modes}
    return "M" if len(kinds) > 1 else "".join(kinds)


def _contacts(
    assessment: Assessment, asked: Form, page: Page, event: dict[str, Any], sent: list[dict[str, Any]]
) -> list[Any]:
    """ICS 205A: who holds which position, by name; the way to reach them is the post's band."""
    people = sorted(sent, key=lambda row: (row["member"], row["comes"]))
    listed = asked.block("Basic Local Communications Information")
    body: list[list[object]] = [
        [row["post"], row["member"], f"radio, {row['bands']}" if row["bands"] else ""] for row in people
    ]
    return [
        _boxes(
            page,
            [
                (asked.block("Incident Name"), event["event"]),
                (asked.block(PERIOD), _named(DATES, _period(event["starts"], event["ends"]))),
            ],
            [60, 120],
        ),
        _heading(listed),
        _filled(page, listed.fields, body, [60, 50, 70]),
        *_prepared(page, asked),
    ]


def _check_in(
    assessment: Assessment, asked: Form, page: Page, event: dict[str, Any], sent: list[dict[str, Any]]
) -> list[Any]:
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
        skills[row["member"]] = " ".join(filter(None, (row["licence_class"], row["training"])))
    body: list[list[object]] = []
    for member in sorted(seen):
        given = {"Resource Name or Identifier": member, "Incident Assignment": ", ".join(seen[member]), "Leader's Name": member,
                 "Total Number of Personnel": "1", "Other Qualifications": mark('<font size="7">{}</font>', skills[member].replace("_", " "))}  # fmt: skip
        fields = [*resources.fields, *(block.title for block in rest)]
        body.append([given.get(field, "") for field in fields])
    located = asked.block("Check-In Location")
    return [
        _boxes(
            page,
            [
                (asked.block("Incident Name"), event["event"]),
                (asked.block("Incident Number"), ""),
                (located, " \u2003 ".join(located.fields)),
                (
                    asked.block("Start Date/Time"),
                    _named(("Date", "Time"), _period(event["starts"], event["ends"])[::2]),
                ),
            ],
            [60, 40, 80, 80],
        ),
        _heading(resources),
        _filled(page, names, body, [13, 17, 19, 12, 12, 23, 9, 17, 21, 23, 20, 23, 17, 20, 17, 25, 32, 21]),
        *_prepared(page, asked),
    ]


def _logs(
    assessment: Assessment,
    asked: Form,
    page: Page,
    event: dict[str, Any],
    sent: list[dict[str, Any]],
    post: str | None,
) -> list[Any]:
    """ICS 214: one page for each post, with the people sent there, and room for the log."""
    posts = told.rows(
        assessment, "from post where event_id = $1 and ($2 is null or post = $2) order by line",
        event["event_id"], post,
    )  # fmt: skip
    if not posts and post is None:
        posts = [{"post_id": None, "post": "", "opens": event["starts"], "closes": event["ends"]}]
    if not posts:
        raise SheetError(
            f'event "{event["event"]}" has no post "{post}". Write one as it stands in posts.csv.'
        )
    story: list[Any] = []
    for number, place in enumerate(posts):
        here = [row for row in sent if row["post_id"] == place["post_id"]]
        resources, log = asked.block("Resources Assigned"), asked.block("Activity Log")
        people: list[list[object]] = [[row["member"], row["post"], ""] for row in here]
        if number:
            story += [PageBreak(), para(mark("{}: {}", asked.number, asked.title), "title")]
        story += [
            _boxes(
                page,
                [
                    (asked.block("Incident Name"), event["event"]),
                    (asked.block(PERIOD), _named(DATES, _period(place["opens"], place["closes"]))),
                ],
                [60, 120],
            ),
            _boxes(
                page,
                [
                    (asked.block("Name"), here[0]["member"] if len(here) == 1 else ""),
                    (asked.block("ICS Position"), place["post"]),
                    (asked.block("Home Agency (and Unit)"), ""),
                ],
                [60, 60, 60],
            ),
            _heading(resources),
            _filled(page, resources.fields, people, [60, 60, 60], 2),
            _heading(log),
            _filled(page, log.fields, [], [40, 140], max(6, 21 - len(people))),
            *_prepared(page, asked),
        ]
    return story


def _availability(assessment: Assessment, asked: Form, page: Page) -> list[Any]:
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
    return [
        gap(2),
        _filled(page, [b.name for b in asked.blocks], body, [34, 38, 24, 36, 26, 18, 18, 18, 18, 16, 34]),
    ]


def _equipment(
    assessment: Assessment, asked: Form, page: Page, event: dict[str, Any], sent: list[dict[str, Any]]
) -> list[Any]:
    """ICS 218: one row for each kit that is sent to a post."""
    information = asked.block("Vehicle/Equipment Information")
    stored = {
        row["kit_id"]: row
        for row in told.rows(
            assessment,
            "select kit_id, sum(usable_wh) as usable_wh, (select max(rf_watts) from item where item.kit_id = battery.kit_id "
            "and role = 'radio' and is_usable) as rf_watts, (select string_agg(distinct bands, ' ') from item "
            "where item.kit_id = battery.kit_id and role = 'radio' and is_usable) as bands from battery group by kit_id",
        )
    }
    body: list[list[object]] = []
    for row in (row for row in sent if row["kit"]):
        held = stored.get(row["kit_id"], {})
        size = [
            f"{held[name]:.0f} {unit}"
            for name, unit in (("rf_watts", "W"), ("usable_wh", "Wh"))
            if held.get(name)
        ]
        bands = " ".join(dict.fromkeys((held.get("bands") or "").split()))
        body.append(
            [
                "", "", "radio kit", "", ", ".join(size), bands, row["member"], row["member"], row["kit"], row["post"],
                f"{row['comes']:%Y-%m-%d %H:%M}", f"{row['goes']:%Y-%m-%d %H:%M}",
            ]
        )  # fmt: skip
    return [
        _boxes(
            page,
            [
                (asked.block("Incident Name"), event["event"]),
                (asked.block("Incident Number"), ""),
                (
                    asked.block("Date/Time Prepared"),
                    _named(("Date", "Time"), [f"{assessment.today:%Y-%m-%d}"]),
                ),
                (asked.block("Vehicle/Equipment Category"), "radio equipment"),
            ],
            [60, 40, 80, 60],
        ),
        _heading(information),
        _filled(page, information.fields, body, [17, 17, 23, 19, 26, 24, 20, 21, 26, 28, 21, 21]),
        *_prepared(page, asked),
    ]
