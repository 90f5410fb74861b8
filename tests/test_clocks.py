"""Events where clocks change while they run, and events in two time zones: hours are counted as they pass.

Clocks of the European Union change at 01:00 UTC on the last Sundays of March and October (Directive 2000/84/EC), those of
the United States at 02:00 local time on the second Sunday of March and the first of November (15 USC 260a).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from icalendar import Calendar

from dashboard import standing
from dashboard.sheets import dates, event, packing
from data import clocks, club, upload
from data.clocks import Clocks
from data.club_check import loose_ends
from rules.plans import report, staffing, whatif
from rules.plans.staffing.event import read_event
from rules.plans.staffing.plan import roster_of
from tests import pages, small_club
from tests.printed import text

BACK = {
    "event": "Night Run",
    "starts": pd.Timestamp("2027-10-30 20:00"),
    "ends": pd.Timestamp("2027-10-31 08:00"),
    "lat": 50.0,
    "lon": 8.0,
    "time_zone": "Europe/Berlin",
}
"""Clocks go back within it: from 20:00 to 08:00 pass 13 hours."""
FORWARD = BACK | {"starts": pd.Timestamp("2027-03-27 20:00"), "ends": pd.Timestamp("2027-03-28 08:00")}
KIT = small_club.kit(
    "QA1BC",
    "Bag",
    small_club.MOBILE,
    small_club.BATTERY,
    small_club.LEAD,
    small_club.ANTENNA,
    small_club.COAX,
)
POST = {"event": "Night Run", "post": "Ford", "post_type": "aid_station"}
SENT = {"event": "Night Run", "post": "Ford", "member": "QA1BC", "kit": "Bag"}


def of(told: Mapping[str, Any], **more: Sequence[Mapping[str, Any]]) -> small_club.Club:
    """One member with one kit at the one post of an event."""
    rows = {"inventory": KIT, "events": [told], "posts": [POST], "assignments": [SENT]} | more
    return small_club.assess(**rows)


@pytest.mark.parametrize(
    ("zone", "starts", "ends", "wanted", "hours"),
    [
        ("Europe/Berlin", "2027-10-30T20:00", "2027-10-31T08:00", (120, "2027-10-31T03:00", 60), 13),
        ("Europe/Berlin", "2027-03-27T20:00", "2027-03-28T08:00", (60, "2027-03-28T03:00", 120), 11),
        ("Europe/Berlin", "2027-03-27T20:00:36", "2027-03-28T08:00:36", (60, "2027-03-28T03:00", 120), 11),
        ("America/Denver", "2027-11-06T06:00", "2027-11-07T06:00", (-360, "2027-11-07T02:00", -420), 25),
        ("America/Phoenix", "2027-11-06T06:00", "2027-11-07T06:00", (-420, None, -420), 24),
        ("Europe/Berlin", "2027-10-31T02:30", "2027-10-31T03:00", (120, "2027-10-31T03:00", 60), 1.5),
        ("Europe/Berlin", "2027-10-29T08:00", "2027-10-31T02:30", (120, "2027-10-31T03:00", 60), 42.5),
    ],
)
def test_hours_pass_as_the_clocks_of_the_zone_say(
    zone: str, starts: str, ends: str, wanted: tuple[int, str | None, int], hours: float
) -> None:
    begin, end = map(datetime.fromisoformat, (starts, ends))
    found = clocks.of_zone(zone, begin, end)
    before, change, after = wanted
    assert found == Clocks(before, None if change is None else datetime.fromisoformat(change), after)
    assert (found.utc(end) - found.utc(begin)).total_seconds() / 3600 == hours
    assert [found.local(found.utc(at)) for at in (begin, end)] == [begin, end]


@pytest.mark.parametrize("told", [BACK, FORWARD])
def test_time_never_runs_backwards_and_both_ways_to_count_agree(told: dict[str, Any]) -> None:
    """A minute that clocks leave out, or show twice, among them."""
    found = clocks.of_row(told)
    locals_ = pd.date_range(told["starts"], told["ends"], freq="min")
    by_hand = [found.utc(at.to_pydatetime()) for at in locals_]
    assert by_hand == sorted(by_hand)
    con = club.connect()
    con.register("told", pd.DataFrame({"shown": locals_}))
    asked = con.execute("select utc_of(shown, $1, $2, $3) from told order by shown", list(found)).fetchall()
    assert [at for (at,) in asked] == by_hand
    con.close()


@pytest.mark.parametrize(
    ("told", "hours"), [(BACK, 13.0), (FORWARD, 11.0), (BACK | {"time_zone": None}, 12.0)]
)
def test_a_night_of_changed_clocks_asks_its_hours_of_people_and_batteries(
    told: dict[str, Any], hours: float
) -> None:
    asked = of(told)
    assert asked.rows("select shift_h from post") == [(hours,)]
    assert asked.rows("select need_h from post_kit") == [(hours,)]
    assert asked.rows("select need_h from runtime") == [(hours,)]
    assert asked.rows("select shift_h from shift") == [(hours,)]
    assert asked.rows("select longest_shift_h, longest_alone_h from coverage") == [(hours, hours)]


def test_hours_without_anyone_are_counted_as_they_pass_and_told_by_the_clocks_there() -> None:
    late = SENT | {"from": pd.Timestamp("2027-10-31 04:00")}
    asked = of(BACK, assignments=[late])
    gap = datetime(2027, 10, 30, 20)
    assert asked.rows("select uncovered_h, first_gap from coverage") == [(9.0, gap)]


def test_the_dark_hours_of_a_night_of_changed_clocks_are_those_of_its_own() -> None:
    """The same 13 hours told by UTC alone."""
    plain = BACK | {
        "starts": pd.Timestamp("2027-10-30 18:00"),
        "ends": pd.Timestamp("2027-10-31 07:00"),
        "time_zone": None,
        "utc_offset_h": 0.0,
    }
    wanted = of(plain).rows("select dark_h from darkness")
    assert of(BACK).rows("select dark_h from darkness") == wanted
    assert of(BACK).rows("select dark_h from watch") == of(plain).rows("select dark_h from watch")


def test_an_event_that_tells_no_clocks_has_those_of_the_nearest_that_does_and_says_nothing_of_the_dark() -> (
    None
):
    def told(name: str, day: str, **more: Any) -> dict[str, Any]:
        hours = {"starts": pd.Timestamp(f"{day} 06:00"), "ends": pd.Timestamp(f"{day} 12:00")}
        return {"event": name, "lat": 40.0, "lon": -105.0} | hours | more

    asked = small_club.assess(
        events=[
            told("Summer", "2027-07-01", time_zone="America/Denver"),
            told("Autumn", "2027-09-01"),
            told("Winter", "2027-12-01", utc_offset_h=-7.0),
        ]
    )
    found = asked.rows("select event, utc_offset_h, clock_min from event order by starts")
    assert found == [("Summer", -6.0, -360), ("Autumn", None, -360), ("Winter", -7.0, -420)]
    assert asked.rows("select event_id from darkness order by 1") == [(1,), (3,)]
    assert small_club.assess(events=[told("Alone", "2027-07-01")]).rows("select clock_min from event") == [
        (0,)
    ]


def test_a_shift_and_a_charge_go_on_from_one_event_to_another_by_what_passes_between() -> None:
    """From 18:00 in the west to 03:00 two zones to the east: nine hours by the clocks, seven that pass."""
    ride = {
        "event": "Ride",
        "starts": pd.Timestamp("2027-06-12 10:00"),
        "ends": pd.Timestamp("2027-06-12 18:00"),
    }
    fair = {
        "event": "Fair",
        "starts": pd.Timestamp("2027-06-13 03:00"),
        "ends": pd.Timestamp("2027-06-13 09:00"),
    }

    def asked(*zones: str | None) -> small_club.Club:
        return small_club.assess(
            inventory=KIT,
            events=[one | {"time_zone": zone} for one, zone in zip((ride, fair), zones, strict=True)],
            posts=[POST | {"event": name} for name in ("Ride", "Fair")],
            assignments=[SENT | {"event": name} for name in ("Ride", "Fair")],
        )

    apart, near = asked(None, None), asked("America/Denver", "America/New_York")
    assert apart.rows("select elsewhere_h from runtime order by post_kit_id") == [(0.0,), (0.0,)]
    assert near.rows("select elsewhere_h from runtime order by post_kit_id") == [(6.0,), (8.0,)]
    assert near.rows("select starts from post_kit order by 1") == [(ride["starts"],), (fair["starts"],)]


HEAD = "event,starts,ends,lat,lon,utc_offset_h,time_zone\n"


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (
            "2027-10-30T20:00,2027-10-31T08:00,,,,europe/berlin",
            'time_zone: "europe/berlin" is not a time zone. Write Europe/Berlin.',
        ),
        (
            "2027-10-30T20:00,2027-10-31T08:00,,,,New York",
            'time_zone: "New York" is not a time zone. Write America/New_York.',
        ),
        (
            "2027-10-30T20:00,2027-10-31T08:00,,,,MST",
            'time_zone: "MST" is not a time zone. Write area and city, for example America/Denver, or leave the cell empty.',
        ),
        (
            "2027-10-30T20:00,2027-10-31T08:00,,,1,Europe/Berlin",
            'utc_offset_h: "1" is not what clocks of Europe/Berlin are from UTC then, 2 h. Write 2, or clear one of the two cells.',
        ),
        (
            "2027-03-28T02:30,2027-03-28T08:00,,,,Europe/Berlin",
            'starts: "2027-03-28T02:30" is a time that clocks of Europe/Berlin leave out, as they are set forward. '
            "Write 2027-03-28T03:30, or the time that is meant.",
        ),
        (
            "2027-02-01T08:00,2027-12-01T08:00,,,,Europe/Berlin",
            'ends: "2027-12-01T08:00" is after clocks of Europe/Berlin have changed more than once. '
            "Write it as several events, or leave time_zone empty.",
        ),
        (
            "2027-07-01T08:00,2027-07-01T12:00,44,71,,America/New_York",
            'lon: "71" is nowhere that clocks are -4 h from UTC. Write lon -71 (east is positive, west negative).',
        ),
        (
            "2027-07-01T08:00,2027-07-01T12:00,44,140,,America/New_York",
            'lon: "140" is nowhere that clocks are -4 h from UTC. Mend lon or time_zone.',
        ),
    ],
)
def test_what_does_not_go_with_a_time_zone_is_said(row: str, said: str) -> None:
    read = upload.read("events.csv", f"{HEAD}Night Run,{row}\n".encode())
    assert [str(problem) for problem in read.problems] == [f"events.csv line 2, {said}"]


@pytest.mark.parametrize(
    "name", ["Etc/GMT+5", "right/Europe/Berlin", "Europe", "../Berlin", "EST5EDT", "Europe/" + "x" * 999]
)
def test_what_is_no_area_and_city_is_no_time_zone(name: str) -> None:
    assert not clocks.is_known(name)


def test_a_time_that_comes_twice_is_told() -> None:
    read = upload.read(
        "events.csv", f"{HEAD}Night Run,2027-10-31T02:30,2027-10-31T08:00,,,,Europe/Berlin\n".encode()
    )
    assert read.problems == [] and read.notices == [
        'starts: "2027-10-31T02:30" comes twice by clocks of Europe/Berlin (1 row). It counts as the first.'
    ]


def test_times_at_posts_that_the_clocks_leave_out_are_found_between_the_files() -> None:
    missing = pd.Timestamp("2027-03-28 02:15")
    frames = {
        "events": [FORWARD],
        "posts": [POST | {"opens": missing}],
        "assignments": [SENT | {"from": missing}],
        "inventory": KIT,
    }
    said = [
        str(one) for one in loose_ends({stem: small_club.frame(stem, rows) for stem, rows in frames.items()})
    ]
    why = (
        "is a time that clocks of Europe/Berlin leave out, as they are set forward. "
        "Write 2027-03-28T03:15, or the time that is meant."
    )
    assert said == [
        f'posts.csv line 2, opens: "2027-03-28T02:15" {why}',
        f'assignments.csv line 2, from: "2027-03-28T02:15" {why}',
    ]


def test_the_calendar_has_the_moments_and_says_how_the_clocks_change() -> None:
    def entry(told: Mapping[str, Any]) -> Any:
        (one,) = [
            found
            for found in Calendar.from_ical(dates.calendar(of(told), "QA1BC")).walk("VEVENT")
            if found["summary"] == "Night Run: Ford"
        ]
        return one

    back = entry(BACK)
    assert back["dtstart"].dt == datetime(2027, 10, 30, 18, tzinfo=UTC)
    assert back["dtend"].dt == datetime(2027, 10, 31, 7, tzinfo=UTC)
    assert back["description"].startswith(
        "Sat 2027-10-30 20:00 to Sun 2027-10-31 08:00 by the clocks there, "
        "which go back from 03:00 to 02:00 on Sun 2027-10-31. Kit: Bag."
    )
    assert entry(FORWARD)["dtend"].dt == datetime(2027, 3, 28, 6, tzinfo=UTC)
    assert "go forward from 02:00 to 03:00 on Sun 2027-03-28" in entry(FORWARD)["description"]
    early = BACK | {"ends": pd.Timestamp("2027-10-31 01:00")}
    assert entry(early)["description"].startswith("Kit: Bag.")


def test_paper_says_how_the_clocks_change() -> None:
    asked = of(BACK)
    for sheet in (event.packet(asked, "Night Run"), packing.packing(asked, 1)):
        said = " ".join(text(sheet).split())
        assert "clocks go back from 03:00 to 02:00 on Sun 2027-10-31" in said
        assert "13.0 h" in said


def test_a_plan_shares_out_the_hours_that_pass_and_tells_them_by_the_clocks_there() -> None:
    """From 21:00 pass 12 hours. Half of them are over as clocks show 02:00 again, which can be written as the first alone."""
    late = BACK | {"starts": pd.Timestamp("2027-10-30 21:00")}
    asked = of(late, assignments=[], members=[{"member": "QA1BC"}])
    here = read_event(asked, "Night Run")
    assert here.minute(datetime(2027, 10, 31, 8)) == 12 * 60
    assert here.moment(12 * 60) == datetime(2027, 10, 31, 8)
    pieces = roster_of(asked, here, [], staffing.Terms())[0].pieces
    found = [(f"{here.moment(p.start):%H:%M}", f"{here.moment(p.end):%H:%M}", p.minutes) for p in pieces]
    assert found == [("21:00", "02:00", 5 * 60), ("02:00", "08:00", 7 * 60)]


def test_an_event_closed_so_many_hours_after_it_opens_counts_them_as_they_pass() -> None:
    frames = {
        "events": small_club.frame("events", [BACK]),
        "posts": small_club.frame("posts", [POST]),
        "assignments": small_club.frame("assignments", [SENT]),
        "inventory": small_club.frame("inventory", KIT),
        "rehearsals": small_club.frame("rehearsals", []),
    }
    assert whatif.lasts_h(frames, "Night Run") == whatif.lasts_h(frames, "Night Run", "Ford") == 13.0
    assert report.sheet(frames, "Night Run")["planned_h"].tolist() == [13.0]
    told = {stem: one.copy() for stem, one in frames.items()}
    whatif._hours(told, whatif.Change("hours", event="Night Run", value=14.0))
    assert told["events"]["ends"].tolist() == [pd.Timestamp("2027-10-31 09:00")]
    assert told["posts"]["closes"].tolist() == [pd.Timestamp("2027-10-31 09:00")]


def test_the_page_of_the_event_says_how_the_clocks_change(tmp_path: Path) -> None:
    sent = {
        "events.csv": f"{HEAD}Night Run,2027-10-30T20:00,2027-10-31T08:00,50,8,,Europe/Berlin\n",
        "posts.csv": "event,post,post_type\nNight Run,Ford,aid_station\n",
    }
    with pages.alone():
        opened = standing.open_club(tmp_path / "club.duckdb")
        for name, told in sent.items():
            opened.store.accept(upload.read(name, told.encode()), "test")
        said = pages.words(pages.page("events"))
    assert "Clocks go back from 03:00 to 02:00 on 31 Oct 2027; hours are counted as they pass." in said
