"""Stations of small clubs as they are told, not as the graph takes them."""

import tracemalloc

import pandas as pd
import pytest

from rules.facts import stations as stations_of
from tests import small_club
from tests.small_club import ANTENNA, BATTERY, COAX, EVENT, HANDHELD, MOBILE, PACK

WHIP = {"kind": "whip", "module": "radio"}
SHELL = {"kind": "dry_cell_shell", "module": "radio"}
STATION = (MOBILE, BATTERY | {"amps_rated": 20.0}, COAX, ANTENNA)


def stations(*things: dict[str, object]) -> tuple[int, int]:
    row = small_club.assess(inventory=small_club.kit("QA1BC", "Bag", *things)).table("station").iloc[0]
    return int(row["stations_low"]), int(row["stations_high"])


OF_KIT = ("no_complete_station", "no_battery_of_its_own", "dry_cells_alone", "no_charged_spare_pack")


def answers(*things: dict[str, object]) -> dict[str, str]:
    told = small_club.assess(inventory=small_club.kit("QA1BC", "Bag", *things))
    return {one.rule: one.status for one in told.answers(*OF_KIT)}


@pytest.mark.parametrize("kit", [(HANDHELD, PACK, WHIP), STATION], ids=["handheld", "mobile"])
def test_what_may_not_work_makes_a_station_only_perhaps(kit: tuple[dict[str, object], ...]) -> None:
    assert stations(*kit) == (1, 1)
    for at in range(len(kit)):
        assert stations(*kit[:at], kit[at] | {"condition": "unknown"}, *kit[at + 1 :]) == (0, 1)
        assert stations(*kit[:at], kit[at] | {"condition": "faulty"}, *kit[at + 1 :]) == (0, 0)


HF = {"kind": "hf_100w", "dc_plug": "genderless_30", "module": "station"}


@pytest.mark.parametrize(
    ("radio", "kind", "capacity_ah", "low"),
    [   # the mobile draws 11 A, the other radio 22; four fifths of what is usual count
        (MOBILE, "battery_lifepo4", 20.0, 1),   # 20 A
        (MOBILE, "battery_lifepo4", 12.0, 0),   # 12 A
        (MOBILE, "battery_agm", 18.0, 1),       # 20 A
        (MOBILE, "battery_agm", 17.0, 0),       # 10 A
        (MOBILE, "battery_gel", 26.0, 0),       # nothing is listed of gel
        (MOBILE, "battery_lifepo4", None, 0),
        (HF, "battery_lifepo4", 30.0, 1),       # 30 A
        (HF, "battery_lifepo4", 20.0, 0),
        (HF, "battery_agm", 100.0, 0),          # 25 A
    ],
)  # fmt: skip
def test_a_battery_of_which_only_the_size_is_told_carries_what_is_usual_and_more_perhaps(
    radio: dict[str, object], kind: str, capacity_ah: float | None, low: int
) -> None:
    battery = BATTERY | {"kind": kind, "capacity_ah": capacity_ah}
    assert stations(radio, battery, COAX, ANTENNA | {"bands": "2m 20m"}) == (low, 1)


def test_a_kit_of_things_that_may_not_work_is_met_in_nothing_that_they_decide() -> None:
    unknown = {"condition": "unknown"}
    found = answers(HANDHELD | unknown, PACK | unknown, WHIP | unknown)
    assert found["no_complete_station"] == "not known"
    assert found["no_battery_of_its_own"] == "not known"


def test_a_shell_for_dry_cells_makes_a_station_at_low_power() -> None:
    assert stations(HANDHELD, SHELL, WHIP) == (1, 1)
    found = answers(HANDHELD, SHELL, WHIP)
    assert (found["no_complete_station"], found["dry_cells_alone"]) == ("met", "not met")


def test_a_shell_with_cells_is_the_spare_of_a_pack() -> None:
    cells = {"kind": "spare_cells", "module": "radio"}
    found = answers(HANDHELD, PACK, SHELL, cells, WHIP)
    assert (found["no_charged_spare_pack"], found["dry_cells_alone"]) == ("met", "met")


def test_a_pack_that_lay_for_a_year_is_no_spare() -> None:
    old = PACK | {"item": "old", "charged": pd.Timestamp("2026-03-01")}
    assert answers(HANDHELD, PACK, PACK | {"item": "second"})["no_charged_spare_pack"] == "met"
    assert answers(HANDHELD, PACK, old)["no_charged_spare_pack"] == "not met"
    assert answers(HANDHELD, PACK, old | {"charged": pd.NaT})["no_charged_spare_pack"] == "not known"


def test_the_lines_of_weak_items_are_told_in_copies_too_and_take_no_more_room() -> None:
    """Numbers of items have large gaps where kits are copied for trials."""
    told = small_club.assess(inventory=small_club.kit("QA1BC", "Bag", *STATION))
    weak = stations_of.station(told.con, told.policy, told.today)["station"]["weak_lines"].to_pylist()
    assert weak == [[2, 3, 4, 5]]
    told.con.execute("update item set item_id = 2000000000 - item_id")
    tracemalloc.start()
    try:
        again = stations_of.station(told.con, told.policy, told.today)["station"]["weak_lines"].to_pylist()
        assert again == weak and tracemalloc.get_traced_memory()[1] < 50_000_000
    finally:
        tracemalloc.stop()


def test_hours_on_a_battery_that_may_not_work_are_not_known() -> None:
    def ends(**told: str) -> tuple[float, str]:
        things = small_club.kit("QA1BC", "Bag", MOBILE, BATTERY | told, COAX, ANTENNA)
        row = small_club.assess(inventory=things).table("kit_runtime").iloc[0]
        return float(row["runtime_h"]), str(row["limited_by"])

    assert ends()[0] > 10
    hours, why = ends(condition="unknown")
    assert hours != hours and "may not work" in why
    assert ends(condition="faulty") == (0.0, "no battery")


def test_a_radio_that_may_not_work_reaches_a_post_only_perhaps() -> None:
    def reaches(**told: str) -> list[bool | None]:
        club = small_club.assess(
            inventory=small_club.kit("QA1BC", "Bag", MOBILE | told),
            events=[EVENT],
            posts=[{"event": "Ride", "post": "Ford", "bands": "2m", "modes": "fm", "rf_watts_min": 25.0}],
            assignments=[{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}],
        )
        row = club.table("post_kit").iloc[0]
        return [
            None if pd.isna(row[name]) else bool(row[name]) for name in ("has_band", "has_mode", "has_watts")
        ]

    assert reaches() == [True, True, True]
    assert reaches(condition="unknown") == [None, None, None]
    assert reaches(condition="unknown", bands="20m") == [False, False, False]


def test_an_antenna_that_nothing_joins_to_the_radio_is_no_second_one() -> None:
    vertical = {"kind": "base_vertical", "rf_plug": "n_female", "bands": "2m 70cm"}
    adapter = {"kind": "rf_adapter", "rf_plug": "n_male", "rf_plug_far": "so239"}
    kits = {"apart": (vertical,), "joined": (vertical, adapter), "alike": (ANTENNA | {"item": "another"},)}
    club = small_club.assess(
        inventory=[
            row for name, added in kits.items() for row in small_club.kit("QA1BC", name, *STATION, *added)
        ]
    )
    assert {one.kit: one.status for one in club.answers("no_second_antenna")} == {
        "apart": "not met",
        "joined": "met",
        "alike": "met",
    }
