"""Who covers a post, what swaps there, how far people keep away, what wears out: small clubs known by thought."""

import math
from collections.abc import Iterator
from datetime import date
from typing import Any

import duckdb
import pandas as pd
import pytest

from data import reference
from rules import facts
from rules.facts import Fact, coverage, exposures, holdings, posts, swaps, ways
from rules.facts.select import Select
from rules.policy import Policy
from tests import small_club
from tests.tools import insert

TODAY = date(2027, 3, 1)
FOOT_M = 0.3048
FREE_W_M2 = 2.0
"""Limit for the public at 30 to 300 MHz: 0.2 mW/cm2. 47 CFR 1.1310(e)(1) Table 1."""


@pytest.fixture
def con() -> Iterator[duckdb.DuckDBPyConnection]:
    con = facts.blank()
    yield con
    con.close()


def worked(con: duckdb.DuckDBPyConnection, fact: Fact, policy: str = "") -> pd.DataFrame:
    """The table of a fact, what is not known as None; one that it fills beside is filled anew."""
    *beside, (_, rows) = fact(con, Policy.parse(policy), TODAY).items()
    for table, those in beside:
        con.execute(f"truncate {table}")
        facts.keep(con, table, those)
    frame = (
        con.execute(rows.sql, rows.values or None).df() if isinstance(rows, Select) else pd.DataFrame(rows)
    )
    return frame.astype(object).where(frame.notna(), None)


def replaced(con: duckdb.DuckDBPyConnection) -> list[dict[str, Any]]:
    """The rows of replacement by item, what is not known as None."""
    frame = con.table("replacement").order("item_id").df()
    return frame.astype(object).where(frame.notna(), None).to_dict("records")


def at(hour: float) -> str:
    return f"2027-04-25T{int(hour):02d}:{int(hour % 1 * 60):02d}"


def post(con: duckdb.DuckDBPyConnection, *shifts: tuple[float, float, int, int | None], **told: Any) -> None:
    """Post 1, open from 6 to 12; shifts as (from, to, member, kit)."""
    insert(con, "post", {"post_id": 1, "event_id": 1, "opens": at(6), "closes": at(12)} | told)
    send(con, *shifts)


def send(con: duckdb.DuckDBPyConnection, *shifts: tuple[float, float, int, int | None], to: int = 1) -> None:
    (last,) = con.execute("select coalesce(max(assignment_id), 0) from assignment").fetchone() or (0,)
    for number, (begin, end, member, kit) in enumerate(shifts, last + 1):
        row = {"assignment_id": number, "event_id": 1, "post_id": to, "member_id": member, "kit_id": kit}
        insert(con, "assignment", row | {"starts": at(begin), "ends": at(end)})


def covered(con: duckdb.DuckDBPyConnection, post_id: int = 1) -> dict[str, Any]:
    frame = worked(con, coverage.coverage)
    (row,) = frame[frame["post_id"] == post_id].to_dict("records")
    return row


def reach(con: duckdb.DuckDBPyConnection, kit: int, low: int, high: int) -> None:
    """A kit at post 1 that makes between `low` and `high` stations for it."""
    insert(con, "post_kit", {"post_kit_id": kit, "post_id": 1, "kit_id": kit})
    insert(con, "way", {"post_kit_id": kit, "stations_low": low, "stations_high": high})


def suit(con: duckdb.DuckDBPyConnection) -> None:
    """Work out anew what posts want and which radio suits them."""
    con.execute("delete from want; delete from suit")
    for table, rows in ways.suit(con, Policy.standard(), TODAY).items():
        facts.keep(con, table, rows)


def test_a_weight_that_nobody_told_is_assumed_and_one_that_the_kind_has_not_is_none() -> None:
    things = ({"kind": "handheld", "weight_kg": 0.3}, {"kind": "handheld"}, {"kind": "battery"})
    club = small_club.assess(
        inventory=[row for n, thing in enumerate(things) for row in small_club.kit(f"Q{n}AB", "bag", thing)]
    )
    found = club.table("holding")[["is_weight_known", "is_weight_assumed"]].to_numpy().tolist()
    assert found == [[True, False], [True, True], [False, False]]


def test_weights_are_summed_to_the_gram(con: duckdb.DuckDBPyConnection) -> None:
    """1.1 and 2.2 kg are 3.3 kg, which a limit of 3.3 kg allows; in binary fractions they are more."""
    insert(con, "kit", {"kit_id": 1}, {"kit_id": 2})
    insert(con, "item", *({"item_id": n, "kit_id": 1, "weight_kg": kg} for n, kg in enumerate((1.1, 2.2))))
    rows = worked(con, holdings.holding)
    assert rows[rows["kit_id"] == 1]["weight_kg"].tolist() == [3.3] != [1.1 + 2.2]


def test_what_is_faulty_weighs_until_it_is_taken_out(con: duckdb.DuckDBPyConnection) -> None:
    battery = {"kit_id": 1, "kind": "battery_lifepo4", "role": "source", "is_usable": False}
    insert(con, "kit", {"kit_id": 1})
    insert(con, "item", {"item_id": 1, "kit_id": 1, "kind": "handheld", "role": "radio", "weight_kg": 0.3})
    insert(con, "item", battery | {"item_id": 2, "weight_kg": 12.0, "condition": "faulty"})
    insert(con, "item", battery | {"item_id": 3, "condition": "removed"})
    (row,) = worked(con, holdings.holding).to_dict("records")
    assert (row["weight_kg"], row["is_weight_known"], row["batteries"], row["radios"]) == (12.3, True, 0, 1)


def test_a_kit_tells_its_heaviest_module_and_in_how_many_something_works(
    con: duckdb.DuckDBPyConnection,
) -> None:
    things = [
        ("power", 6.1, "ok"), ("power", 6.1, "ok"), ("radio", 10.0, "unknown"), ("case", 12.2, "faulty"), ("case", 0.001, "faulty"),
        ("mast", 40.0, "removed"),
    ]  # fmt: skip
    insert(con, "kit", {"kit_id": 1}, {"kit_id": 2}, {"kit_id": 3})
    for kit, some in ((1, things), (2, [("power", None, "ok"), ("radio", 1.0, "ok")])):
        for module, weight, condition in some:
            told = {"kit_id": kit, "module": module, "weight_kg": weight, "condition": condition}
            insert(con, "item", told | {"is_usable": condition in ("ok", "unknown")})
    rows = worked(con, holdings.holding).set_index("kit_id")[
        ["heaviest_module", "module_kg", "modules", "is_weight_known"]
    ]
    assert rows.loc[1].tolist() == ["case", 12.201, 2, True]
    assert rows.loc[2].tolist() == ["radio", 1.0, 2, False]
    assert rows.loc[3, ["heaviest_module", "modules", "is_weight_known"]].tolist() == [None, 0, True]


def test_what_was_tried_long_ago_is_no_step_of_the_ladder_and_no_run_on_battery(
    con: duckdb.DuckDBPyConnection,
) -> None:
    insert(con, "kit", {"kit_id": 1}, {"kit_id": 2})
    insert(
        con,
        "rehearsal",
        {"kit_id": 1, "date": "2009-06-01", "stage": "park", "hours_on_battery": 14.0},
        {"kit_id": 1, "date": "2026-06-01", "stage": "room", "hours_on_battery": 3.0},
    )
    insert(con, "rehearsal", {"kit_id": 2, "date": "2025-06-01", "stage": "park"})
    steps = worked(con, holdings.practice).set_index("kit_id")
    assert steps["ladder"].to_dict() == {1: 2, 2: 4}
    assert f"{steps.loc[1, 'last_rehearsed']:%Y}" == "2026"
    assert steps.loc[1, "longest_battery_h"] == 3.0
    insert(con, "rehearsal", {"kit_id": 1, "date": "2027-02-20", "stage": "bench"})
    steps = worked(con, holdings.practice).set_index("kit_id")
    assert [f"{steps.loc[1, last]:%Y}" for last in ("last_rehearsed", "last_set_up")] == ["2027", "2026"]
    insert(con, "rehearsal", {"kit_id": 1, "date": "2025-01-01", "stage": "yard", "trips_back": 0})
    assert pd.isna(worked(con, holdings.practice).set_index("kit_id").loc[1, "trips_back"]), (
        "of the last alone"
    )
    assert worked(con, holdings.practice, "[facts]\nladder_years = 1")["ladder"].tolist() == [2, 0]
    insert(
        con,
        "rehearsal",
        {"kit_id": 1, "date": "2027-02-20", "stage": "drill"},
        {"kit_id": 2, "date": "2027-02-20", "stage": "event"},
    )
    assert worked(con, holdings.practice)["ladder"].tolist() == [5, 7]


@pytest.mark.parametrize(("trips", "told"), [((0, 2), 2), ((2, 0), 2), ((1, 2), 3), ((0, None), None)])
def test_the_last_rehearsal_is_all_of_its_day(
    con: duckdb.DuckDBPyConnection, trips: tuple[int, int | None], told: int | None
) -> None:
    insert(con, "kit", {"kit_id": 1})
    for back in trips:
        insert(con, "rehearsal", {"kit_id": 1, "date": "2026-06-01", "stage": "yard", "trips_back": back})
    (found,) = worked(con, holdings.practice)["trips_back"]
    assert pd.isna(found) if told is None else found == told


def test_the_last_set_up_outdoors_that_was_timed_counts(con: duckdb.DuckDBPyConnection) -> None:
    insert(con, "kit", *({"kit_id": kit} for kit in (1, 2, 3)))
    insert(
        con,
        "rehearsal",
        {"kit_id": 1, "date": "2026-05-01", "stage": "yard", "setup_min": 50.0},
        {"kit_id": 1, "date": "2026-06-01", "stage": "park", "setup_min": 30.0},
        {"kit_id": 1, "date": "2026-07-01", "stage": "event"},
        {"kit_id": 1, "date": "2026-08-01", "stage": "bench", "setup_min": 5.0},
        {"kit_id": 2, "date": "2019-06-01", "stage": "park", "setup_min": 30.0},
        {"kit_id": 3, "date": "2026-06-01", "stage": "drill"},
    )
    told = worked(con, holdings.practice).set_index("kit_id")["setup_min"]
    assert told.dropna().to_dict() == {1: 30.0}


def test_two_kits_are_carried_to_the_gram(con: duckdb.DuckDBPyConnection) -> None:
    insert(con, "member", {"member_id": 1})
    for kit, weight in ((1, 1.1), (2, 2.2)):
        insert(con, "kit", {"kit_id": kit, "member_id": 1})
        insert(con, "holding", {"kit_id": kit, "weight_kg": weight, "is_weight_assumed": kit == 2})
    post(con, (6, 12, 1, 1), (6, 12, 1, 2), access="carry")
    found = worked(con, posts.post_kit)
    assert found["carried_kg"].tolist() == [3.3, 3.3]
    assert found["is_weight_assumed"].tolist() == [True, True]


def test_a_post_without_anyone_is_uncovered_while_it_is_open(con: duckdb.DuckDBPyConnection) -> None:
    post(con)
    row = covered(con)
    assert (row["uncovered_h"], row["people"], row["least_people"]) == (6.0, 0, 0)
    assert pd.Timestamp(row["first_gap"]) == pd.Timestamp(at(6))
    assert row["stations_low"] is row["longest_shift_h"] is row["longest_alone_h"] is None


def test_gaps_are_found_between_shifts_and_what_lies_outside_does_not_count(
    con: duckdb.DuckDBPyConnection,
) -> None:
    post(con, (5, 8, 1, None), (9.5, 13, 2, None), operators=2)
    row = covered(con)
    assert row["uncovered_h"] == 1.5
    assert row["short_h"] == 6.0
    assert pd.Timestamp(row["first_gap"]) == pd.Timestamp(at(8))
    assert pd.Timestamp(row["first_short"]) == pd.Timestamp(at(6))


def test_overlapping_shifts_leave_no_gap_and_one_person_counts_once(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (6, 9, 1, 1), (6, 9, 1, 2), (8.5, 12, 2, None))
    row = covered(con)
    assert (row["uncovered_h"], row["people"], row["least_people"]) == (0.0, 2, 1)


def test_somebody_is_alone_only_while_nobody_else_is_there(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (6, 12, 1, None), (8, 9, 2, None))
    assert covered(con)["longest_alone_h"] == 3.0


def test_whoever_goes_on_by_another_row_is_alone_all_the_while(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (6, 9, 1, None), (9, 12, 1, None))
    assert covered(con)["longest_alone_h"] == 6.0


def test_radios_on_a_band_of_the_post_are_counted_at_the_thinnest_hour(
    con: duckdb.DuckDBPyConnection,
) -> None:
    post(con, (6, 12, 1, 1), (8, 12, 2, 2), bands="2m 70cm")
    for kit in (1, 2):
        reach(con, kit, 0, 0)
    thing(con, 1, {"role": "radio", "bands": "2m", "quantity": 2})
    thing(con, 1, {"role": "radio", "bands": "40m"})
    thing(con, 1, {"role": "radio", "bands": "2m 70cm", "rf_watts": 0.0})
    thing(con, 1, {"role": "radio", "bands": "2m", "is_usable": False})
    thing(con, 1, {"role": "radio"})
    thing(con, 1, {"role": "radio", "bands": "2m", "condition": "unknown"})
    thing(con, 2, {"role": "radio", "bands": "70cm"})
    suit(con)
    row = covered(con)
    assert (row["radios_low"], row["radios_high"]) == (2, 4)
    con.execute("update post set bands = null")
    suit(con)
    assert covered(con)["radios_low"] == 4


def test_no_more_radios_are_counted_than_have_an_antenna_and_at_net_control_those_with_its_power(
    con: duckdb.DuckDBPyConnection,
) -> None:
    post(con, (6, 12, 1, 1), bands="2m")
    reach(con, 1, 1, 1)
    insert(con, "station", {"kit_id": 1, "stations_low": 1, "stations_high": 1})
    thing(con, 1, {"item_id": 11, "role": "radio", "bands": "2m", "rf_watts": 50.0, "quantity": 2})
    thing(con, 1, {"item_id": 12, "role": "radio", "bands": "2m", "rf_watts": 5.0, "rf_plug": "builtin"})
    thing(con, 1, {"item_id": 13, "role": "antenna", "bands": "2m"})
    thing(con, 1, {"item_id": 14, "role": "antenna", "bands": "70cm"})
    insert(con, "want", {"post_id": 1, "want_id": 1})
    for item, is_strong in ((11, True), (12, False)):
        insert(
            con,
            "suit",
            {"want_id": 1, "item_id": item, "kit_id": 1, "is_tuned": True, "is_strong": is_strong},
        )

    def radios() -> tuple[int, int]:
        row = covered(con)
        return row["radios_low"], row["radios_high"]

    assert radios() == (2, 2)
    thing(con, 1, {"item_id": 15, "role": "antenna", "bands": "2m", "condition": "unknown"})
    assert radios() == (2, 3)
    con.execute("update post set post_type = 'net_control'")
    assert radios() == (1, 2)


def test_a_shift_goes_on_at_the_next_post_and_ends_with_a_break(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (6, 10, 1, None), (11, 12, 1, None))
    insert(con, "post", {"post_id": 2, "event_id": 1, "opens": at(10), "closes": at(23)})
    send(con, (13, 17, 2, None), (17, 20, 2, None), to=2)
    assert covered(con)["longest_shift_h"] == 4.0
    assert covered(con, 2)["longest_shift_h"] == 7.0
    send(con, (10, 10.5, 1, None), to=2)
    assert covered(con)["longest_shift_h"] == 4.5


def test_a_shift_goes_on_at_another_event(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (6, 12, 1, None))
    insert(con, "post", {"post_id": 2, "event_id": 2, "opens": at(12), "closes": at(21)})
    row = {"assignment_id": 9, "event_id": 2, "post_id": 2, "member_id": 1, "starts": at(12), "ends": at(20)}
    insert(con, "assignment", row)
    assert covered(con)["longest_shift_h"] == covered(con, 2)["longest_shift_h"] == 14.0


def test_the_thinnest_hour_tells_the_stations(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (6, 12, 1, 1), (8, 12, 2, 2))
    reach(con, 1, 1, 2)
    reach(con, 2, 2, 2)
    row = covered(con)
    assert (row["stations_low"], row["stations_high"]) == (1, 2)


def test_a_kit_beside_helps_only_if_it_stays_all_the_while(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (6, 12, 1, 1), (6, 11, 2, 2))
    for kit, has in ((1, True), (2, False)):
        told = {"post_kit_id": kit, "post_id": 1, "kit_id": kit, "has_band": has, "has_mode": has}
        insert(con, "post_kit", told | {"has_watts": has})
        insert(con, "station", {"kit_id": kit, "stations_low": 1, "stations_high": 1})
    found = worked(con, coverage.beside).set_index("post_kit_id")
    assert bool(found["has_watts_beside"][2]) and bool(found["has_band_beside"][2])
    assert bool(found["has_mode_beside"][2])
    assert not found["has_watts_beside"][1]
    assert not found["has_band_beside"][1]
    assert not found["has_mode_beside"][1]


@pytest.mark.parametrize(("until", "helps"), [(9, True), (8, False)])
def test_kits_beside_may_take_turns(con: duckdb.DuckDBPyConnection, until: float, helps: bool) -> None:
    post(con, (6, 12, 1, 1), (6, until, 2, 2), (9, 12, 3, 3))
    for kit in (1, 2, 3):
        told = dict.fromkeys(("has_band", "has_mode", "has_watts"), kit > 1)
        insert(con, "post_kit", {"post_kit_id": kit, "post_id": 1, "kit_id": kit} | told)
        insert(con, "station", {"kit_id": kit, "stations_low": 1, "stations_high": 1})
    found = worked(con, coverage.beside).set_index("post_kit_id").loc[1]
    assert found.tolist() == [helps] * 3


def test_power_beside_helps_only_in_the_mode(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (6, 12, 1, 1), (6, 12, 2, 2))
    told = {"post_id": 1, "has_band": True, "has_watts": True, "has_mode": False}
    for kit in (1, 2):
        insert(con, "post_kit", {"post_kit_id": kit, "kit_id": kit} | told)
        insert(con, "station", {"kit_id": kit, "stations_low": 1, "stations_high": 1})
    found = worked(con, coverage.beside)
    assert found["has_band_beside"].all()
    assert not found["has_mode_beside"].any() and not found["has_watts_beside"].any()


@pytest.mark.parametrize(("low", "high", "helps"), [(1, 1, True), (0, 1, None), (0, 0, False)])
def test_a_kit_beside_helps_only_with_a_station(
    con: duckdb.DuckDBPyConnection, low: int, high: int, helps: bool | None
) -> None:
    post(con, (6, 12, 1, 1), (6, 12, 2, 2))
    for kit in (1, 2):
        has = dict.fromkeys(("has_band", "has_mode", "has_watts"), kit == 2)
        insert(con, "post_kit", {"post_kit_id": kit, "post_id": 1, "kit_id": kit} | has)
    insert(con, "station", {"kit_id": 2, "stations_low": low, "stations_high": high})
    found = worked(con, coverage.beside).set_index("post_kit_id").loc[1]
    assert found.tolist() == [helps] * 3


def mode_there(con: duckdb.DuckDBPyConnection, modes: str | None, *radios: dict[str, Any]) -> tuple[Any, ...]:
    """Whether a kit with these radios has the band and the mode of a post on 2 m, and its strongest radio there (W)."""
    for table in ("item", "post", "kit", "member", "holding"):
        con.execute(f"delete from {table}")
    insert(con, "member", {"member_id": 1})
    insert(con, "kit", {"kit_id": 1, "member_id": 1})
    insert(con, "holding", {"kit_id": 1})
    for told in radios:
        thing(con, 1, {"role": "radio", "bands": "2m 70cm"} | told)
    post(con, bands="2m", modes=modes)
    suit(con)
    (row,) = worked(con, posts.post_kit).to_dict("records")
    return row["has_band"], row["has_mode"], row["rf_watts"]


def test_a_kit_has_the_mode_where_one_radio_does_all_of_it(con: duckdb.DuckDBPyConnection) -> None:
    fm, data = {"modes": "fm", "rf_watts": 50.0}, {"modes": "fm packet", "rf_watts": 25.0}
    hf = {"modes": "ssb cw", "bands": "40m", "rf_watts": 100.0}
    assert mode_there(con, None, fm) == (True, True, 50.0)
    assert mode_there(con, "packet", fm) == (True, False, None)
    assert mode_there(con, "packet fm", fm, data) == (True, True, 25.0)
    assert mode_there(con, "fm cw", fm, hf) == (True, False, None)
    assert mode_there(con, "packet", fm, hf | {"modes": "packet"}) == (True, False, None)


def test_a_modem_or_tracker_of_the_kit_adds_its_modes(con: duckdb.DuckDBPyConnection) -> None:
    fm = {"modes": "fm", "rf_watts": 50.0}
    modem = {"role": "computer", "kind": "modem", "modes": "packet", "bands": None}
    tracker = {"role": "computer", "kind": "tracker", "modes": "position"}
    assert mode_there(con, "packet fm", fm, modem) == (True, True, 50.0)
    assert mode_there(con, "packet", fm, modem | {"is_usable": False}) == (True, False, None)
    doubtful = modem | {"condition": "unknown"}
    assert mode_there(con, "packet", fm, doubtful) == (True, None, 50.0)
    assert mode_there(con, "fm", fm, doubtful) == (True, True, 50.0)
    assert mode_there(con, "fm packet position", fm, modem, tracker) == (True, True, 50.0)


def test_modes_not_told_leave_open_whether_a_kit_has_them(con: duckdb.DuckDBPyConnection) -> None:
    assert mode_there(con, "packet", {}) == (True, None, None)
    assert mode_there(con, "packet", {}, {"modes": "packet"}) == (True, True, None)
    assert mode_there(con, "packet", {"bands": "40m"}) == (False, False, None)
    assert mode_there(con, "packet", {"bands": None, "modes": "packet"}) == (None, None, None)
    assert mode_there(con, "packet", {"bands": None, "modes": "fm"}) == (None, False, None)


def test_speech_on_a_single_sideband_is_one_mode_processed_or_not(con: duckdb.DuckDBPyConnection) -> None:
    assert mode_there(con, "ssb_processed", {"modes": "ssb"})[1]
    assert mode_there(con, "ssb", {"modes": "ssb_processed cw"})[1]


RADIO = {"kind": "mobile_vhf_uhf", "role": "radio", "bands": "2m 70cm", "volts_min": 11.7, "volts_max": 15.9}
BATTERY = {
    "kind": "battery_lifepo4",
    "role": "source",
    "chemistry": "lifepo4",
    "volts_min": 12.0,
    "volts_max": 14.4,
}
ANTENNA = {"kind": "jpole", "role": "antenna", "bands": "2m 70cm"}
COAX = {"kind": "coax", "role": "coax", "rf_plug": "pl259", "rf_plug_far": "pl259"}
CLUB = "genderless_30"


def thing(con: duckdb.DuckDBPyConnection, kit: int, told: dict[str, Any], **more: Any) -> int:
    (number,) = con.execute("select count(*) + 1 from item").fetchone() or (1,)
    insert(con, "item", {"item_id": number, "kit_id": kit, "line": number, "item": "thing"} | told | more)
    return int(number)


def meet(con: duckdb.DuckDBPyConnection, plugs: dict[int, str | None], is_handheld: bool = False) -> None:
    """Two kits at a post, each with radio, battery, antenna and coax; their DC plugs by kit."""
    for kit, plug in plugs.items():
        radio = thing(
            con, kit, RADIO, dc_plug=plug, rf_plug="so239", **({"kind": "handheld"} if is_handheld else {})
        )
        told = {"supply_id": kit, "kit_id": kit, "radio_item_id": radio, "is_main": True}
        insert(con, "supply", told | {"is_handheld": is_handheld})
        thing(con, kit, BATTERY, dc_plug=plug)
        thing(con, kit, ANTENNA, rf_plug="so239")
        thing(con, kit, COAX)
    if not con.execute("from post").fetchall():
        post(con, *((6, 12, kit, kit) for kit in plugs))


def swapped(con: duckdb.DuckDBPyConnection) -> dict[tuple[int, int], tuple[bool | None, bool | None]]:
    """Power and antenna fit by (from, to)."""
    rows = worked(con, swaps.swap).to_dict("records")
    return {
        (row["from_kit_id"], row["to_kit_id"]): (row["has_power_fit"], row["has_antenna_fit"]) for row in rows
    }


def test_kits_on_one_plug_swap_both_ways(con: duckdb.DuckDBPyConnection) -> None:
    meet(con, {1: CLUB, 2: "genderless_15"})
    assert swapped(con) == {(1, 2): (True, True), (2, 1): (True, True)}


def test_a_strange_plug_needs_a_lead_and_the_lead_may_lie_in_either_kit(
    con: duckdb.DuckDBPyConnection,
) -> None:
    meet(con, {1: CLUB, 2: "xt60_female"})
    assert swapped(con)[1, 2] == (False, True)
    thing(con, 2, {"kind": "dc_adapter", "role": "lead"}, dc_plug="xt60_male", dc_plug_far=CLUB)
    assert swapped(con) == {(1, 2): (True, True), (2, 1): (True, True)}


def test_two_leads_in_a_row_make_a_way(con: duckdb.DuckDBPyConnection) -> None:
    meet(con, {1: CLUB, 2: "xt60_female"})
    thing(con, 1, {"kind": "dc_lead", "role": "lead"}, dc_plug=CLUB, dc_plug_far="t_plug_male")
    thing(con, 2, {"kind": "dc_adapter", "role": "lead"}, dc_plug="t_plug_female", dc_plug_far="xt60_male")
    assert swapped(con)[1, 2] == (True, True)


def test_what_does_not_carry_the_current_of_the_radio_is_no_way(con: duckdb.DuckDBPyConnection) -> None:
    meet(con, {1: CLUB, 2: "xt60_female"})
    adapter = thing(con, 2, {"kind": "dc_adapter", "role": "lead"}, dc_plug="xt60_male", dc_plug_far=CLUB)
    con.execute("update item set amps_tx = 22 where role = 'radio' and kit_id = 2")
    for element in ("role = 'source' and kit_id = 1", f"item_id = {adapter}"):
        con.execute(f"update item set amps_rated = 10 where {element}")
        assert swapped(con)[1, 2] == (False, True)
        con.execute(f"update item set amps_rated = 30 where {element}")
    assert swapped(con)[1, 2] == (True, True)


def test_a_battery_too_weak_is_none_before_a_converter_either(con: duckdb.DuckDBPyConnection) -> None:
    meet(con, {1: CLUB, 2: CLUB})
    booster = {"kind": "boost_converter", "role": "converter", "volts_min": 13.8, "volts_max": 13.8}
    number = thing(con, 2, booster, dc_plug=CLUB, dc_plug_far=CLUB, amps_rated=25)
    con.execute("update item set amps_tx = 22 where role = 'radio' and kit_id = 2")
    con.execute("update item set amps_rated = 5 where role = 'source' and kit_id = 1")
    assert swapped(con)[1, 2] == (False, True)
    con.execute("update item set amps_rated = null, volts_min = 9, volts_max = 11 where role = 'source'")
    assert swapped(con)[1, 2] == (True, True)
    con.execute(f"update item set amps_rated = 10 where item_id = {number}")
    assert swapped(con)[1, 2] == (False, True)


def test_a_plug_not_told_leaves_the_swap_open(con: duckdb.DuckDBPyConnection) -> None:
    meet(con, {1: CLUB, 2: None})
    assert swapped(con)[1, 2] == (None, True)


def test_a_lead_not_told_leaves_the_swap_open(con: duckdb.DuckDBPyConnection) -> None:
    meet(con, {1: CLUB, 2: "xt60_female"})
    thing(con, 2, {"kind": "dc_adapter", "role": "lead"})
    assert swapped(con)[1, 2] == (None, True)


def test_a_swap_that_stands_on_a_thing_that_may_not_work_is_not_known(
    con: duckdb.DuckDBPyConnection,
) -> None:
    def doubt(which: str, condition: str = "unknown") -> None:
        con.execute(f"update item set condition = '{condition}' where {which}")

    meet(con, {1: CLUB, 2: "xt60_female"})
    adapter = {"kind": "dc_adapter", "role": "lead"}
    number = thing(con, 2, adapter, dc_plug="xt60_male", dc_plug_far=CLUB)
    for which, answer in (
        ("role = 'source' and kit_id = 1", (None, True)),
        (f"item_id = {number}", (None, True)),
        ("role = 'antenna' and kit_id = 1", (True, None)),
        ("role = 'coax'", (True, None)),
        ("role = 'coax' and kit_id = 1", (True, True)),
        ("role = 'source' and kit_id = 2", (True, True)),
    ):
        doubt(which)
        assert swapped(con)[1, 2] == answer, which
        named = worked(con, swaps.swap).set_index("from_kit_id").loc[1, ["power_doubt", "antenna_doubt"]]
        of = [
            row for (row,) in con.execute("select item_id from item where condition = 'unknown'").fetchall()
        ]
        for one, is_fit in zip(named, answer, strict=True):
            assert one in of if is_fit is None else pd.isna(one), which
        doubt(which, "ok")
    doubt(f"item_id = {number}")
    thing(con, 1, adapter, dc_plug="xt60_male", dc_plug_far=CLUB)
    assert swapped(con)[1, 2] == (True, True)
    con.execute("update item set dc_plug_far = 'j563_male' where kind = 'dc_adapter'")
    assert swapped(con)[1, 2] == (False, True)


def test_a_battery_of_another_voltage_does_not_run_the_radio(con: duckdb.DuckDBPyConnection) -> None:
    meet(con, {1: CLUB, 2: CLUB})
    con.execute("update item set volts_min = 24, volts_max = 29 where role = 'source' and kit_id = 1")
    assert swapped(con) == {(1, 2): (False, True), (2, 1): (True, True)}


def test_no_power_is_asked_of_a_kit_without_a_battery_nor_of_a_battery_for_a_handheld(
    con: duckdb.DuckDBPyConnection,
) -> None:
    meet(con, {1: CLUB, 2: CLUB}, is_handheld=True)
    frame = worked(con, swaps.swap)
    assert not frame["is_power_asked"].any()
    assert frame["is_antenna_asked"].all()


PACK = {"kind": "handheld_pack", "role": "pack", "chemistry": "li_ion", "dc_plug": "pack_latch"}
LATCH = "pack_latch"


@pytest.mark.parametrize(
    ("of_radio", "of_pack", "fits"),
    [
        ("red", "red", True),
        ("red", "Red ", True),
        ("red", "blue", False),
        (None, "red", None),
        ("red", None, None),
    ],
)
def test_a_pack_fits_a_handheld_of_its_own_family_alone(
    con: duckdb.DuckDBPyConnection, of_radio: str | None, of_pack: str | None, fits: bool | None
) -> None:
    meet(con, {1: LATCH, 2: LATCH}, is_handheld=True)
    con.execute("delete from item where role = 'source'")
    con.execute("update item set pack_family = ? where role = 'radio'", [of_radio])
    thing(con, 1, PACK, pack_family=of_pack)
    frame = worked(con, swaps.swap).set_index("from_kit_id")
    assert frame["is_power_asked"].tolist() == [True, False]
    assert frame["has_power_fit"][1] is fits


def test_any_of_several_packs_will_do(con: duckdb.DuckDBPyConnection) -> None:
    meet(con, {1: LATCH, 2: LATCH}, is_handheld=True)
    con.execute("update item set pack_family = 'red' where role = 'radio'")
    thing(con, 1, PACK, pack_family="blue")
    thing(con, 1, PACK, pack_family="red")
    assert swapped(con)[1, 2][0] is True


@pytest.mark.parametrize(
    ("holder", "plug", "family", "asked", "fits"),
    [
        (2, CLUB, "red", True, True),
        (2, CLUB, None, True, True),
        (2, None, "red", True, None),
        (2, CLUB, "blue", False, None),
        (1, CLUB, "red", True, True),
        (1, CLUB, None, True, None),
    ],
)
def test_an_eliminator_lets_a_battery_run_a_handheld(
    con: duckdb.DuckDBPyConnection,
    holder: int,
    plug: str | None,
    family: str | None,
    asked: bool,
    fits: bool | None,
) -> None:
    meet(con, {1: CLUB, 2: CLUB}, is_handheld=True)
    con.execute("update item set dc_plug = 'pack_latch', pack_family = 'red' where role = 'radio'")
    lead = {
        "kind": "handheld_dc_lead",
        "role": "converter",
        "dc_plug_far": LATCH,
        "volts_min": 7.4,
        "volts_max": 8.4,
    }
    thing(con, holder, lead, dc_plug=plug, pack_family=family)
    frame = worked(con, swaps.swap).set_index("from_kit_id")
    assert frame["is_power_asked"][1] is asked
    assert frame["has_power_fit"][1] is fits


def test_a_converter_gives_another_voltage_what_the_radio_takes(con: duckdb.DuckDBPyConnection) -> None:
    meet(con, {1: CLUB, 2: CLUB})
    con.execute("update item set volts_min = 24, volts_max = 29 where role = 'source' and kit_id = 1")
    buck = {"kind": "buck_converter", "role": "converter", "dc_plug": CLUB, "dc_plug_far": CLUB}
    number = thing(con, 2, buck, volts_min=13.8, volts_max=13.8)
    assert swapped(con)[1, 2] == (True, True)
    con.execute("update item set volts_min = 5, volts_max = 5 where item_id = ?", [number])
    assert swapped(con)[1, 2] == (False, True)
    con.execute(
        "update item set volts_min = 13.8, volts_max = 13.8, dc_plug_far = null where item_id = ?", [number]
    )
    assert swapped(con)[1, 2] == (None, True)


def test_before_a_converter_a_swap_carries_what_that_takes_in(con: duckdb.DuckDBPyConnection) -> None:
    """20 A at 13.8 V are nine tenths of 25.8 A at 11.9 V and of 11.6 A at 26.4 V."""
    given = {
        "kind": "boost_converter",
        "role": "converter",
        "volts_min": 13.8,
        "volts_max": 13.8,
        "amps_rated": 25.0,
    }
    meet(con, {1: "xt60_male", 2: CLUB})
    con.execute("delete from item where role = 'source' and kit_id = 2")
    con.execute(
        "update item set amps_tx = 20, volts_min = 11.7, volts_max = 15.9 where role = 'radio' and kit_id = 2"
    )
    thing(con, 2, given, dc_plug="xt60_female", dc_plug_far=CLUB)

    def fits(battery: tuple[float, float, float], kind: str = "boost_converter") -> bool | None:
        con.execute(
            "update item set volts_min = ?, volts_max = ?, amps_rated = ? where role = 'source'", battery
        )
        con.execute("update item set kind = ? where role = 'converter'", [kind])
        return swapped(con)[1, 2][0]

    assert fits((11.0, 12.8, 30.0)) is True
    assert fits((11.0, 12.8, 22.0)) is False, "it carries the radio's current and not the booster's"
    assert fits((24.0, 28.8, 30.0)) is False, "a booster takes no 24 V"
    assert fits((24.0, 28.8, 12.0), "buck_converter") is True
    assert fits((24.0, 28.8, 11.0), "buck_converter") is False
    assert fits((11.0, 12.8, 30.0), "buck_converter") is False
    con.execute("update item set dc_plug = 't_plug_male' where role = 'source'")
    lead = thing(
        con, 2, {"kind": "dc_lead", "role": "lead"}, dc_plug="t_plug_female", dc_plug_far="xt60_male"
    )
    for amps, fit in ((30.0, True), (22.0, False)):
        con.execute("update item set amps_rated = ? where item_id = ?", [amps, lead])
        assert fits((11.0, 12.8, 30.0)) is fit


def test_an_antenna_of_another_band_or_plug_does_not_fit(con: duckdb.DuckDBPyConnection) -> None:
    meet(con, {1: CLUB, 2: CLUB})
    con.execute("update item set bands = '40m' where role = 'antenna' and kit_id = 1")
    con.execute("update item set rf_plug = 'n_female' where role = 'antenna' and kit_id = 2")
    assert swapped(con) == {(1, 2): (True, False), (2, 1): (True, False)}
    thing(con, 1, {"kind": "rf_adapter", "role": "rf_adapter"}, rf_plug="n_male", rf_plug_far="so239")
    assert swapped(con)[2, 1] == (True, True)


def test_kits_that_never_meet_are_not_asked_to_swap(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (6, 8, 1, 1), (8, 10, 2, 2), (10, 12, 3, 3))
    meet(con, {1: CLUB, 2: CLUB, 3: CLUB})
    assert set(swapped(con)) == {(1, 2), (2, 1), (2, 3), (3, 2)}


def station(con: duckdb.DuckDBPyConnection, told: dict[str, Any] | None = None, **of_post: Any) -> None:
    """A 50 W mobile at post 1."""
    thing(con, 1, RADIO | {"rf_watts": 50.0, "modes": "fm"} | (told or {}))
    post(con, **{"tx_share": 0.1} | of_post)
    insert(con, "post_kit", {"post_kit_id": 1, "post_id": 1, "kit_id": 1})


def exposed(con: duckdb.DuckDBPyConnection, policy: str = "") -> dict[str, Any]:
    worked(con, holdings.holding)
    (row,) = worked(con, exposures.exposure, policy).to_dict("records")
    return row


def test_a_50_w_mobile_asks_for_six_to_seven_feet(con: duckdb.DuckDBPyConnection) -> None:
    """The published emergency-use calculation for 50 W mobiles: 6 to 7 ft from any part of the antenna."""
    station(con)
    thing(con, 1, ANTENNA | {"kind": "mag_mount", "gain_dbi": 2.15})
    assert 6 * FOOT_M < exposed(con)["public_safe_m"] < 7 * FOOT_M


def test_distance_is_that_of_the_density_at_half_the_power(con: duckdb.DuckDBPyConnection) -> None:
    station(con)
    row = exposed(con)
    assert row["public_safe_m"] == pytest.approx(math.sqrt(2.56 * 25 / (4 * math.pi * FREE_W_M2)))
    assert row["near_m"] == pytest.approx(299.792458 / 144 / (2 * math.pi))


@pytest.mark.parametrize(
    ("band", "limit_w_m2"), [("80m", 10 * 180 / 4.0**2), ("2m", FREE_W_M2), ("70cm", 10 * 420 / 1500)]
)
def test_a_band_counts_where_its_limit_is_strictest(
    con: duckdb.DuckDBPyConnection, band: str, limit_w_m2: float
) -> None:
    """47 CFR 1.1310 Table 1, the public: 180/f2 mW/cm2 up to 30 MHz, 0.2 up to 300, f/1500 up to 1,500."""
    station(con, {"bands": band}, bands=band)
    density = math.sqrt(2.56 * 25 / (4 * math.pi * limit_w_m2))
    assert exposed(con)["public_safe_m"] == pytest.approx(density)


@pytest.mark.parametrize(("bands", "nearest_mhz"), [("80m", 3.5), ("80m 20m", 3.5), ("20m", 14.0)])
def test_a_band_more_does_not_make_the_near_field_of_the_longest_wave_known(
    con: duckdb.DuckDBPyConnection, bands: str, nearest_mhz: float
) -> None:
    told = {"bands": "80m 20m", "rf_watts": 100.0, "modes": "ssb"}
    station(con, told, bands=bands)
    assert exposed(con)["near_m"] == pytest.approx(299.792458 / nearest_mhz / (2 * math.pi))


def test_the_crew_may_stand_nearer_than_the_public(con: duckdb.DuckDBPyConnection) -> None:
    station(con)
    row = exposed(con)
    assert 0 < row["crew_safe_m"] < row["public_safe_m"]


def test_the_antenna_that_radiates_most_counts(con: duckdb.DuckDBPyConnection) -> None:
    station(con, bands="2m")
    thing(con, 1, ANTENNA | {"gain_dbi": 7.0})
    thing(con, 1, ANTENNA | {"kind": "mag_mount", "gain_dbi": 2.0})
    assert exposed(con)["gain_dbi"] == 7.0
    thing(con, 1, COAX | {"coax": "rg58", "length_m": 60.0})
    row = exposed(con)
    assert (row["gain_dbi"], row["loss_db"]) == (2.0, 0.0)


def test_only_the_bands_of_the_post_count_else_all_of_the_radio(con: duckdb.DuckDBPyConnection) -> None:
    station(con, bands="70cm")
    assert exposed(con)["band"] == "70cm"
    con.execute("update post set bands = null")
    assert exposed(con)["band"] == "2m"
    con.execute("update post set bands = '40m'")
    assert worked(con, exposures.exposure).empty


def test_speech_on_a_single_sideband_asks_for_less(con: duckdb.DuckDBPyConnection) -> None:
    station(con)
    fm = exposed(con)["public_safe_m"]
    con.execute("update post set modes = 'ssb'")
    assert exposed(con)["public_safe_m"] == pytest.approx(fm * math.sqrt(0.2))


def test_a_post_that_talks_more_than_it_listens_asks_for_more(con: duckdb.DuckDBPyConnection) -> None:
    station(con, tx_share=1.0)
    always = exposed(con)["public_safe_m"]
    con.execute("update post set tx_share = 0.1")
    assert exposed(con)["public_safe_m"] == pytest.approx(always / math.sqrt(2))


def test_a_club_says_how_much_is_talked_in_the_worst_half_hour(con: duckdb.DuckDBPyConnection) -> None:
    station(con)
    usual = exposed(con)["public_safe_m"]
    assert exposed(con, "[facts]\nworst_tx_share = 1\n")["public_safe_m"] == pytest.approx(
        usual * math.sqrt(2)
    )
    assert exposed(con, "[facts]\ntalk_period_min = 60\n")["public_safe_m"] == pytest.approx(
        usual * math.sqrt(2)
    )


def test_a_club_says_what_whoever_has_set_no_limit_carries(con: duckdb.DuckDBPyConnection) -> None:
    post(con, access="carry")
    insert(con, "member", {"member_id": 1})
    insert(con, "kit", {"kit_id": 1, "member_id": 1})
    insert(con, "holding", {"kit_id": 1, "weight_kg": 5.0})
    (usual,), (own,) = (
        worked(con, posts.post_kit, policy)["carry_limit_kg"] for policy in ("", "[facts]\nday_load_kg = 9\n")
    )
    assert (usual, own) == (6.8, 9.0)


@pytest.mark.parametrize(
    ("begin", "end", "asked"),
    [("04-24T18", "04-25T06", 13.6), ("04-24T22", "04-25T02", 6.8), ("04-25T04", "04-25T23", 6.8)],
)
def test_over_the_night_more_is_carried(
    con: duckdb.DuckDBPyConnection, begin: str, end: str, asked: float
) -> None:
    hours = {"opens": f"2027-{begin}:00", "closes": f"2027-{end}:00"}
    post(con, access="carry", **hours)
    insert(con, "member", {"member_id": 1})
    insert(con, "kit", {"kit_id": 1, "member_id": 1})
    insert(con, "holding", {"kit_id": 1, "weight_kg": 5.0})
    assert worked(con, posts.post_kit)["carry_limit_kg"].tolist() == [asked]
    told = {"assignment_id": 1, "post_id": 1, "member_id": 1, "kit_id": 1}
    insert(con, "assignment", told | {"starts": hours["opens"], "ends": "2027-04-25T05:00"})
    assert worked(con, posts.post_kit)["carry_limit_kg"].tolist() == [13.6 if begin < "04-25" else 6.8]


@pytest.mark.parametrize(
    ("stays", "asked"),
    [
        ([(1, "24T18", "25T01"), (1, "25T01", "25T06")], 13.6),
        ([(1, "24T18", "25T06"), (2, "25T06", "25T14")], 6.8),
        ([(1, "24T06", "24T18"), (1, "25T06", "25T14")], 6.8),
    ],
    ids=["a night told as two halves", "somebody else by day", "at home for the night"],
)
def test_a_nights_load_is_for_who_stays_over_the_night(
    con: duckdb.DuckDBPyConnection, stays: list[tuple[int, str, str]], asked: float
) -> None:
    post(con, access="carry", opens="2027-04-24T06:00", closes="2027-04-25T14:00")
    insert(con, "member", *({"member_id": member} for member in (1, 2)))
    insert(con, "kit", {"kit_id": 1, "member_id": 1})
    insert(con, "holding", {"kit_id": 1, "weight_kg": 5.0})
    for number, (member, starts, ends) in enumerate(stays, 1):
        told = {"assignment_id": number, "post_id": 1, "member_id": member, "kit_id": 1}
        insert(con, "assignment", told | {"starts": f"2027-04-{starts}:00", "ends": f"2027-04-{ends}:00"})
    assert worked(con, posts.post_kit)["carry_limit_kg"].dropna().tolist() == [asked]


@pytest.mark.parametrize(
    ("post_type", "access", "is_carried"),
    [
        ("shadow", None, True),
        ("shadow", "drive", True),
        ("sweep", "4x4", True),
        ("remote", None, True),
        ("remote", "4x4", False),
        ("aid_station", None, False),
        ("aid_station", "walk", True),
    ],
)
def test_what_is_brought_to_a_post_that_is_held_or_reached_on_foot_is_carried(
    post_type: str, access: str | None, is_carried: bool
) -> None:
    radio = {"item": "radio", "kind": "mobile_vhf_uhf", "weight_kg": 33.0}
    club = small_club.assess(
        inventory=[radio | {"member": "QA1BC", "kit": "box"}],
        members=[{"member": "QA1BC", "carry_limit_kg": 5.0}],
        events=[small_club.EVENT],
        posts=[{"event": "Ride", "post": "Ford", "post_type": post_type, "access": access}],
        assignments=[{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "box"}],
    )
    answers = {one.status for one in club.answers("far_too_heavy_to_carry")}
    assert answers == ({"not met"} if is_carried else set())


@pytest.mark.parametrize(
    ("limits", "carrier", "asked"),
    [
        ((20, 5), 2, 5),
        ((5, 20), 1, 5),
        ((20, None), 2, 6.8),
        ((5, None), 1, 5),
        ((None, 9), 2, 9),
        ((9, None), 1, 9),
    ],
)
def test_of_those_who_bring_a_kit_in_turn_whoever_can_carry_least_is_asked(
    con: duckdb.DuckDBPyConnection, limits: tuple[float | None, ...], carrier: int, asked: float
) -> None:
    post(con, (6, 10, 1, 1), (10, 12, 2, 1), access="walk")
    for member, limit in enumerate(limits, 1):
        insert(con, "member", {"member_id": member, "carry_limit_kg": limit})
    insert(con, "kit", {"kit_id": 1, "member_id": 1})
    insert(con, "holding", {"kit_id": 1, "weight_kg": 18.0})
    (row,) = worked(con, posts.post_kit).query("kit_id == 1").to_dict("records")
    assert (row["member_id"], row["carrier_id"], row["carry_limit_kg"]) == (1, carrier, asked)


@pytest.mark.parametrize(
    ("limits", "module", "carrier", "carriers", "asked"),
    [
        ((7, 9), 9.0, 1, 2, 16), ((9, 7), None, 2, 2, 16), ((7, 9), 9.5, 2, None, 9),
        ((7, None), 6.0, 2, 2, 13.8), ((9, None), 9.5, 1, None, 9),
    ],
)  # fmt: skip
def test_several_who_bring_a_kit_for_the_same_hours_share_its_load(
    con: duckdb.DuckDBPyConnection,
    limits: tuple[float | None, ...],
    module: float | None,
    carrier: int,
    carriers: int | None,
    asked: float,
) -> None:
    """Unless the heaviest module is too much for the strongest; a third who brings it later can carry more."""
    post(con, (6, 10, 1, 1), (6, 10, 2, 1), (6, 10, 2, 1), (10, 12, 3, 1), access="walk")
    for member, limit in enumerate((*limits, 30), 1):
        insert(con, "member", {"member_id": member, "carry_limit_kg": limit})
    insert(con, "kit", {"kit_id": 1, "member_id": 1})
    insert(con, "holding", {"kit_id": 1, "weight_kg": 12.0, "module_kg": module})
    (row,) = worked(con, posts.post_kit).query("kit_id == 1").astype(object).to_dict("records")
    assert row["member_id"] == 1
    assert (row["carrier_id"], row["carry_limit_kg"]) == (carrier, pytest.approx(asked))
    assert row["carriers"] == carriers or (carriers is None and pd.isna(row["carriers"]))
    con.execute("update member set carry_limit_kg = 5 where member_id = 3")
    (row,) = worked(con, posts.post_kit).query("kit_id == 1").to_dict("records")
    assert (row["carrier_id"], row["carry_limit_kg"]) == (3, 5)
    con.execute("update member set carry_limit_kg = 30 where member_id = 3")
    con.execute("update post set carry_limit_kg = 6")
    assert worked(con, posts.post_kit)["carry_limit_kg"].max() == 6
    con.execute("delete from assignment where member_id = 3")
    is_shared = module is None or module <= 6
    assert worked(con, posts.post_kit)["carry_limit_kg"].max() == 6 * (1 + is_shared), "6 kg for each of them"


def test_a_kit_that_another_helps_to_carry_is_weighed_with_the_other_kits_of_both(
    con: duckdb.DuckDBPyConnection,
) -> None:
    """Members 1 and 2 bring kit 1; kit 2 is brought by 1 alone and kit 3 by 2 alone."""
    post(con, (6, 9, 1, 1), (6, 9, 2, 1), (6, 9, 1, 2), (6, 9, 2, 3), access="walk")
    for member in (1, 2):
        insert(con, "member", {"member_id": member, "carry_limit_kg": 7.0})
    for kit in (1, 2, 3):
        insert(con, "kit", {"kit_id": kit, "member_id": 1})
        insert(con, "holding", {"kit_id": kit, "weight_kg": float(2**kit)})
    rows = worked(con, posts.post_kit).set_index("kit_id")[["weighed_kg", "carry_limit_kg"]]
    assert rows.loc[[1, 2, 3]].values.tolist() == [[14.0, 14.0], [4.0, 7.0], [8.0, 7.0]]


def test_who_brings_several_kits_at_once_carries_them_all(con: duckdb.DuckDBPyConnection) -> None:
    """Member 1 brings kits 1 and 2 at once and kit 3 in the evening; member 2 brings kit 4 and takes over kit 1, to carry out."""
    shifts = ((6, 9, 1, 1), (7, 9, 1, 2), (10, 12, 1, 3), (9, 12, 2, 1), (9, 12, 2, 4))
    post(con, *shifts, access="walk")
    for member in (1, 2):
        insert(con, "member", {"member_id": member})
    for kit in (1, 2, 3, 4):
        insert(con, "kit", {"kit_id": kit, "member_id": 1 if kit < 4 else 2})
        insert(con, "holding", {"kit_id": kit, "weight_kg": float(kit), "is_weight_known": kit != 2})
    rows = worked(con, posts.post_kit).set_index("kit_id")[["weighed_kg", "carried_kg", "carried_kits"]]
    assert rows.loc[[1, 2]].values.tolist() == [[3.0, None, 2]] * 2
    assert rows.loc[[3, 4]].values.tolist() == [[3.0, 3.0, None], [5.0, 5.0, 2]]
    con.execute("update member set carry_limit_kg = 5 where member_id = 2")
    rows = worked(con, posts.post_kit).set_index("kit_id")[["weighed_kg", "carrier_id", "carry_limit_kg"]]
    assert rows.loc[[1, 4]].values.tolist() == [[5.0, 2, 5.0]] * 2, (
        "of those in turn the one who can carry least"
    )


def test_the_dark_hours_of_an_event_take_its_place_and_hours_from_utc(con: duckdb.DuckDBPyConnection) -> None:
    """At the equator at the equinox; the sun sinks 6 degrees in 24 minutes."""
    place = {"lat": 0.0, "lon": 0.0, "starts": "2027-03-20T12:00", "ends": "2027-03-21T12:00"}
    insert(con, "event", {"event_id": 1} | place, {"event_id": 2, "utc_offset_h": 0.0} | place)
    (row,) = worked(con, posts.darkness).to_dict("records")
    assert row == {"event_id": 2, "dark_h": pytest.approx(12 - 2 * 0.4, abs=0.15)}
    (row,) = worked(con, posts.darkness, "[facts]\ntwilight_deg = 0\n").to_dict("records")
    assert row["dark_h"] == pytest.approx(12, abs=0.15)


def test_transmitters_that_are_on_the_air_at_once_add_up(con: duckdb.DuckDBPyConnection) -> None:
    """Two equal ones double the density, so the distance is the root of two times that of one; nobody talks into both alone."""
    station(con)
    alone = exposed(con)
    thing(con, 1, RADIO | {"rf_watts": 50.0, "modes": "fm"})
    assert exposed(con)["public_safe_m"] == alone["public_safe_m"]
    con.execute("update post set operators = 2")
    both = exposed(con)
    for name in ("public_safe_m", "crew_safe_m"):
        assert both[name] == pytest.approx(alone[name] * math.sqrt(2))
    assert (alone["others_of"], both["others_of"]) == (None, "another radio of its own")
    thing(con, 1, RADIO | {"rf_watts": 12.5, "modes": "fm"})
    assert exposed(con)["public_safe_m"] == both["public_safe_m"]
    con.execute("update post set operators = 3")
    assert exposed(con)["public_safe_m"] == pytest.approx(alone["public_safe_m"] * math.sqrt(2.25))


@pytest.mark.parametrize(
    ("duty", "radios", "on_air"), [("relay", 2, 2), ("digital", 2, 2), ("digital", 1, 1), ("busy", 2, 1)]
)
def test_transmitters_that_need_nobody_are_on_the_air_as_planned(
    con: duckdb.DuckDBPyConnection, duty: str, radios: int, on_air: int
) -> None:
    """A node keys itself, a packet station answers by itself, beside one operator.

    By hand, two of 50 W FM at 0 dBi, keyed half of the half hour: 25 W each on average; each asks for
    sqrt(2.56 * 25 / (4 pi * 2 W/m2)) = 1.596 m (OET Bulletin 65 eq. 7, 47 CFR 1.1310 Table 1), both for sqrt(2) times that, 2.257 m.
    """
    station(con, {"quantity": 2}, duty=duty, radios=radios, operators=1)
    assert exposed(con)["public_safe_m"] == pytest.approx({1: 1.596, 2: 2.257}[on_air], abs=0.0005)


def test_more_people_than_planned_radios_are_counted_at_a_digital_post_too(
    con: duckdb.DuckDBPyConnection,
) -> None:
    station(con, {"quantity": 4}, duty="digital", radios=2, operators=3)
    assert exposed(con)["others_of"] == "2 more radios of its own"


def test_a_node_is_on_the_air_beside_whoever_talks_at_its_site(con: duckdb.DuckDBPyConnection) -> None:
    """Post 1 plans one operator and its node two radios; three members at post 1 talk beside these."""
    station(con, {"quantity": 9}, site="Mill")
    node = {"post_id": 2, "event_id": 1, "post": "Node", "duty": "relay", "operators": 0, "radios": 2}
    insert(con, "post", node | {"site": "mill", "opens": at(6), "closes": at(12)})
    assert exposed(con)["others_of"] == "2 more radios of its own"
    send(con, *((6, 12, member, None) for member in (1, 2, 3)))
    assert exposed(con)["others_of"] == "4 more radios of its own"


def test_several_radios_in_one_row_add_up(con: duckdb.DuckDBPyConnection) -> None:
    station(con, {"quantity": 3}, operators=2)
    one = math.sqrt(2.56 * 25 / (4 * math.pi * FREE_W_M2))
    assert exposed(con)["public_safe_m"] == pytest.approx(one * math.sqrt(2))


def test_kits_that_are_at_a_post_together_add_up_and_the_strongest_says_so(
    con: duckdb.DuckDBPyConnection,
) -> None:
    """Members 1 and 2 at once, each with a mobile; member 3 comes when they have gone."""
    post(con, (6, 10, 1, 1), (8, 10, 2, 2), (10, 12, 3, 3), tx_share=0.1)
    spans = {1: (6, 10), 2: (8, 10), 3: (10, 12)}
    for kit, watts in ((1, 50.0), (2, 25.0), (3, 50.0)):
        insert(con, "kit", {"kit_id": kit, "member": f"Q{kit}", "kit": "Box"})
        thing(con, kit, RADIO | {"rf_watts": watts, "modes": "fm"})
        begin, end = (f"2027-04-25T{hour:02d}:00" for hour in spans[kit])
        told = {"post_kit_id": kit, "post_id": 1, "kit_id": kit, "is_assigned": True}
        insert(con, "post_kit", told | {"starts": begin, "ends": end})
    rows = worked(con, exposures.exposure).set_index("post_kit_id")
    one = math.sqrt(2.56 * 25 / (4 * math.pi * FREE_W_M2))
    asked = [one * math.sqrt(1.5), one * math.sqrt(0.5), one]
    assert rows["public_safe_m"].loc[[1, 2, 3]].tolist() == pytest.approx(asked)
    assert rows["others_of"].loc[[1, 2, 3]].tolist() == ["Q2's radio", None, None]


def test_transmitters_of_posts_on_one_site_add_up_while_both_are_open(con: duckdb.DuckDBPyConnection) -> None:
    """Posts 1 and 2 stand in one place, post 3 elsewhere; at post 4 of the first place it is evening."""
    post(con, (6, 12, 1, 1), tx_share=0.1, site="Mill")
    for number, site, begin, end in ((2, "mill", 8, 10), (3, "Ford", 6, 12), (4, "Mill", 18, 20)):
        told = {"event_id": 1, "post": f"P{number}", "tx_share": 0.1, "opens": at(begin), "closes": at(end)}
        insert(con, "post", told | {"post_id": number, "site": site})
        send(con, (begin, end, number, number), to=number)
    for kit, (begin, end) in {1: (6, 12), 2: (8, 10), 3: (6, 12), 4: (18, 20)}.items():
        insert(con, "kit", {"kit_id": kit, "member": f"Q{kit}", "kit": "Box"})
        thing(con, kit, RADIO | {"rf_watts": 50.0, "modes": "fm"})
        told = {"post_kit_id": kit, "post_id": kit, "kit_id": kit, "is_assigned": True}
        insert(con, "post_kit", told | {"starts": at(begin), "ends": at(end)})
    rows = worked(con, exposures.exposure).set_index("post_kit_id").sort_index()
    one = math.sqrt(2.56 * 25 / (4 * math.pi * FREE_W_M2))
    both = one * math.sqrt(2)
    assert rows["public_safe_m"].tolist() == pytest.approx([both, both, one, one])
    assert rows["others_of"].tolist() == ["Q2's radio at P2", "Q1's radio", None, None]
    con.execute("update post set site = null")
    assert worked(con, exposures.exposure)["others_of"].tolist() == [None] * 4


def test_more_radios_of_a_kit_are_its_own(con: duckdb.DuckDBPyConnection) -> None:
    station(con, {"quantity": 3}, operators=2)
    assert exposed(con)["others_of"] == "another radio of its own"
    con.execute("update post set operators = 3")
    assert exposed(con)["others_of"] == "2 more radios of its own"


def test_a_spare_radio_that_nothing_feeds_is_not_on_the_air(con: duckdb.DuckDBPyConnection) -> None:
    """A battery, or clips for a vehicle's, and an antenna of its bands would put it there."""
    station(con, {"kind": "handheld", "rf_watts": 5.0})
    insert(con, "kit", {"kit_id": 1})
    weak = exposed(con)["public_safe_m"]
    thing(con, 1, RADIO | {"rf_watts": 50.0, "modes": "fm", "is_spare": True, "amps_tx": 11.0})
    thing(con, 1, ANTENNA | {"gain_dbi": 0.0})
    assert exposed(con)["public_safe_m"] == weak
    (row,) = worked(con, holdings.holding)[["radios", "has_mobile"]].values.tolist()
    assert row == [2, False]
    thing(con, 1, {"kind": "clip_lead", "role": "lead"}, dc_plug="clips")
    assert exposed(con)["public_safe_m"] == pytest.approx(weak * math.sqrt(10))
    (row,) = worked(con, holdings.holding)[["has_mobile", "peak_a"]].values.tolist()
    assert row == [True, 11.0]
    for is_assumed in (False, True):
        con.execute("update item set amps_tx_is_assumed = ? where is_spare", [is_assumed])
        assert worked(con, holdings.holding)["is_peak_assumed"].tolist() == [is_assumed]
    con.execute("update item set bands = '40m' where is_spare")
    (row,) = worked(con, holdings.holding)[["has_mobile", "peak_a"]].values.tolist()
    assert (row[0], pd.isna(row[1])) == (False, True)


def test_power_not_told_makes_the_distance_not_known(con: duckdb.DuckDBPyConnection) -> None:
    station(con)
    thing(con, 1, RADIO)
    row = exposed(con)
    assert row["public_safe_m"] is row["crew_safe_m"] is None


def test_a_receiver_exposes_nobody(con: duckdb.DuckDBPyConnection) -> None:
    station(con, {"rf_watts": 0.0})
    assert worked(con, exposures.exposure).empty


def test_the_fall_zone_is_mast_antenna_and_ten_feet(con: duckdb.DuckDBPyConnection) -> None:
    post(con, mast_m=8.0)
    insert(con, "post", {"post_id": 2, "event_id": 1})
    (row,) = worked(con, exposures.fall_zone).to_dict("records")
    assert row == {
        "post_id": 1,
        "clear_m": pytest.approx(8.0 + 2.0 + 10 * FOOT_M),
    }
    (row,) = worked(con, exposures.fall_zone, "[facts]\nantenna_above_mast_m = 6\n").to_dict("records")
    assert row["clear_m"] == pytest.approx(8.0 + 6.0 + 10 * FOOT_M)


def test_what_holds_a_charge_serves_as_long_as_its_chemistry_does_by_the_policy_too(
    con: duckdb.DuckDBPyConnection,
) -> None:
    bought = {"kit_id": 1, "kind": "battery", "role": "source", "acquired": date(2021, 1, 1)}
    insert(con, "item", bought | {"item_id": 1, "chemistry": "agm"}, bought | {"item_id": 2})
    (row,) = replaced(con)
    assert (row["item_id"], row["life_years"]) == (1, 5.0)
    assert str(row["due"]).startswith("2026-01-01"), "of no chemistry nobody knows it"
    con.execute("update chemistry set life_years = 3 where chemistry = 'agm'")
    assert [one["life_years"] for one in replaced(con)] == [3.0]


def test_a_thing_ends_its_life_after_it_was_bought_and_costs_what_was_paid(
    con: duckdb.DuckDBPyConnection,
) -> None:
    thing(con, 1, RADIO, kind="handheld", acquired="2022-06-01", cost_usd=120.0, quantity=2)
    thing(con, 1, RADIO, kind="handheld", acquired="2022-06-01", expires="2028-01-31")
    thing(con, 1, RADIO, kind="scanner", condition="faulty", is_usable=False)
    thing(con, 1, RADIO, kind="handheld", condition="removed", is_usable=False)
    thing(con, 1, RADIO, kind=None, expires="2028-01-31")
    thing(con, 1, RADIO, kind=None)
    rows = replaced(con)
    assert [row["item_id"] for row in rows] == [1, 2, 3, 5]
    kinds = reference.kinds().set_index("kind")
    expires = pd.Timestamp("2028-01-31")
    life = pd.Timedelta(days=round(kinds["life_years"]["handheld"] * 365.25))
    assert [row["due"] for row in rows] == [pd.Timestamp("2022-06-01") + life, expires, None, expires]
    assert [row["life_years"] for row in rows[2:]] == [kinds["life_years"]["scanner"], None]
    assert (rows[0]["price_usd"], rows[0]["replace_usd"], rows[0]["price_from"]) == (120.0, 240.0, "told")
    middle = kinds.loc["scanner", ["price_low_usd", "price_high_usd"]].mean()
    assert (rows[2]["replace_usd"], rows[2]["price_from"]) == (middle, "estimate")
    assert (rows[3]["replace_usd"], rows[3]["price_from"]) == (None, None)


def test_another_costs_what_the_club_is_offered_before_the_planning_price(
    con: duckdb.DuckDBPyConnection,
) -> None:
    thing(con, 1, {"kind": "handheld_pack", "role": "pack"})
    thing(con, 1, {"kind": "handheld", "role": "radio"})
    for price in (20.0, 26.0, 90.0):
        insert(con, "offer", {"offer": "pack", "kind": "handheld_pack", "price_usd": price})
    rows = replaced(con)
    assert (rows[0]["price_usd"], rows[0]["price_from"]) == (26.0, "offer")
    planning = reference.table("prices").set_index("kind")["price_usd"]["handheld"]
    assert (rows[1]["price_usd"], rows[1]["price_from"]) == (planning, "estimate")
