"""Who is at a post with whom, in the dark or by day, and whether a licence covers it: small posts known by thought."""

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from typing import Any

import duckdb
import pandas as pd
import pytest

from dashboard.sheets import event as event_sheet
from dashboard.sheets import packing
from rules import engine, facts
from rules.facts import crew, posts
from rules.facts.select import Select
from rules.plans import posts as by_kit
from rules.plans import trials
from rules.policy import Policy
from rules.score import next_steps
from tests import printed, small_club
from tests.tools import insert

TODAY = date(2027, 3, 1)
NOON, EVENING, MIDNIGHT = "2027-03-20T12:00", "2027-03-20T18:00", "2027-03-21T00:00"


@pytest.fixture
def con() -> Iterator[duckdb.DuckDBPyConnection]:
    con = facts.blank()
    yield con
    con.close()


def post(con: duckdb.DuckDBPyConnection, *shifts: tuple[Any, ...], **told: Any) -> None:
    """One post at the equator from noon to midnight, and who is there from when to when, each with a kit of their own.

    Another kit, or None, is named as a fourth word.
    """
    event = {"event_id": 1, "lat": 0.0, "lon": 0.0, "utc_offset_h": 0.0} | told.pop("event", {})
    insert(con, "event", event)
    insert(con, "post", {"post_id": 1, "event_id": 1, "opens": NOON, "closes": MIDNIGHT} | told)
    for number, (member, begin, end, *other) in enumerate(shifts, 1):
        kit = other[0] if other else member
        row = {"assignment_id": number, "post_id": 1, "member_id": member, "kit_id": kit}
        insert(con, "assignment", row | {"starts": begin, "ends": end})


def made(con: duckdb.DuckDBPyConnection, rows: Select) -> pd.DataFrame:
    """The rows that a fact's select makes."""
    return con.execute(rows.sql, dict(rows.values) or None).df()


def others(con: duckdb.DuckDBPyConnection) -> list[int]:
    frame = made(con, crew.company(con, Policy.standard(), TODAY)["company"])
    return [int(count) for count in frame.sort_values("assignment_id")["others"]]


def watch(con: duckdb.DuckDBPyConnection, **classes: str | None) -> list[dict[str, Any]]:
    """The watch of each member m1, m2 … by licence class, each with a kit: by kit, then of those without one."""
    for number, (member, licence) in enumerate(classes.items(), 1):
        insert(con, "member", {"member_id": number, "member": member, "licence_class": licence})
        insert(con, "kit", {"kit_id": number, "member_id": number})
        insert(con, "holding", {"kit_id": number})
    for rows in (posts.post_kit, crew.company, crew.watch, crew.hardship):
        for table, found in rows(con, Policy.standard(), TODAY).items():
            facts.keep(con, table, found)
    frame = con.execute(
        "select w.*, pk.* exclude (post_kit_id, ends), pk.ends as until "
        "from watch as w join post_kit as pk using (post_kit_id) order by post_kit_id"
    ).df()
    return [
        {str(name): None if value is None or value != value else value for name, value in row.items()}
        for row in frame.astype(object).to_dict("records")
    ]


def hardship(con: duckdb.DuckDBPyConnection, limits: dict[str, Any], **policy: float) -> tuple[Any, ...]:
    """What is near a limit, has none, and whether one is past, for one member at the post with the limits that they have set."""
    insert(con, "member", {"member_id": 1, "licence_class": "general"} | limits)
    insert(con, "kit", {"kit_id": 1, "member_id": 1})
    insert(con, "holding", {"kit_id": 1, "weight_kg": 8.5})
    standard = Policy.standard()
    changed = replace(standard, facts={**standard.facts, **policy})
    for rows in (posts.post_kit, crew.company, crew.watch, crew.hardship):
        for table, found in rows(con, changed, TODAY).items():
            facts.keep(con, table, found)
    row = con.execute(
        "select near, unset_limits, is_past, near_limits, limits_unset from hardship"
    ).fetchone()
    if row is None:
        return ()
    assert row[3:] == tuple(len(words.split(", ")) if words else 0 for words in row[:2])
    return row[:3]


def test_company_is_the_fewest_at_any_moment(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, MIDNIGHT), (2, NOON, EVENING), (3, NOON, MIDNIGHT))
    assert others(con) == [1, 2, 1]


def test_relief_on_the_minute_leaves_nobody_alone(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, MIDNIGHT), (2, NOON, EVENING), (3, EVENING, MIDNIGHT))
    assert others(con) == [1, 1, 1]


def test_whoever_stays_after_the_last_one_left_is_alone(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, MIDNIGHT), (2, NOON, EVENING))
    assert others(con) == [0, 1]


def test_the_same_person_twice_is_no_company(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, MIDNIGHT), (1, NOON, MIDNIGHT))
    assert others(con) == [0, 0]


def shifts(con: duckdb.DuckDBPyConnection, policy: str = "") -> list[float]:
    """Hours of the shift that each assignment is a part of."""
    frame = made(con, crew.shift(con, Policy.parse(policy), TODAY)["shift"])
    return [float(hours) for hours in frame.sort_values("assignment_id")["shift_h"]]


def test_a_break_that_is_no_rest_begins_no_new_shift(con: duckdb.DuckDBPyConnection) -> None:
    """13 h and 1 min apart, or at two posts with an hour between: it is one shift; after a night it is another."""
    insert(con, "member", *({"member_id": member} for member in (1, 2, 3)))
    for assignment, (member, at, begins, ends) in enumerate(
        [
            (1, 1, "2027-03-08T06:00", "2027-03-08T13:00"), (1, 1, "2027-03-08T13:01", "2027-03-08T20:00"),
            (2, 1, "2027-03-08T06:00", "2027-03-08T17:30"), (2, 2, "2027-03-08T18:30", "2027-03-09T06:00"),
            (3, 1, "2027-03-08T06:00", "2027-03-08T16:00"), (3, 2, "2027-03-09T00:00", "2027-03-09T10:00"),
        ]
    ):  # fmt: skip
        row = {
            "assignment_id": assignment,
            "post_id": at,
            "member_id": member,
            "starts": begins,
            "ends": ends,
        }
        insert(con, "assignment", row)
    assert shifts(con) == pytest.approx([13 + 59 / 60] * 2 + [23.0] * 2 + [10.0] * 2)
    assert shifts(con, "[facts]\nrest_h = 9")[4:] == [16.0, 16.0]


def test_watch_and_watch_is_no_shift_of_days(con: duckdb.DuckDBPyConnection) -> None:
    """Six hours on and six off: twelve of any 24, however long it goes on."""
    insert(con, "member", {"member_id": 1})
    for turn in range(5):
        day, hour = divmod(12 * turn, 24)
        insert(con, "assignment", {
            "assignment_id": turn, "post_id": 1, "member_id": 1,
            "starts": f"2027-03-{8 + day:02d}T{hour:02d}:00", "ends": f"2027-03-{8 + day:02d}T{hour + 6:02d}:00",
        })  # fmt: skip
    assert shifts(con) == [12.0] * 5


def test_dark_hours_are_those_of_the_own_shift(con: duckdb.DuckDBPyConnection) -> None:
    # At the equator on the equinox the sun sets at about 18:10 by the clock (its disc and the air add
    # some minutes to six hours after a noon at 12:07) and is 6 degrees lower 21 minutes later.
    post(con, (1, NOON, EVENING), (2, EVENING, MIDNIGHT))
    first, second, spare = watch(con, m1="general", m2="general", m3="general")
    assert first["dark_h"] == 0
    assert second["dark_h"] == pytest.approx(5.5, abs=0.1)
    assert spare["dark_h"] == pytest.approx(5.5, abs=0.1)


@pytest.mark.parametrize("missing", ["lat", "utc_offset_h"])
def test_dark_hours_are_not_known_without_place_or_clock(
    con: duckdb.DuckDBPyConnection, missing: str
) -> None:
    post(con, event={missing: None})
    assert watch(con, m1="general")[0]["dark_h"] is None


def test_a_spare_kit_makes_its_member_alone_only_at_an_empty_post_for_one(
    con: duckdb.DuckDBPyConnection,
) -> None:
    post(con, operators=1)
    assert watch(con, m1="general")[0]["is_alone"]


def test_a_post_for_two_makes_nobody_alone_in_the_plan(con: duckdb.DuckDBPyConnection) -> None:
    post(con, operators=2)
    assert not watch(con, m1="general")[0]["is_alone"]


@pytest.mark.parametrize(
    ("bands", "licence", "covered"),
    [
        ("40m 80m", "technician", False),
        ("40m", "general", True),
        ("2m", "technician", True),
        ("2m 40m", "technician", False),
        (None, "technician", True),
        (None, "none", False),
        ("40m", None, None),
    ],
)
def test_licence_covers_the_bands(
    con: duckdb.DuckDBPyConnection, bands: str | None, licence: str | None, covered: bool | None
) -> None:
    post(con, bands=bands)
    assert watch(con, m1=licence)[0]["has_licence"] is covered


@pytest.mark.parametrize(
    ("bands", "modes", "covered"),
    [
        ("10m", "ssb", True),
        ("10m", None, True),
        ("10m", "fm", False),
        ("10m 2m", "ssb", True),
        ("40m", "cw", True),
        ("40m", "cw ssb", False),
        ("40m", None, False),
        ("20m", "cw", False),
        ("10m 40m", "ssb", False),
    ],
)
def test_a_technician_may_send_some_modes_on_some_hf_bands(
    con: duckdb.DuckDBPyConnection, bands: str, modes: str | None, covered: bool
) -> None:
    post(con, bands=bands, modes=modes)
    assert watch(con, m1="technician")[0]["has_licence"] is covered


@pytest.mark.parametrize(
    ("modes", "covered"),
    [("cw", True), ("ssb", False), ("hf_message cw", True), ("cw ssb", False), (None, True)],
)
def test_a_general_may_not_speak_on_30_m(
    con: duckdb.DuckDBPyConnection, modes: str | None, covered: bool
) -> None:
    post(con, bands="30m", modes=modes)
    assert watch(con, m1="general")[0]["has_licence"] is covered


def test_a_control_operator_covers_the_others_only_while_there(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, EVENING), (2, NOON, EVENING), (3, EVENING, MIDNIGHT), bands="40m")
    general, beside, after = watch(con, m1="general", m2="technician", m3="technician")
    assert general["has_licence"] and beside["has_licence"]
    assert not after["has_licence"]


@pytest.mark.parametrize(("starts", "helped"), [(EVENING, True), ("2027-03-20T18:30", False)])
def test_control_operators_in_turns_cover_a_helper_who_stays(
    con: duckdb.DuckDBPyConnection, starts: str, helped: bool
) -> None:
    post(con, (1, NOON, EVENING), (2, NOON, MIDNIGHT), (3, starts, MIDNIGHT), bands="40m")
    assert watch(con, m1="general", m2="none", m3="general")[1]["has_licence"] is helped


def test_who_is_sent_without_a_kit_is_judged_for_their_own_hours(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, MIDNIGHT), (2, EVENING, MIDNIGHT, None), bands="40m")
    first, *_, helper = watch(con, m1="general", m2="technician")
    assert (helper["kit_id"], helper["member_id"], helper["is_assigned"]) == (None, 2, True)
    assert (helper["starts"], helper["until"]) == (pd.Timestamp(EVENING), pd.Timestamp(MIDNIGHT))
    assert helper["need_h"] == 6
    assert helper["dark_h"] == pytest.approx(5.5, abs=0.1)
    assert helper["is_dark"] and not helper["is_alone"] and helper["has_licence"]
    assert helper["kit_dark_h"] is None and helper["is_kit_alone"] is None and helper["carried_kg"] is None
    assert first["is_alone"]


def test_who_brings_a_kit_in_a_later_turn_is_judged_for_that_turn(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, EVENING, 1), (2, EVENING, MIDNIGHT, 1), bands="40m")
    con.execute("update post set operators = 2")
    first, _, later = watch(con, m1="general", m2="technician")
    assert (first["member_id"], later["member_id"], later["kit_id"]) == (1, 2, None)
    assert (first["dark_h"], first["is_dark"]) == (0, False)
    assert later["dark_h"] == pytest.approx(first["kit_dark_h"]) == pytest.approx(5.5, abs=0.1)
    assert (first["has_licence"], later["has_licence"]) == (True, False)
    assert (first["ends"], first["until"]) == (pd.Timestamp(EVENING), pd.Timestamp(MIDNIGHT))


def test_hours_in_which_two_have_the_same_kit_count_once(con: duckdb.DuckDBPyConnection) -> None:
    noon_to_ten = "2027-03-20T22:00"
    post(
        con,
        (1, NOON, MIDNIGHT),
        (2, EVENING, noon_to_ten, 1),
        (3, EVENING, MIDNIGHT, None),
        (3, NOON, EVENING, None),
    )
    watch(con, m1="general", m2="general", m3="general")
    rows = con.execute(
        "select member_id, kit_id, need_h from post_kit where is_assigned order by member_id"
    ).fetchall()
    assert rows == [(1, 1, 12.0), (2, None, 4.0), (3, None, 12.0)]


def test_an_hour_of_darkness_counts_once_whoever_brings_the_kit_then(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, MIDNIGHT), (2, "2027-03-20T20:00", MIDNIGHT, 1), (1, EVENING, "2027-03-20T22:00"))
    first, *_ = watch(con, m1="general", m2="general")
    assert first["dark_h"] == first["kit_dark_h"] == pytest.approx(5.5, abs=0.1)


def test_a_kit_is_alone_where_one_of_those_who_bring_it_is(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, EVENING, 1), (2, NOON, EVENING, None), (3, EVENING, MIDNIGHT, 1))
    first, *_ = watch(con, m1="general", m2="general", m3="general")
    assert not first["is_alone"] and first["is_kit_alone"]


def test_who_brings_a_kit_has_one_row_there_for_all_their_turns(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, EVENING), (1, EVENING, MIDNIGHT, None), (2, NOON, MIDNIGHT), operators=2)
    first, *_ = watch(con, m1="general", m2="general")
    assert first["ends"] == pd.Timestamp(MIDNIGHT) and first["dark_h"] == pytest.approx(5.5, abs=0.1)
    assert first["kit_dark_h"] == 0


@pytest.mark.parametrize(
    ("asked", "limits", "policy", "found"),
    [
        ({"walk_km": 0.9}, {}, {}, ()),
        ({"walk_km": 5.5}, {"walk_limit_km": 6.0}, {}, ("walk", None, False)),
        ({"walk_km": 5.5}, {"walk_limit_km": 15.0}, {}, (None, None, False)),
        ({"walk_km": 5.5}, {"walk_limit_km": 15.0}, {"near_limit_share": 0.3}, ("walk", None, False)),
        ({"walk_km": 5.5}, {"walk_limit_km": 5.0}, {}, ("walk", None, True)),
        ({"walk_km": 5.5}, {}, {}, (None, "walk", False)),
        ({"walk_km": 5.5}, {}, {"short_walk_km": 6.0}, ()),
        ({"temp_min_c": -4.0}, {"cold_limit_c": -6.5}, {}, ("cold", None, False)),
        ({"temp_min_c": -4.0}, {"cold_limit_c": -7.5}, {}, (None, None, False)),
        ({"temp_min_c": 2.0}, {}, {}, ()),
        ({"temp_min_c": 2.0}, {}, {"hard_cold_c": 3.0}, (None, "cold", False)),
        ({"temp_min_c": 8.0}, {"cold_limit_c": 5.5}, {}, ("cold", None, False)),
        ({"temp_min_c": 8.0}, {"cold_limit_c": 5.0}, {}, ()),
        ({"temp_min_c": 8.0}, {"cold_limit_c": 10.0}, {}, ("cold", None, True)),
        ({"temp_min_c": 8.0, "walk_km": 0.9}, {"cold_limit_c": 5.5, "walk_limit_km": 1.0}, {}, ("cold, walk", None, False)),
        ({"temp_max_c": 23.0}, {"heat_limit_c": 25.0}, {}, ("heat", None, False)),
        ({"temp_max_c": 30.0}, {"heat_limit_c": 32.0}, {}, ("heat", None, False)),
        ({"temp_max_c": 30.0}, {"heat_limit_c": 32.0}, {"near_limit_c": 1.0}, (None, None, False)),
        ({"temp_max_c": 30.0, "walk_km": 5.5}, {"heat_limit_c": 29.0}, {}, ("heat", "walk", True)),
        ({"temp_max_c": 26.0}, {}, {}, ()),
        ({"temp_max_c": 26.0}, {}, {"hard_heat_c": 25.0}, (None, "heat", False)),
        ({"access": "walk"}, {"carry_limit_kg": 10.5}, {}, ("carry", None, False)),
        ({"access": "walk"}, {"carry_limit_kg": 10.7}, {}, ()),
        ({"access": "walk"}, {"carry_limit_kg": 8.4}, {}, ("carry", None, True)),
        ({"access": "walk"}, {}, {}, ()),
        ({"access": "drive"}, {"carry_limit_kg": 8.4}, {}, ()),
        ({"access": "carry", "walk_km": 9.5}, {"carry_limit_kg": 10.0, "walk_limit_km": 10.0}, {}, ("carry, walk", None, False)),
        ({"lat": 0.0}, {}, {}, (None, "dark", False)),
        ({"lat": 0.0}, {"night_ok": True}, {}, (None, None, False)),
        ({"lat": 0.0}, {"night_ok": False}, {}, ("dark", None, True)),
        ({"lat": 0.0}, {"night_ok": False}, {"least_dark_h": 6.0}, ()),
        ({"operators": 1}, {"solo_ok": False}, {}, ("alone", None, True)),
        ({"operators": 1, "walk_km": 5.5}, {}, {}, (None, "alone, walk", False)),
    ],
)  # fmt: skip
def test_what_is_hard_is_held_to_the_limits_of_a_member(
    con: duckdb.DuckDBPyConnection, asked: dict[str, Any], limits: dict[str, Any], policy: dict[str, float],
    found: tuple[Any, ...],
) -> None:  # fmt: skip
    of_event = {name: value for name, value in asked.items() if name in ("lat", "temp_min_c", "temp_max_c")}
    of_post = {name: value for name, value in asked.items() if name not in of_event}
    post(con, event={"lat": None} | of_event, **{"operators": 2} | of_post)
    assert hardship(con, limits, **policy) == found


def sent_without_a_kit() -> engine.Assessment:
    """A cold and hot event that asks for everything of its people: QB2D alone at a post and QC3F beside QA1B, both without a kit."""
    own = {
        "solo_ok": False,
        "night_ok": False,
        "walk_limit_km": 6.0,
        "cold_limit_c": -6.0,
        "heat_limit_c": 29.0,
    }
    return small_club.assess(
        inventory=small_club.kit("QA1B", "Bag", small_club.HANDHELD, small_club.PACK),
        members=[
            {"member": "QA1B", "roles": "net_control", "licence_class": "general"},
            {"member": "QB2D", "licence_class": "technician", "id_expires": pd.Timestamp("2027-04-24"), "radio_by_heart": False, **own},
            {"member": "QC3F", "roles": "field", "walk_limit_km": 15.0, "cold_limit_c": -20.0, "heat_limit_c": 40.0, "night_ok": True},
        ],
        events=[
            small_club.EVENT | {"ends": pd.Timestamp("2027-04-26 00:00"), "lat": 0.0, "lon": 0.0, "utc_offset_h": 0.0}
            | {"id_asked": True, "vetting_asked": True, "waiver_asked": True, "training_asked": "is100", "temp_min_c": -4.0, "temp_max_c": 30.0}
        ],
        posts=[
            {"event": "Ride", "post": name, "post_type": "net_control", "walk_km": 5.5, "access": "walk", "bands": "40m"}
            for name in ("Ford", "Mill")
        ],
        assignments=[
            {"event": "Ride", "post": "Ford", "member": "QB2D"},
            {"event": "Ride", "post": "Mill", "member": "QA1B", "kit": "Bag"},
            {"event": "Ride", "post": "Mill", "member": "QC3F"},
        ],
    )  # fmt: skip


def test_every_rule_on_a_person_judges_who_brings_no_kit_and_none_on_a_kit_does() -> None:
    told = sent_without_a_kit()
    rows = told.con.execute(
        "select distinct rule_no from judgement join post_kit on post_kit_id = subject_id "
        "where subject_kind = 'post_kit' and kit_id is null"
    ).fetchall()
    at_posts = {rule.name for rule in told.rules if rule.subject == "post_kit"}
    on_people = {rule.name for rule in told.rules if rule.subject == "post_kit" and rule.file == "members"}
    if_sent_again = {rule.name for rule in told.rules if rule.file == "assignments"}
    assert on_people | if_sent_again < at_posts
    judged = {told.rules[number].name for (number,) in rows}
    assert on_people | {"in_two_places_at_once"} <= judged <= on_people | if_sent_again


def test_what_is_found_of_who_brings_no_kit_is_said_of_them_and_counts_for_the_post() -> None:
    told = sent_without_a_kit()
    found = {f.rule: f for f in told.findings("s.member = 'QB2D' and s.post is not null and not ok")}
    assert found["no_identity_card"].sentence == (
        "Ride/Ford: the organiser asks for an identity card; QB2D's ends on 2027-04-24."
    )
    assert found["alone_against_the_members_wish"].lines == [3]
    for finding in found.values():
        assert (finding.subject_kind, finding.post, finding.kit) == ("post", "Ford", None)
        assert finding.file == ("assignments" if finding.family == "coverage" else "members")
        assert "None" not in finding.sentence + finding.fix and "not known" not in finding.sentence
    of_post = "select low from score join subject using (subject_kind, subject_id) where subject = 'Ride/Ford' and subject_kind = 'post'"
    with_them = told.con.execute(of_post).fetchall()
    told.con.execute("delete from judgement where subject_kind = 'post_kit'; delete from scored")
    engine.score(told.con, told.policy)
    assert told.con.execute(of_post).fetchall() != with_them


def test_the_picture_of_kits_at_posts_has_no_rows_for_who_brings_none() -> None:
    told = sent_without_a_kit()
    shown = by_kit.post_by_kit(told, "Ride")
    assert sorted(zip(shown["post"], shown["member"], shown["kit"], strict=True)) == [
        ("Ford", "QA1B", "Bag"),
        ("Mill", "QA1B", "Bag"),
    ]
    assert len(by_kit.answers(told.con)) == len(shown)


def taken_in_turn() -> engine.Assessment:
    """QA1B brings a kit to a post by day; QB2D, who does not wish to work in the dark, has it there by night."""
    evening = pd.Timestamp("2027-04-25 18:00")
    place = {"lat": 0.0, "lon": 0.0, "utc_offset_h": 0.0, "ends": pd.Timestamp("2027-04-26 00:00")}
    sent = {"event": "Ride", "post": "Ford", "kit": "Bag"}
    return small_club.assess(
        inventory=small_club.kit("QA1B", "Bag", small_club.HANDHELD | {"weight_kg": 9.0}, small_club.PACK | {"weight_kg": 0.1}),
        members=[
            {"member": "QA1B", "night_ok": True, "carry_limit_kg": 20.0, "licence_class": "general"},
            {"member": "QB2D", "night_ok": False, "carry_limit_kg": 6.0, "licence_class": "none"},
        ],
        events=[small_club.EVENT | place],
        posts=[{"event": "Ride", "post": "Ford", "post_type": "aid_station", "access": "walk", "rf_watts_min": 50.0, "bands": "2m"}],
        assignments=[
            sent | {"member": "QA1B", "to": evening},
            sent | {"member": "QB2D", "kit_owner": "QA1B", "from": evening},
        ],
    )  # fmt: skip


def test_who_has_a_kit_later_finds_on_their_list_what_is_said_of_them_and_of_the_kit() -> None:
    told = taken_in_turn()
    by_day, by_night = (printed.text(packing.packing(told, number)) for number in (1, 2))
    assert "QB2D has asked not to work in the dark" in by_night and "licence class (none)" in by_night
    assert "The post asks for 50 W" in by_night and "The post asks for 50 W" in by_day
    assert "in the dark" not in by_day and "licence class" not in by_day
    assert re.search(r"own limit\s+20\.0 kg", by_day) and re.search(r"own limit\s+6\.0 kg", by_night)


def test_go_or_no_go_holds_each_person_to_their_own_hours() -> None:
    said = printed.text(event_sheet.packet(taken_in_turn(), "Ride"))
    table = said[said.index("Go or no go") :]
    first, second = table.index("QA1B"), table.index("QB2D")
    assert "does not wish it" not in table[first:second] and "fine" not in table[first:second]
    assert "yes / does not wish it" in table[second:]
    without = printed.text(event_sheet.packet(sent_without_a_kit(), "Ride"))
    table = without[without.index("Go or no go") :]
    assert table.count("yes / does not wish it") == 2  # in the dark, and alone
    assert "yes / fine" in table[table.index("QC3F") :]


def test_what_one_does_first_may_be_of_a_post_to_which_one_brings_nothing() -> None:
    steps = next_steps(sent_without_a_kit(), "QB2D", count=20)
    first = steps[0]
    assert (first.subject_kind, first.post, first.severity) == ("post", "Ford", "blocks")
    assert {"no_identity_card", "alone_without_the_sign_off"} <= {f.rule for f in steps}


def test_a_post_is_remote_by_its_type_or_where_all_is_carried_there() -> None:
    told = small_club.assess(
        events=[small_club.EVENT],
        posts=[
            {"event": "Ride", "post": f"{kind} {access}", "post_type": kind, "access": access}
            for kind in ("remote", "aid_station")
            for access in ("drive", "walk", "carry", None)
        ],
    )
    rows = told.con.execute(
        "select post, is_remote from post where is_remote is distinct from false"
    ).fetchall()
    assert dict(rows) == dict.fromkeys(
        ("remote drive", "remote walk", "remote carry", "remote None", "aid_station carry"), True
    )


@pytest.mark.parametrize("club", [sent_without_a_kit, taken_in_turn])
def test_a_trial_that_changes_nothing_finds_what_stands_whoever_is_sent(
    club: Callable[[], engine.Assessment],
) -> None:
    told = club()
    on_posts = [number for number, rule in enumerate(told.rules) if rule.subject == "post"]
    stands = trials.standing(told, on_posts)
    tried = trials.judge(told, pd.DataFrame({"trial": [1], "kit_id": [1]}), trials.Changes(), on_posts)
    found, before = tried.keys(), stands.keys()
    assert all(isinstance(number, int) for key in before for number in key[2:])
    seen = {key[2] for key in found if key[1] == "post"}
    assert seen
    assert found == {key for key in before if key[1] not in ("post_kit", "post") or key[2] in seen}
    verdicts = [
        set(zip(one.verdicts["subject_kind"], one.verdicts["a"], one.verdicts["verdict"], strict=True))
        for one in (tried, stands)
    ]
    assert verdicts[0] <= verdicts[1]
