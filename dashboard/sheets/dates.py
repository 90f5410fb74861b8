"""The club's days as a calendar file (RFC 5545): charge rounds, inspections, expiries, events and shifts."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from icalendar import Calendar, Event

from dashboard.cautions import CAUTIONS
from dashboard.sheets import told
from dashboard.sheets.kit import charge_by, inspect_by
from dashboard.sheets.paper import readable
from rules.engine import Assessment


@dataclass(frozen=True)
class Entry:
    """One entry: a whole day, or a span of time; `key` tells it apart from every other and stays the same."""

    key: tuple[str, ...]
    starts: date | datetime
    ends: date | datetime
    title: str
    text: str
    place: str = ""


def entries(assessment: Assessment, member: str | None = None) -> list[Entry]:
    """What the calendar holds, in order of time; what is overdue stands on the present day and says since when.

    Parameters
    ----------
    member
        Only what concerns this member, their shifts among it; else the whole club without shifts.

    Raises
    ------
    SheetError
        There is no such member.
    """
    if member is not None:
        told.one(assessment, "member", "select member from member where member = ?", member)
    found = [
        *_charges(assessment, member),
        *_inspections(assessment, member),
        *_expiries(assessment, member),
        *_loans(assessment, member),
        *_events(assessment, member),
    ]
    return sorted(found, key=lambda entry: (str(entry.starts), entry.key))


def _day(today: date, key: tuple[str, ...], due: date, title: str, text: str) -> Entry:
    """A whole day; today where it has passed."""
    said = f"{text} Overdue since {due:%Y-%m-%d}." if due < today else text
    day = max(due, today)
    return Entry(key, day, day + timedelta(days=1), title, said)


def _charges(assessment: Assessment, member: str | None) -> Iterator[Entry]:
    """One entry a kit and day on which a battery of it is to be charged again; one for all that are overdue."""
    rounds: dict[tuple[str, str, date | None], list[str]] = {}
    for row in told.rows(
        assessment,
        "select kit.member, kit.kit, item.item, item.charged, b.charge_limit_days from battery as b "
        "join item using (item_id) join kit on kit.kit_id = item.kit_id where item.is_usable "
        "and ($1 is null or kit.member = $1) order by item.line",
        member,
    ):
        due = charge_by(row["charged"], row["charge_limit_days"])
        if due is not None:
            at = None if due < assessment.today else due
            rounds.setdefault((row["member"], row["kit"], at), []).append(
                f"{row['item']} (by {due:%Y-%m-%d})"
            )
    for (who, kit, at), batteries in rounds.items():
        text = f"{'; '.join(batteries)}. {CAUTIONS['charging']}"
        day = at or assessment.today
        key = ("charge", who, kit, f"{at:%Y-%m-%d}" if at else "overdue")
        title = f"Charge {who} / {kit} ({len(batteries)} {'to charge' if at else 'overdue'})"
        yield Entry(key, day, day + timedelta(days=1), title, text)


def _inspections(assessment: Assessment, member: str | None) -> Iterator[Entry]:
    for row in told.rows(assessment, "from kit where $1 is null or member = $1", member):
        due = inspect_by(row["inspected"])
        if due is not None:
            name = f"{row['member']} / {row['kit']}"
            yield _day(
                assessment.today, ("inspect", row["member"], row["kit"]), due, f"Look over {name}",
                "By another member, with a meter and a watt meter.",
            )  # fmt: skip


def _expiries(assessment: Assessment, member: str | None) -> Iterator[Entry]:
    for row in told.rows(assessment, "from member where $1 is null or member = $1", member):
        for column, what, text in (
            ("licence_expires", "licence", "Renew it in time; transmit only under a valid one."),
            ("first_aid_expires", "first-aid certificate", "Take a refresher, or take it off the list."),
            ("id_expires", "identity card", "Have it issued anew before an event asks for it."),
            ("vetting_expires", "background check", "Have it done again before an event asks for it."),
            ("waiver_expires", "waiver", "Sign it again for the season."),
            ("training_expires", "training", "Take the courses again that have a last day."),
        ):
            if row[column] is not None:
                title = f"{row['member']}: {what} ends"
                yield _day(assessment.today, (column, row["member"]), row[column], title, text)


def _loans(assessment: Assessment, member: str | None) -> Iterator[Entry]:
    for row in told.rows(
        assessment,
        "from loan where back is null and due is not null and ($1 is null or borrower = $1)",
        member,
    ):
        key = ("loan", row["item"], row["borrower"], f"{row['out']}")
        title = f"{row['item']} is due back from {row['borrower']}"
        yield _day(assessment.today, key, row["due"], title, "Bring it back, or ask for longer.")


def _events(assessment: Assessment, member: str | None) -> Iterator[Entry]:
    """Events for the club; for a member their shifts, in local time where the event's offset is not known.

    Several kits that a member brings to a post at once stand in one entry, which ends with the last.
    """
    sql = "select event, '' as post, '' as kit, starts, ends, utc_offset_h, shelter from event where $1::varchar is null"
    if member is not None:
        sql = (
            "select e.event, p.post, string_agg(k.kit || case when k.member <> m.member then ' of ' || k.member else '' end, ' and ' order by k.kit, k.member) as kit, "
            "a.starts, max(a.ends) as ends, any_value(e.utc_offset_h) as utc_offset_h, any_value(e.shelter) as shelter from assignment as a "
            "join post as p using (post_id) join event as e on e.event_id = a.event_id "
            "join member as m using (member_id) left join kit as k on k.kit_id = a.kit_id where m.member = $1 "
            "group by e.event, p.post, a.starts"
        )
    for row in told.rows(assessment, sql, member):
        shift = None if row["utc_offset_h"] is None else timedelta(hours=row["utc_offset_h"])
        starts, ends = (
            row[end] if shift is None else (row[end] - shift).replace(tzinfo=UTC) for end in ("starts", "ends")
        )  # fmt: skip
        title = f"{row['event']}: {row['post']}" if row["post"] else row["event"]
        text = f"Kit: {row['kit']}. {CAUTIONS['lightning']}" if row["kit"] else CAUTIONS["lightning"]
        yield Entry(
            ("event", row["event"], row["post"], f"{row['starts']}"),
            starts,
            ends,
            title,
            text,
            row["shelter"] or "",
        )


def calendar(assessment: Assessment, member: str | None = None) -> bytes:
    """The calendar file; an entry keeps its identity from one file to the next, so that it is renewed, not doubled.

    Raises
    ------
    SheetError
        There is no such member.
    """
    made = Calendar()
    made.add("prodid", "-//Kit Muster//kitmuster//EN")
    made.add("version", "2.0")
    made.add("x-wr-calname", f"Kit Muster {member}" if member else "Kit Muster")
    stamp = datetime.combine(assessment.today, time(), UTC)
    for entry in entries(assessment, member):
        event = Event()
        event.add(
            "uid", hashlib.sha256("\0".join(entry.key).encode()).hexdigest()[:32] + "@kitmuster.invalid"
        )
        event.add("dtstamp", stamp)
        event.add("dtstart", entry.starts)
        event.add("dtend", entry.ends)
        event.add("summary", readable(entry.title))
        event.add("description", readable(entry.text, 2000))
        if entry.place:
            event.add("location", readable(entry.place))
        if not isinstance(entry.starts, datetime):
            event.add("transp", "TRANSPARENT")
        made.add_component(event)
    return made.to_ical()
