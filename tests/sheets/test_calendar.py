"""The calendar: what it holds, on which day, and that programs read it."""

from datetime import UTC, date, datetime, timedelta

import pandas as pd
from icalendar import Calendar

from dashboard.sheets import dates
from rules.engine import Assessment
from tests import small_club
from tests.command_line import called
from tests.small_club import TODAY


def read_back(content: bytes) -> dict[str, object]:
    """The entries of a calendar by title."""
    made = Calendar.from_ical(content)
    assert made["version"] == "2.0" and made["prodid"]
    found = list(made.walk("VEVENT"))
    uids = [str(entry["uid"]) for entry in found]
    assert len(set(uids)) == len(uids)
    return {str(entry["summary"]): entry for entry in found}


def test_the_calendar_holds_charges_inspections_expiries_loans_and_events(small):
    found = read_back(dates.calendar(small))
    assert found["Charge Q1ABC / go bag (1 to charge)"]["dtstart"].dt == date(2027, 7, 9)
    assert found["Look over Q1ABC / go bag"]["dtstart"].dt == date(2027, 5, 1)
    assert found["Q1ABC: licence ends"]["dtstart"].dt == date(2027, 9, 1)
    walk = found["Fog Walk"]
    assert walk["dtstart"].dt == datetime(2027, 4, 25, 10, 15, tzinfo=UTC)  # 05:15 five hours west
    assert walk["dtend"].dt == datetime(2027, 4, 25, 17, 30, tzinfo=UTC)
    assert found["=cmd|Walk"]["dtstart"].dt == datetime(2027, 5, 1, 8)  # no offset told: local time


def test_what_is_overdue_stands_on_the_present_day_and_says_since_when(small):
    found = read_back(dates.calendar(small))
    late = found["Q1ABC: first-aid certificate ends"]
    assert late["dtstart"].dt == TODAY
    assert "Overdue since 2027-01-15." in late["description"]
    charge = found["Charge Q1ABC / go bag (1 overdue)"]
    assert charge["dtstart"].dt == TODAY and "spare pack (by 2026-07-31)" in charge["description"]
    assert found["club <i>battery</i> is due back from Q1ABC"]["dtstart"].dt == TODAY


def test_what_organisers_ask_for_is_renewed_in_time():
    days = {
        name: pd.Timestamp(2027, 8, n)
        for n, name in enumerate(("id_expires", "vetting_expires", "waiver_expires", "training_expires"), 1)
    }
    club = small_club.assess(members=[{"member": "Q1ABC", "available": True, **days}])
    found = {title: entry["dtstart"].dt.day for title, entry in read_back(dates.calendar(club)).items()}
    assert found == {
        "Q1ABC: identity card ends": 1, "Q1ABC: background check ends": 2, "Q1ABC: waiver ends": 3, "Q1ABC: training ends": 4,
    }  # fmt: skip


def test_a_whole_day_ends_on_the_next(small):
    entry = read_back(dates.calendar(small))["Q1ABC: licence ends"]
    assert entry["dtend"].dt - entry["dtstart"].dt == timedelta(days=1)


def test_two_kits_that_a_member_brings_to_a_post_at_once_are_one_shift():
    things = [small_club.kit("Q1ABC", kit, small_club.HANDHELD) for kit in ("Box", "Bag")]
    sent = {"event": "Ride", "post": "Ford", "member": "Q1ABC"}
    early = {"kit": "Box", "to": pd.Timestamp("2027-04-25 09:00")}
    club = small_club.assess(
        inventory=things[0] + things[1],
        events=[small_club.EVENT],
        posts=[{"event": "Ride", "post": "Ford"}],
        assignments=[sent | early, sent | {"kit": "Bag"}],
    )
    entry = read_back(dates.calendar(club, "Q1ABC"))["Ride: Ford"]
    assert entry["description"].startswith("Kit: Bag and Box. ")
    assert entry["dtend"].dt == datetime(2027, 4, 25, 12)


def test_a_member_s_calendar_has_the_shifts_and_nobody_else_s(small, assessment):
    found = read_back(dates.calendar(small, "Q1ABC"))
    assert "Fog Walk: Gate" in found and "Fog Walk" not in found
    assert "go bag" in found["Fog Walk: Gate"]["description"]
    titles = " ".join(read_back(dates.calendar(assessment, "QA1BCD")))
    others = [
        m for (m,) in assessment.con.execute("select member from member where member <> 'QA1BCD'").fetchall()
    ]
    assert [member for member in others if member in titles] == []


def test_calendar_lines_are_folded_and_end_as_the_standard_asks(assessment):
    content = dates.calendar(assessment)
    assert content.count(b"\n") == content.count(b"\r\n")
    assert max(map(len, content.split(b"\r\n"))) <= 75  # RFC 5545, section 3.1


def test_an_entry_keeps_its_identity_from_day_to_day(small):
    later = dates.calendar(Assessment(small.con, small.rules, small.policy, TODAY + timedelta(days=1)))
    now = {title: str(entry["uid"]) for title, entry in read_back(dates.calendar(small)).items()}
    assert {title: str(entry["uid"]) for title, entry in read_back(later).items()} == now


def test_the_calendar_command_writes_a_file_that_reads_back(small_folder, tmp_path):
    result = called("calendar", small_folder, tmp_path / "club.ics", "--member", "q1abc", "--today", TODAY)
    assert result.exit_code == 0, result.output
    found = read_back((tmp_path / "club.ics").read_bytes())
    assert f"{len(found)} entries written" in result.output
    assert called("calendar", small_folder, tmp_path / "x.ics", "--member", "Q9XYZ").exit_code == 2
