"""The club's days as a calendar file (RFC 5545): charge rounds, inspections, expiries, events and shifts.

What has no day because nobody told one stands in one entry on the present day.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import accumulate
from typing import Any

from icalendar import Calendar, Event

from dashboard.cautions import CAUTIONS
from dashboard.sheets import told
from dashboard.sheets.kit import INSPECTED, charge_by, inspect_by, times
from dashboard.sheets.paper import readable
from data.clocks import Clocks
from rules.engine import Assessment
from rules.rule import params

CHARGED_BEFORE, INSPECTED_BEFORE = "not_charged_before_the_event", "inspected_too_late"
UNDATED = {
    "past_its_expiry": "until when it is good",
    INSPECTED: "when it was last looked over by another member",
    "licence_is_over": "until when the licence holds",
    "no_identity_card": "until when the identity card holds",
    "credentials_short_of_the_event": "until when the background check or the waiver holds",
}
"""What is not known where a rule that asks for a day has no answer."""
NAMED = 350
"""Signs for the names of what has no day, for each sort of day; more are counted."""


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
    before = _before_events(assessment, member)
    found = [
        *_charges(assessment, member, before),
        *(charge.entry for charge in before),
        *_inspections(assessment, member),
        *_before_the_first_event(assessment, member),
        *_papers(assessment, member),
        *_expiries(assessment, member),
        *_loans(assessment, member),
        *_events(assessment, member),
        *_undated(assessment, member),
    ]
    return sorted(found, key=lambda entry: (str(entry.starts), entry.key))


def _day(today: date, key: tuple[str, ...], due: date, title: str, text: str) -> Entry:
    """A whole day; today where it has passed."""
    said = f"{text} Overdue since {due:%Y-%m-%d}." if due < today else text
    day = max(due, today)
    return Entry(key, day, day + timedelta(days=1), title, said)


@dataclass(frozen=True)
class Charge:
    """What is to be charged of a kit for an event, and from which day on that counts."""

    kit_id: int
    counts_from: date
    entry: Entry


def _is_asked(assessment: Assessment, rule: str) -> bool:
    """Whether the club looks at a rule."""
    return any(one.name == rule for one in assessment.rules)


def _rounds(
    today: date, things: Iterable[dict[str, Any]]
) -> dict[tuple[str, str, date | None], list[dict[str, Any]]]:
    """What falls due (`due`), by member, kit and day; all that is overdue together, without a day."""
    rounds: dict[tuple[str, str, date | None], list[dict[str, Any]]] = {}
    for row in things:
        at = None if row["due"] < today else row["due"]
        rounds.setdefault((row["member"], row["kit"], at), []).append(row)
    return rounds


def _pieces(things: Iterable[dict[str, Any]]) -> int:
    return sum(row["quantity"] for row in things)


def _named(row: dict[str, Any]) -> str:
    """A thing, and how many there are where it is more than one."""
    return str(row["item"]) if row["quantity"] == 1 else f"{times(row)} {row['item']}"


def _batteries(assessment: Assessment, member: str | None) -> list[dict[str, Any]]:
    """What works and can be charged: its kit, the day of its charge, and the day by which it is to be charged again."""
    found = told.rows(
        assessment,
        "select kit_id, kit.member, kit.kit, item.item, item.quantity, item.charged, b.charge_limit_days from battery as b "
        "join item using (item_id, kit_id) join kit using (kit_id) where item.is_usable and b.charge_limit_days is not null "
        "and ($1 is null or kit.member = $1) order by item.line",
        member,
    )
    return [row | {"due": charge_by(row["charged"], row["charge_limit_days"])} for row in found]


def _charges(assessment: Assessment, member: str | None, before: list[Charge]) -> Iterator[Entry]:
    """One entry a kit and day on which a battery of it is to be charged again; one for all that are overdue.

    A battery that is to be charged for an event before that day has no round.
    """
    days: dict[int, list[date]] = {}
    for charge in before:
        days.setdefault(charge.kit_id, []).append(charge.counts_from)
    things = [
        row
        for row in _batteries(assessment, member)
        if row["due"] is not None
        and (
            row["due"] < assessment.today
            or not any(row["charged"] < day <= row["due"] for day in days.get(row["kit_id"], ()))
        )
    ]
    for (who, kit, at), batteries in _rounds(assessment.today, things).items():
        said = "; ".join(f"{_named(row)} (by {row['due']:%Y-%m-%d})" for row in batteries)
        day = at or assessment.today
        key = ("charge", who, kit, f"{at:%Y-%m-%d}" if at else "overdue")
        title = f"Charge {who} / {kit} ({_pieces(batteries)} {'to charge' if at else 'overdue'})"
        yield Entry(key, day, day + timedelta(days=1), title, f"{said}. {CAUTIONS['charging']}")


def _before_events(assessment: Assessment, member: str | None) -> list[Charge]:
    """What the rule would find not charged on the first day of each event on which it asks for a charge, if nothing is till then.

    A kit that stands at posts on several days is charged as late as serves them all, and before the first.
    """
    rule = next((one for one in assessment.rules if one.name == CHARGED_BEFORE), None)
    if rule is None:
        return []
    within = told.within(assessment, CHARGED_BEFORE)
    sent = told.rows(
        assessment,
        "select kit_id, any_value(k.member) as member, any_value(k.kit) as kit, p.event, min(pk.starts)::date as first, "
        "max(pk.starts)::date as last, list(post_kit_id) as turns from post_kit as pk join kit as k using (kit_id) "
        "join post as p using (post_id) join member as m on m.member_id = pk.member_id "
        "where pk.is_assigned and pk.starts >= $1 and ($2 is null or $2 in (k.member, m.member)) "
        "group by kit_id, p.event_id, p.event order by first, member, kit",
        assessment.today,
        member,
    )
    judged: dict[date, dict[int, tuple[int, int, list[int]]]] = {}
    found = []
    for row in sent:
        counts_from = min(row["first"], row["last"] - within)
        day = max(counts_from, assessment.today)
        if day not in judged:
            answers = assessment.tuples(
                f"select subject, late + undated, batteries, lines from ({rule.sql})",
                rule.values(assessment.policy, day),
            )
            judged[day] = {subject: tuple(answer) for subject, *answer in answers}
        open_, all_, lines = max(judged[day].get(turn, (0, 0, [])) for turn in row["turns"])
        if open_:
            name = f"{row['member']} / {row['kit']}"
            things = told.rows(
                assessment, "from item where kit_id = $1 and list_contains($2, line) order by line", row["kit_id"], lines,
            )  # fmt: skip
            which = readable(", ".join(map(_named, things)), NAMED)
            text = (
                f"{which}: {open_} of {all_} batteries and packs, for {row['first']:%Y-%m-%d}; what is charged before "
                f"{counts_from:%Y-%m-%d}, or used after it, counts as not charged. {CAUTIONS['charging']}"
            )
            entry = Entry(
                ("charge", row["member"], row["kit"], "event", row["event"]),
                day,
                day + timedelta(days=1),
                f"Charge {name} for {row['event']} ({open_} to charge)",
                text,
            )
            found.append(Charge(row["kit_id"], counts_from, entry))
    return found


def _inspections(assessment: Assessment, member: str | None) -> Iterator[Entry]:
    if not _is_asked(assessment, INSPECTED):
        return
    for row in told.rows(assessment, "from kit where $1 is null or member = $1", member):
        due = inspect_by(assessment, row["inspected"])
        if due is not None:
            name = f"{row['member']} / {row['kit']}"
            yield _day(
                assessment.today, ("inspect", row["member"], row["kit"]), due, f"Look over {name}",
                "By another member, with a meter and a watt meter.",
            )  # fmt: skip


def _before_the_first_event(assessment: Assessment, member: str | None) -> Iterator[Entry]:
    """The last day for an inspection that counts for the first event to come, with the kits sent there that have had none.

    A kit that was looked over after that day is late for good and asked for no more.
    """
    if not _is_asked(assessment, INSPECTED_BEFORE):
        return
    asked = params()[INSPECTED_BEFORE]["before_days"].value
    before = timedelta(days=int(assessment.policy.value(INSPECTED_BEFORE, "before_days", asked)))
    sent = told.rows(
        assessment,
        "select distinct e.event, cast(e.starts as date) as day, k.member, k.kit, k.inspected from event as e "
        "join assignment as a using (event_id) join kit as k using (kit_id) where e.starts >= $1 "
        "qualify cast(e.starts as date) = min(cast(e.starts as date)) over () order by all",
        assessment.today,
    )
    since = told.within(assessment, INSPECTED_BEFORE)
    events: dict[tuple[str, date], list[dict[str, Any]]] = {}
    for row in sent:
        is_counted = row["inspected"] is not None and row["inspected"] >= row["day"] - since
        if not is_counted and member in (None, row["member"]):
            events.setdefault((row["event"], row["day"]), []).append(row)
    for (event, day), kits in events.items():
        yield _day(
            assessment.today, ("inspect", "event", event), day - before,
            f"Last day to look over {told.many(len(kits), 'kit')} for {event}",
            f"{_listed(kits)}. By another member, with a meter and a watt meter, {told.many(before.days, 'day')} or more "
            f"before {day:%Y-%m-%d}.",
        )  # fmt: skip


def _papers(assessment: Assessment, member: str | None) -> Iterator[Entry]:
    for row in told.rows(assessment, "from member where $1 is null or member = $1", member):
        for column, what, text in (
            ("licence_expires", "licence", "Renew it in time; transmit only under a valid one."),
            ("first_aid_expires", "first-aid certificate", "Take a refresher, or take it off the list."),
            ("id_expires", "identity card", "Have it issued anew before an event asks for it."),
            ("vetting_expires", "background check", "Have it done again before an event asks for it."),
            ("waiver_expires", "waiver", "Sign it again for the season."),
            ("training_expires", "training", "Take the courses again that have a last day."),
        ):
            if row[column] is not None and (column != "licence_expires" or row["licence_class"] != "none"):
                title = f"{row['member']}: {what} ends"
                yield _day(assessment.today, (column, row["member"]), row[column], title, text)


def _expiries(assessment: Assessment, member: str | None) -> Iterator[Entry]:
    """One entry a kit and day until which things in it are good; one for all that are past theirs."""
    things = told.rows(
        assessment,
        "select kit.member, kit.kit, item.item, item.quantity, item.expires as due from item join kit using (kit_id) "
        "where item.condition <> 'removed' and item.expires is not null and ($1 is null or kit.member = $1) order by item.line",
        member,
    )
    for (who, kit, at), found in _rounds(assessment.today, things).items():
        said = "; ".join(f"{_named(row)} (until {row['due']:%Y-%m-%d})" for row in found)
        day = at or assessment.today
        count = _pieces(found)
        ends = (
            ("expires" if count == 1 else "expire")
            if at
            else "past " + ("its" if count == 1 else "their") + " date"
        )
        yield Entry(
            ("expires", who, kit, f"{at:%Y-%m-%d}" if at else "overdue"),
            day,
            day + timedelta(days=1),
            f"{who} / {kit}: {told.many(count, 'thing')} {ends}",
            f"{said}. Replace what ends, or renew the plan of a messenger, and write the new day.",
        )


def _undated(assessment: Assessment, member: str | None) -> Iterator[Entry]:
    """One entry with all that would be in the calendar if its day were told."""
    missing = {
        "when it was last charged": [row for row in _batteries(assessment, member) if row["charged"] is None]
    }
    for number, rule in enumerate(assessment.rules):
        if rule.name in UNDATED:
            missing[UNDATED[rule.name]] = told.rows(
                assessment,
                "select distinct s.member, case when j.subject_kind in ('item', 'kit') then s.kit end as kit, "
                "coalesce(item.line, 0) as line, item.item, item.quantity from judgement as j "
                "join subject as s using (subject_kind, subject_id) "
                "left join item on j.subject_kind = 'item' and item.item_id = j.subject_id "
                "where j.rule_no = $1 and j.ok is null and s.is_reported and ($2 is null or s.member = $2) order by all",
                number,
                member,
            )
    if count := sum(row.get("quantity") or 1 for rows in missing.values() for row in rows):
        said = [f"{what[0].upper()}{what[1:]}: {_listed(rows)}." for what, rows in missing.items() if rows]
        title = f"No day is known for {told.many(count, 'thing')} to charge, look over or renew"
        yield _day(
            assessment.today, ("no day",), assessment.today, title,
            " ".join([*said, "Write the days into the lists; until then none of this has a day of its own."]),
        )  # fmt: skip


def _listed(rows: Iterable[dict[str, Any]]) -> str:
    """Whose and what things are, each kit once; of many the first, and how many more."""
    kits: dict[str, list[str]] = {}
    for row in rows:
        whose = row["member"] if row["kit"] is None else f"{row['member']} / {row['kit']}"
        kits.setdefault(whose, []).extend([_named(row)] if row.get("item") else [])
    names = [readable(f"{whose}: {', '.join(held)}" if held else whose, 120) for whose, held in kits.items()]
    shown = max(1, sum(length <= NAMED for length in accumulate(map(len, names))))
    rest = len(names) - shown
    return "; ".join(names[:shown]) + (f"; and {rest} more" if rest else "")


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
    """Events for the club; for a member their shifts, in local time where the event tells neither time zone nor hours from UTC.

    Several kits that a member brings to a post at once stand in one entry, which ends with the last.
    """
    sql = "select *, '' as post, '' as kit, '' as site, false as has_vehicle from event where $1::varchar is null"
    if member is not None:
        sql = (
            "select e.event, p.post, string_agg(k.kit || if(k.member <> m.member, ' of ' || k.member, ''), ' and ' "
            "order by k.kit, k.member) as kit, "
            "a.starts, max(a.ends) as ends, any_value(e.utc_offset_h) as utc_offset_h, any_value(e.clock_min) as clock_min, "
            "any_value(e.clocks_change) as clocks_change, any_value(e.clock_after_min) as clock_after_min, "
            "any_value(p.shelter) as shelter, any_value(p.has_vehicle) as has_vehicle, any_value(p.site) as site from assignment as a "
            "join post as p using (post_id) join event as e on e.event_id = a.event_id "
            "join member as m using (member_id) left join kit as k on k.kit_id = a.kit_id where m.member = $1 "
            "group by e.event, p.post, a.starts"
        )
    for row in told.rows(assessment, sql, member):
        starts, ends = row["starts"], row["ends"]
        title = f"{row['event']}: {row['post']}" if row["post"] else row["event"]
        text = f"Kit: {row['kit']}. {CAUTIONS['lightning']}" if row["kit"] else CAUTIONS["lightning"]
        if row["shelter"] or row["has_vehicle"]:
            text += f" Shelter: {told.shelter(row)}."
        if change := told.clocks(row, starts, ends):
            text = f"{told.from_to(starts, ends)} by the clocks there, which {change}. {text}"
        if row["utc_offset_h"] is not None:
            clock = Clocks(row["clock_min"], row["clocks_change"], row["clock_after_min"])
            starts, ends = (clock.utc(at).replace(tzinfo=UTC) for at in (starts, ends))
        yield Entry(
            ("event", row["event"], row["post"], f"{row['starts']}"),
            starts,
            ends,
            title,
            text,
            row["site"] or "",
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
