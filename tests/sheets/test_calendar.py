"""The calendar: what it holds, on which day, and that programs read it."""

from datetime import UTC, date, datetime, timedelta
from itertools import chain

import pandas as pd
import pytest
from icalendar import Calendar

from dashboard.sheets import dates
from rules.engine import Assessment, assess
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
    assert found["Charge Q1ABC / go bag for Fog Walk (3 to charge)"]["dtstart"].dt == date(2027, 4, 18)
    assert found["Q1ABC / go bag: 1 thing expires"]["dtstart"].dt == date(2027, 6, 30)
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
    charge = found["Charge Q1ABC / go bag (2 overdue)"]
    assert (
        charge["dtstart"].dt == TODAY
        and "2 \N{MULTIPLICATION SIGN} spare pack (by 2026-07-31)" in charge["description"]
    )
    assert found["club <i>battery</i> is due back from Q1ABC"]["dtstart"].dt == TODAY


def test_what_organisers_ask_for_is_renewed_in_time():
    days = {
        name: pd.Timestamp(2027, 8, n)
        for n, name in enumerate(("id_expires", "vetting_expires", "waiver_expires", "training_expires"), 1)
    }
    club = small_club.assess(
        members=[{"member": "Q1ABC", "available": True, "licence_class": "none", **days}]
    )
    found = {title: entry["dtstart"].dt.day for title, entry in read_back(dates.calendar(club)).items()}
    assert found == {
        "Q1ABC: identity card ends": 1, "Q1ABC: background check ends": 2, "Q1ABC: waiver ends": 3, "Q1ABC: training ends": 4,
    }  # fmt: skip


def test_a_whole_day_ends_on_the_next(small):
    entry = read_back(dates.calendar(small))["Q1ABC: licence ends"]
    assert entry["dtend"].dt - entry["dtstart"].dt == timedelta(days=1)


def of_bag(policy: str = "", *things: dict[str, object], **files: object) -> small_club.Club:
    """A club of one bag with these things; the member's licence ends long after."""
    return small_club.assess(
        policy,
        inventory=small_club.kit("Q1ABC", "Bag", *things),
        **{
            "members": [{"member": "Q1ABC", "licence_class": "none"}],
            "kits": [{"member": "Q1ABC", "kit": "Bag", "inspected": pd.Timestamp(TODAY)}],
            **files,
        },
    )


def sent_to(*days: str) -> dict[str, object]:
    """The bag at a ride, in the morning of each of these days at another post."""
    hours = [(pd.Timestamp(f"{day} 06:00"), pd.Timestamp(f"{day} 12:00")) for day in days]
    return {
        "events": [{"event": "Ride", "starts": hours[0][0], "ends": hours[-1][1]}],
        "posts": [{"event": "Ride", "post": f"Ford {day}"} for day in days],
        "assignments": [
            {
                "event": "Ride",
                "post": f"Ford {day}",
                "member": "Q1ABC",
                "kit": "Bag",
                "from": starts,
                "to": ends,
            }
            for day, (starts, ends) in zip(days, hours, strict=True)
        ],
    }


def starts(club: Assessment, *words: str) -> dict[str, date]:
    """The entries with one of these words in their titles, each with its first day."""
    return {
        title: entry["dtstart"].dt
        for title, entry in read_back(dates.calendar(club)).items()
        if any(word in title for word in words)
    }


def test_things_that_expire_stand_on_their_last_good_day():
    last = pd.Timestamp("2027-03-20")
    club = of_bag(
        "",
        {"kind": "satellite_messenger", "expires": last},
        {"kind": "water", "expires": last, "quantity": 3},
        {"kind": "fire_extinguisher", "expires": pd.Timestamp(TODAY)},
        {"kind": "first_aid", "expires": pd.Timestamp("2027-02-28"), "condition": "faulty"},
        {"kind": "trauma_pack", "expires": pd.Timestamp("2027-02-28"), "condition": "removed"},
    )
    assert starts(club, "expire", "past") == {
        "Q1ABC / Bag: 4 things expire": date(2027, 3, 20),
        "Q1ABC / Bag: 1 thing expires": TODAY,
        "Q1ABC / Bag: 1 thing past its date": TODAY,
    }
    found = read_back(dates.calendar(club))
    assert found["Q1ABC / Bag: 4 things expire"]["description"].startswith(
        "satellite_messenger (until 2027-03-20); 3 \N{MULTIPLICATION SIGN} water (until 2027-03-20). "
    )
    assert "first_aid (until 2027-02-28)" in found["Q1ABC / Bag: 1 thing past its date"]["description"]
    judged = club.findings("j.subject_kind = 'item' and j.ok is false")
    assert [f.subject for f in judged if f.rule == "past_its_expiry"] == ["Q1ABC/Bag/first_aid (line 5)"]


def test_who_holds_no_licence_has_none_that_ends():
    ends = {"member": "Q1ABC", "licence_expires": pd.Timestamp("2027-09-01")}
    held = small_club.assess(members=[ends | {"licence_class": "general"}])
    assert starts(held, "licence") == {"Q1ABC: licence ends": date(2027, 9, 1)}
    assert starts(small_club.assess(members=[ends | {"licence_class": "none"}]), "licence") == {}


@pytest.mark.parametrize(
    ("policy", "day"), [("", 18), ("[rules.not_charged_before_the_event]\nwithin_days = 3", 22)]
)
def test_a_kit_is_charged_when_the_week_before_its_event_begins(policy, day):
    """On that day the rule begins to ask for a charge, and what was charged before it counts no more."""
    pack = small_club.PACK | {"quantity": 3}
    club = of_bag(
        policy, pack, small_club.BATTERY | {"charged": pd.Timestamp(TODAY)}, **sent_to("2027-04-25")
    )
    assert starts(club, "Charge") == {"Charge Q1ABC / Bag for Ride (4 to charge)": date(2027, 4, day)}
    said = read_back(dates.calendar(club))["Charge Q1ABC / Bag for Ride (4 to charge)"]["description"]
    assert said.startswith(
        "3 \N{MULTIPLICATION SIGN} handheld_pack, battery_lifepo4: 4 of 4 batteries and packs, for 2027-04-25; "
        f"what is charged before 2027-04-{day}, "
    )


def test_a_charge_round_before_the_week_of_the_event_stays():
    club = of_bag("", small_club.PACK | {"charged": pd.Timestamp("2027-02-01")}, **sent_to("2027-04-25"))
    assert starts(club, "Charge") == {
        "Charge Q1ABC / Bag (1 to charge)": date(2027, 4, 2),
        "Charge Q1ABC / Bag for Ride (1 to charge)": date(2027, 4, 18),
    }


def test_in_the_week_before_only_what_was_not_charged_in_it_is_to_be_charged_today():
    fresh = small_club.PACK | {"charged": pd.Timestamp("2027-02-28")}
    undated = {"kind": "handheld_pack", "spare": True}
    club = of_bag(
        "",
        fresh,
        fresh | {"charged": pd.Timestamp("2027-02-20"), "quantity": 2},
        undated,
        **sent_to("2027-03-03"),
    )
    assert starts(club, "Charge") == {
        "Charge Q1ABC / Bag for Ride (3 to charge)": TODAY,
        "Charge Q1ABC / Bag (1 to charge)": date(2027, 4, 29),
    }
    said = read_back(dates.calendar(club))["Charge Q1ABC / Bag for Ride (3 to charge)"]["description"]
    assert said.startswith(
        "2 \N{MULTIPLICATION SIGN} handheld_pack, handheld_pack: 3 of 4 batteries and packs, "
    )


def test_a_kit_at_posts_on_several_days_is_charged_late_enough_for_all():
    club = of_bag("", small_club.PACK, **sent_to("2027-04-24", "2027-04-26"))
    assert list(starts(club, "Charge").values()) == [date(2027, 4, 19)]


def test_what_the_club_does_not_look_at_is_not_asked_for_in_the_calendar():
    club = of_bag(
        'allow = ["not_charged_before_the_event", "not_inspected_this_year", "past_its_expiry"]',
        small_club.PACK,
        {"kind": "first_aid"},
        **sent_to("2027-04-25"),
        kits=[{"member": "Q1ABC", "kit": "Bag", "inspected": pd.Timestamp(TODAY)}],
    )
    judged = assess(club.frames, club.policy, TODAY)
    assert starts(judged, "for Ride", "Look", "No day") == {}


def test_a_kit_is_looked_over_when_the_club_asks_for_it():
    club = of_bag("[rules.not_inspected_this_year]\nwithin_days = 30", small_club.HANDHELD)
    assert starts(club, "Look over") == {"Look over Q1ABC / Bag": date(2027, 3, 31)}


@pytest.mark.parametrize(
    ("policy", "inspected", "day"),
    [
        ("", "2026-04-24", date(2027, 3, 26)),
        ("", None, date(2027, 3, 26)),
        ("", "2026-04-25", None),
        ("[rules.inspected_too_late]\nwithin_days = 30\nbefore_days = 7", "2027-02-28", date(2027, 4, 18)),
        ("[rules.inspected_too_late]\nbefore_days = 60", None, TODAY),
        ('allow = ["inspected_too_late"]', None, None),
    ],
)
def test_the_last_day_for_an_inspection_before_the_first_event(policy, inspected, day):
    """Until it the rule can still be met, by the kits that are named."""
    kits = [{"member": "Q1ABC", "kit": "Bag"} | ({"inspected": pd.Timestamp(inspected)} if inspected else {})]
    club = of_bag(policy, small_club.HANDHELD, kits=kits, **sent_to("2027-04-25"))
    title = "Last day to look over 1 kit for Ride"
    found = {name: entry for name, entry in read_back(dates.calendar(club)).items() if "Last day" in name}
    assert {name: entry["dtstart"].dt for name, entry in found.items()} == ({title: day} if day else {})
    if day and day > TODAY:
        said = found[title]["description"]
        assert said.startswith("Q1ABC / Bag. By another member,") and said.endswith(" before 2027-04-25.")
        done = of_bag(
            policy,
            small_club.HANDHELD,
            kits=[kits[0] | {"inspected": pd.Timestamp(day)}],
            **sent_to("2027-04-25"),
        )
        for at, is_met in ((day, True), (day + timedelta(days=1), False)):
            done.frames["kits"]["inspected"] = pd.Timestamp(at)
            judged = small_club.Club(done.frames, done.policy, at).answers("inspected_too_late")
            assert {f.status == "met" for f in judged} == {is_met}


def test_who_has_no_kit_at_the_first_event_reads_of_no_inspection_for_it():
    kits = [{"member": "Q1ABC", "kit": "Bag"}, {"member": "Q2B", "kit": "Box"}]
    members = [{"member": name, "licence_class": "none"} for name in ("Q1ABC", "Q2B")]
    club = of_bag("", small_club.HANDHELD, kits=kits, members=members, **sent_to("2027-04-25"))
    assert "Last day" in str(dates.calendar(club, "Q1ABC")) and "Last day" not in str(
        dates.calendar(club, "Q2B")
    )


def test_what_has_no_day_is_named_in_one_entry():
    club = of_bag(
        "",
        {"kind": "handheld_pack", "quantity": 2},
        {"kind": "dry_cell_shell"},
        {"kind": "first_aid"},
        members=[{"member": "Q1ABC", "licence_class": "general"}],
        kits=[],
    )
    assert starts(club, "No day") == {"No day is known for 5 things to charge, look over or renew": TODAY}
    (said,) = (
        str(e["description"]) for title, e in read_back(dates.calendar(club)).items() if "No day" in title
    )
    for what in (
        "When it was last charged: Q1ABC / Bag: 2 \N{MULTIPLICATION SIGN} handheld_pack.",
        "When it was last looked over by another member: Q1ABC / Bag.",
        "Until when the licence holds: Q1ABC.",
        "Until when it is good: Q1ABC / Bag: first_aid.",
    ):
        assert what in said


def test_of_much_without_a_day_some_is_named_and_the_rest_counted():
    bags = [small_club.kit("Q1ABC", f"Bag {n} {'x' * 60}", small_club.HANDHELD) for n in range(9)]
    club = small_club.assess(
        inventory=[*chain.from_iterable(bags)], members=[{"member": "Q1ABC", "licence_class": "none"}]
    )
    (said,) = (
        str(e["description"]) for title, e in read_back(dates.calendar(club)).items() if "No day" in title
    )
    assert said.count("Q1ABC / Bag") == 4 and "; and 5 more. " in said


def test_two_kits_that_a_member_brings_to_a_post_at_once_are_one_shift_at_its_site():
    things = [small_club.kit("Q1ABC", kit, small_club.HANDHELD) for kit in ("Box", "Bag")]
    sent = {"event": "Ride", "post": "Ford", "member": "Q1ABC"}
    early = {"kit": "Box", "to": pd.Timestamp("2027-04-25 09:00")}
    club = small_club.assess(
        inventory=things[0] + things[1],
        events=[small_club.EVENT | {"shelter": "boat house"}],
        posts=[{"event": "Ride", "post": "Ford", "site": "old bridge", "shelter": "toll house"}],
        assignments=[sent | early, sent | {"kit": "Bag"}],
    )
    entry = read_back(dates.calendar(club, "Q1ABC"))["Ride: Ford"]
    assert entry["description"].startswith("Kit: Bag and Box. ")
    assert entry["location"] == "old bridge" and entry["description"].endswith("Shelter: toll house.")
    assert entry["dtend"].dt == datetime(2027, 4, 25, 12)


def test_a_shift_beside_a_vehicle_that_stays_names_it_as_the_shelter():
    club = small_club.assess(
        inventory=small_club.kit("Q1ABC", "Box", small_club.HANDHELD),
        events=[small_club.EVENT],
        posts=[{"event": "Ride", "post": "Ford", "access": "4x4", "vehicle": True, "shelter": "none"}],
        assignments=[{"event": "Ride", "post": "Ford", "member": "Q1ABC", "kit": "Box"}],
    )
    entry = read_back(dates.calendar(club, "Q1ABC"))["Ride: Ford"]
    assert entry["description"].endswith("Shelter: the vehicle that stays.")


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
