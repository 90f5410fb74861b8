"""Physics where the answer is known by thought: limits, directions, arrays against scalars, refused input."""

import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from data import usual
from rules.physics import (
    battery,
    clearance,
    discharge,
    exposure,
    feedline,
    fuse,
    load,
    sun,
    wire,
)

NAN = float("nan")
STATION: dict[str, Any] = {
    "capacity_ah": 20.0,
    "chemistry": "lifepo4",
    "temperature_c": 20.0,
    "soc_start": 1.0,
    "internal_ohm": 0.02,
    "path_ohm": 0.03,
    "amps_tx": 10.0,
    "amps_rx": 0.5,
    "amps_idle": 0.3,
    "tx_share": 0.2,
    "rx_share": 0.3,
    "idle_share": 0.5,
    "stop_v": 11.7,
    "horizon_h": 100.0,
}


def station(**changes: Any) -> discharge.Discharge:
    return discharge.simulate(**(STATION | changes))


SAME_AS_SCALAR: list[tuple[Callable[..., Any], tuple[list[Any], ...]]] = [
    (usual.awg_mm2, ([18, 14, 10],)),
    (wire.copper_resistance_ohm_per_m, ([0.5, 2.5, 6.0], [-20.0, 20.0, 75.0])),
    (wire.voltage_drop_v, ([1.0, 12.0, 22.0], [1.0, 2.5, 6.0], [0.0, 2.0, 5.0])),
    (battery.peukert_runtime_h, ([20.0, 40.0, 7.0], [20.0, 10.0, 5.0], [1.0, 2.0, 9.0], [1.05, 1.2, 1.3])),
    (battery.temperature_factor, (["agm", "lifepo4", "alkaline"], [-10.0, 5.0, 20.0])),
    (battery.self_discharge_remaining, (["agm", "nimh", "li_ion"], [0.0, 60.0, 400.0], [10.0, 20.0, 30.0])),
    (battery.open_circuit_v, (["agm", "nimh", "li_ion"], [0.2, 0.5, 0.9], [12.0, 7.2, 7.4])),
    (battery.soc_at_open_circuit_v, (["agm", "nimh", "li_ion"], [12.1, 12.4, 11.0])),
    (battery.internal_resistance_ohm, (["agm", "nimh", "li_ion"], [7.0, 2.0, 2.6])),
    (load.average_current_a, ([10, 5, 1], [0.5, 0.4, 0.3], [0.3, 0.2, 0.1], [0.2] * 3, [0.3] * 3, [0.5] * 3)),
    (feedline.matched_loss_db, ([0.4, 0.3, 0.2], [0.008, 0.005, 0.002], [7, 146, 440], [10, 20, 30])),
    (feedline.loss_with_swr_db, ([0.5, 1.0, 3.0], [1.0, 2.0, 5.0])),
    (exposure.mpe_power_density_mw_cm2, ([2.0, 14.2, 1270.0], ["controlled", "uncontrolled", "controlled"])),
    (
        exposure.average_power_w,
        ([100, 50, 25], [1.0, 0.2, 0.4], [1, 2, 3], [2, 6, 9], ["controlled", "uncontrolled", "controlled"]),
    ),
    (
        lambda *given: sun.elevation_deg(*given)[1],
        ([1.774e9] * 3, [0.0, 45.0, -60.0], [0.0, -100.0, 20.0]),
    ),
    (sun.dark_hours, ([0.0, 45.0, 80.0], [0.0, 8.0, 20.0], ["2026-03-20"] * 3, ["2026-03-21"] * 3)),
    (sun.clear_sky_w_m2, ([-5.0, 5.0, 60.0],)),
]


@pytest.mark.parametrize(("function", "columns"), SAME_AS_SCALAR, ids=[f.__name__ for f, _ in SAME_AS_SCALAR])
def test_array_equals_scalar(function: Callable[..., Any], columns: tuple[list[Any], ...]) -> None:
    together = function(*(np.asarray(column) for column in columns))
    one_by_one = [float(function(*row)) for row in zip(*columns, strict=True)]
    np.testing.assert_allclose(together, one_by_one, rtol=1e-12)


REFUSED: list[tuple[Callable[[], Any], str]] = [
    (lambda: wire.copper_resistance_ohm_per_m(0), "area_mm2: 0"),
    (lambda: wire.copper_resistance_ohm_per_m(1, 300), "to_c: 300"),
    (lambda: wire.voltage_drop_v(-1, 2.5, 1), "current_a: -1"),
    (lambda: wire.lead_resistance_ohm(2.5, -1), "length_m: -1"),
    (lambda: battery.peukert_runtime_h(20, 0, 1, 1.2), "rate_h: 0"),
    (lambda: battery.peukert_runtime_h(20, 20, 1, 0.9), "exponent: 0.9"),
    (
        lambda: battery.temperature_factor("nicad", 20),
        'chemistry: "nicad" is not known. Write one of lifepo4',
    ),
    (lambda: battery.self_discharge_remaining("agm", -1), "days: -1"),
    (lambda: battery.self_discharge_remaining("agm", 1, 80), "temperature_c: 80"),
    (lambda: battery.open_circuit_v("agm", 1.2), "soc: 1.2"),
    (lambda: battery.internal_resistance_ohm("agm", 0), "capacity_ah: 0"),
    (lambda: station(soc_start=1.5), "soc_start: 1.5"),
    (lambda: station(capacity_ah=0), "capacity_ah: 0"),
    (lambda: station(tx_share=0.5), "tx_share [+] rx_share [+] idle_share: 1.3 is not 1"),
    (lambda: load.average_current_a(1, 1, 1, 1.2, 0, 0), "tx_share: 1.2"),
    (lambda: discharge.recharge(4, 5, np.zeros(3), 0.9), "refill_h: more than full_h"),
    (lambda: discharge.recharge(4, 4, np.zeros(3), 0.9, used_h=5), "used_h: more than full_h"),
    (lambda: discharge.recharge(4, 4, np.full(3, -1), 0.9), "put_in: -1"),
    (lambda: discharge.recharge(4, 4, np.zeros(3), 1.1), "given_back: 1.1"),
    (lambda: feedline.matched_loss_db(0.2, 0.002, 0, 10), "frequency_mhz: 0"),
    (lambda: feedline.loss_with_swr_db(1, 0.9), "swr: 0.9"),
    (lambda: exposure.mpe_power_density_mw_cm2(0.1, "controlled"), "frequency_mhz: 0.1"),
    (lambda: exposure.mpe_power_density_mw_cm2(146, "public"), 'tier: "public"'),
    (lambda: exposure.average_power_w(100, 1, 5, 4, "controlled"), "on_min: longer than period_min"),
    (lambda: exposure.safe_distance_m(100, 146, "controlled", 5), "ground_factor: 5"),
    (lambda: clearance.fall_zone_m(-1), "mast_m: -1"),
    (lambda: sun.dark_hours(91, 0, "2026-01-01", "2026-01-02"), "lat: 91"),
    (lambda: sun.dark_hours(0, 0, "2026-01-02", "2026-01-01"), "end_utc: before start_utc"),
    (lambda: sun.solar_wh_by_hour(0, 0, "2026-01-01", 24, 100, 0.1, 1.5), "sky_factor: 1.5"),
]


@pytest.mark.parametrize(("call", "message"), REFUSED, ids=[message for _, message in REFUSED])
def test_what_cannot_be_meant_is_refused_by_name(call: Callable[[], Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()


NOT_KNOWN: list[Any] = [
    wire.voltage_drop_v(NAN, 2.5, 2),
    battery.run_time_h(NAN, 0),
    battery.temperature_factor("", 20),
    battery.temperature_factor("agm", NAN),
    battery.temperature_factor("agm", -30),
    battery.temperature_factor("flooded", -5),
    battery.temperature_factor("lifepo4", 70),
    battery.self_discharge_remaining("", 3),
    battery.open_circuit_v("", 0.5),
    discharge.recharge(NAN, 0, np.zeros(3), 0.9).hours_h,
    discharge.recharge(4, 4, np.array([0, NAN, 0]), 0.9).short_h,
    discharge.recharge(4, 4, np.array([0, NAN, 0]), 0.9).hours_h,
    exposure.mpe_power_density_mw_cm2(NAN, "controlled"),
    sun.dark_hours(NAN, 0, "2026-01-01", "2026-01-02"),
    sun.dark_hours(0, 0, np.datetime64("NaT"), "2026-01-02"),
    sun.solar_wh_by_hour(0, NAN, "2026-01-01", 24, 100).sum(),
]


@pytest.mark.parametrize("place", range(len(NOT_KNOWN)))
def test_not_known_in_or_outside_the_table_is_not_known_out(place: int) -> None:
    assert np.isnan(NOT_KNOWN[place])


@pytest.mark.parametrize("blank", ["", None, NAN])
def test_a_blank_chemistry_is_not_known(blank: Any) -> None:
    names = np.asarray([blank, "agm"], dtype=object)
    np.testing.assert_array_equal(np.isnan(battery.temperature_factor(names, 25)), [True, False])


def test_the_places_of_chemistries_stand_for_their_names() -> None:
    names = np.array(["agm", None, "li_ion", "agm", ""], dtype=object)
    found = battery.places(names)
    assert battery.places(found) is found
    np.testing.assert_array_equal(battery.open_circuit_v(found, 0.5), battery.open_circuit_v(names, 0.5))


# Wire and fuse


def test_no_length_or_no_current_drops_no_voltage() -> None:
    assert wire.voltage_drop_v(22, 2.5, 0) == 0
    assert wire.voltage_drop_v(0, 2.5, 5) == 0


def test_three_gauges_thicker_has_twice_the_copper() -> None:
    assert usual.awg_mm2(11) / usual.awg_mm2(14) == pytest.approx(2.0, rel=0.005)


@given(st.floats(0.1, 100), st.floats(-40, 120), st.floats(1, 60))
def test_thicker_or_cooler_wire_loses_less(area: float, celsius: float, warmer: float) -> None:
    base = wire.copper_resistance_ohm_per_m(area, celsius)
    assert wire.copper_resistance_ohm_per_m(area * 2, celsius) == pytest.approx(base / 2)
    assert wire.copper_resistance_ohm_per_m(area, celsius + warmer) > base


def test_pure_copper_is_within_the_limits_of_flexible_metric_cable() -> None:
    """IEC 60228 Table 3, class 5, plain: most ohm/km at 20 C for each nominal area in mm2."""
    most = {
        0.5: 39.0,
        0.75: 26.0,
        1.0: 19.5,
        1.5: 13.3,
        2.5: 7.98,
        4: 4.95,
        6: 3.3,
        10: 1.91,
        16: 1.21,
        25: 0.78,
    }
    ideal = 1000 * wire.copper_resistance_ohm_per_m(list(most))
    share = ideal / np.array(list(most.values()))
    assert np.all(share < 1)
    assert np.all(share > 0.85)


def test_ten_gauge_is_the_thinnest_wire_for_a_mobile_hf_radio() -> None:
    """ISED Basic B-003-017-009: 22 A, at most 0.5 V, 3 m from the battery; number 10 is right, 12 is not."""
    gauges = np.array([14, 12, 10, 8])
    drop = wire.voltage_drop_v(22, usual.awg_mm2(gauges), 3)
    assert gauges[drop <= 0.5].max() == 10


def test_a_thirty_ampere_fuse_is_too_large_for_fourteen_gauge() -> None:
    """NFPA 70 240.4(D): 15 A."""
    low, high = fuse.fuse_window(24, 15)
    assert low == 30
    assert high == 15
    assert low > high


# Battery


@given(st.floats(1, 200), st.floats(1, 1.5))
def test_at_the_rated_current_peukert_changes_nothing(capacity: float, exponent: float) -> None:
    assert battery.peukert_runtime_h(capacity, 20, capacity / 20, exponent) == pytest.approx(20)
    assert battery.capacity_at_current_ah(capacity, 20, capacity / 20, exponent) == pytest.approx(capacity)


@given(st.floats(0.1, 50), st.floats(1.01, 3))
def test_more_current_means_less_time_and_less_charge(current: float, times: float) -> None:
    assert battery.peukert_runtime_h(20, 20, current * times, 1.2) < battery.peukert_runtime_h(
        20, 20, current, 1.2
    )
    assert battery.capacity_at_current_ah(20, 20, current * times, 1.2) < battery.capacity_at_current_ah(
        20, 20, current, 1.2
    )


def test_an_exponent_of_one_is_plain_division() -> None:
    assert battery.peukert_runtime_h(20, 20, 5, 1) == battery.run_time_h(20, 5) == 4


def test_no_current_lasts_for_ever_and_nothing_lasts_no_time() -> None:
    assert battery.run_time_h(20, 0) == np.inf
    assert battery.run_time_h(0, 1) == 0


@pytest.mark.parametrize("chemistry", battery.CHEMISTRIES)
class TestEveryChemistry:
    def test_cold_never_adds_capacity(self, chemistry: str) -> None:
        share = battery.temperature_factor(chemistry, np.linspace(-18, 30, 200))
        known = share[~np.isnan(share)]
        assert np.all(np.diff(known) >= 0)
        assert known.min() > 0.1
        assert battery.temperature_factor(chemistry, 25) == pytest.approx(1.0, abs=0.03)

    def test_voltage_rises_with_charge(self, chemistry: str) -> None:
        volts = battery.open_circuit_v(chemistry, np.linspace(0, 1, 500))
        assert np.all(np.diff(volts) > 0)

    def test_charge_and_rest_voltage_turn_round(self, chemistry: str) -> None:
        soc = np.linspace(0, 1, 101)
        volts = battery.open_circuit_v(chemistry, soc, 24)
        np.testing.assert_allclose(battery.soc_at_open_circuit_v(chemistry, volts, 24), soc, atol=1e-9)

    def test_rest_voltage_ends_outside_the_pack(self, chemistry: str) -> None:
        full = battery.open_circuit_v(chemistry, 1)
        assert battery.soc_at_open_circuit_v(chemistry, full + 0.1) == np.inf
        assert battery.soc_at_open_circuit_v(chemistry, 1) == 0

    def test_idle_charge_only_falls_and_faster_when_warm(self, chemistry: str) -> None:
        left = battery.self_discharge_remaining(chemistry, np.arange(0, 4000, 30))
        assert left[0] == 1
        assert np.all(np.diff(left) <= 0)
        assert left.min() >= 0
        assert battery.self_discharge_remaining(chemistry, 30, 30) < battery.self_discharge_remaining(
            chemistry, 30, 10
        )

    def test_a_larger_battery_resists_less(self, chemistry: str) -> None:
        small, large = battery.internal_resistance_ohm(chemistry, [5, 50])
        assert small == pytest.approx(10 * large)


@pytest.mark.parametrize(
    ("chemistry", "sold_as", "cells"),
    [
        ("lifepo4", 12.0, 4),
        ("lifepo4", 12.8, 4),
        ("li_ion", 7.4, 2),
        ("li_ion", 11.1, 3),
        ("agm", 6, 3),
        ("nimh", 7.2, 6),
    ],
)
def test_cells_are_counted_whatever_the_label(chemistry: str, sold_as: float, cells: int) -> None:
    assert battery.cells_in_series(chemistry, sold_as) == cells


def test_self_discharge_doubles_every_ten_kelvin() -> None:
    lost = 1 - battery.self_discharge_remaining("agm", 30, [10, 20, 30])
    np.testing.assert_allclose(lost[1:] / lost[:-1], 2)


# Discharge


def test_the_sums_are_right_where_they_can_be_done_by_hand() -> None:
    """10 Ah at 0.5 A (the rated current, all states alike), voltage no obstacle: 20 h."""
    same: dict[str, Any] = {"amps_tx": 0.5, "amps_rx": 0.5, "amps_idle": 0.5}
    result = station(capacity_ah=10, temperature_c=25, stop_v=0, **same)
    assert result.energy_h == pytest.approx(20)
    assert result.brown_out_h == np.inf
    assert result.hours_h == pytest.approx(20)
    assert result.limit == "energy"
    assert result.start_v == pytest.approx(battery.open_circuit_v("lifepo4", 1) - 0.5 * 0.05)


def test_brown_out_falls_where_the_voltage_crosses() -> None:
    """At the moment of brown-out the rest voltage less the sag is exactly the radio's least."""
    result = station(chemistry="agm")
    assert result.limit == "brown-out"
    soc_then = 1 - result.brown_out_h / result.energy_h
    assert battery.open_circuit_v("agm", soc_then) - 10 * 0.05 == pytest.approx(11.7)


def test_brown_out_agrees_with_stepping_through_time() -> None:
    """An independent walk in 1-minute steps over the duty cycle finds the same hour."""
    result = station(chemistry="agm", capacity_ah=30, temperature_c=10)
    average = 0.2 * 10 + 0.3 * 0.5 + 0.5 * 0.3
    capacity = 30 * 0.90 * (30 / (20 * average)) ** 0.15
    hours, soc = 0.0, 1.0
    while battery.open_circuit_v("agm", soc) - 10 * 0.05 >= 11.7:
        hours += 1 / 60
        soc -= average / 60 / capacity
    assert result.brown_out_h == pytest.approx(hours, abs=1 / 60)


def test_a_radio_that_is_never_served_stops_at_once() -> None:
    result = station(path_ohm=0.5)
    assert result.brown_out_h == 0
    assert result.hours_h == 0
    assert result.limit == "brown-out"


def test_a_need_that_is_met_is_limited_by_the_horizon() -> None:
    result = station(horizon_h=1)
    assert result.hours_h == 1
    assert result.limit == "horizon"


def test_no_load_lasts_to_the_horizon() -> None:
    result = station(amps_tx=0, amps_rx=0, amps_idle=0)
    assert result.energy_h == np.inf
    assert result.limit == "horizon"


def test_a_radio_that_only_listens_is_not_held_to_its_transmit_current() -> None:
    listening: dict[str, Any] = {"tx_share": 0, "rx_share": 0.5, "idle_share": 0.5, "chemistry": "agm"}
    assert station(**listening).start_v == pytest.approx(12.6 - 0.5 * 0.05)


def test_a_dead_battery_browns_out_even_without_a_load() -> None:
    result = station(amps_tx=0, amps_rx=0, amps_idle=0, stop_v=14)
    assert result.brown_out_h == 0
    assert result.limit == "brown-out"


def minute_by_minute(
    full: float, refill: float, put_in: list[float], given_back: float, load_w: float
) -> float:
    """Hours to empty, in Wh and minutes and without arrays: two stores, the one that can be charged used first."""
    store, beside = refill * load_w, (full - refill) * load_w
    for minute in range(60 * len(put_in)):
        surplus = (put_in[minute // 60] - 1.0) * load_w / 60
        if surplus > 0:
            store = min(refill * load_w, store + surplus * given_back)
            continue
        lacking = -surplus
        taken = min(store, lacking)
        store, beside = store - taken, beside - (lacking - taken)
        if beside < 0 or store + beside == 0:
            return minute / 60
    return float(len(put_in))


BANKS = st.tuples(
    st.floats(0.5, 30), st.floats(0, 1), st.lists(st.floats(0, 6), min_size=12, max_size=48), st.floats(0.5, 1),
    st.floats(1, 80),
)  # fmt: skip


@given(BANKS)
def test_a_charged_bank_agrees_with_a_loop_by_minutes(
    bank: tuple[float, float, list[float], float, float],
) -> None:
    full, share, put_in, given_back, load_w = bank
    ours = discharge.recharge(full, full * share, np.array(put_in), given_back)
    by_hand = minute_by_minute(full, full * share, put_in, given_back, load_w)
    # a bank that is within a minute of its load of empty may be taken for empty by the loop
    slack = np.abs(ours.left_h).min() < 1 / 30
    assert ours.hours_h == pytest.approx(by_hand, abs=1 / 30) or slack


@given(st.floats(0, 47.9), st.integers(48, 60))
def test_without_charging_a_bank_lasts_what_it_lasts(full: float, steps: int) -> None:
    assert discharge.recharge(full, full, np.zeros(steps), 0.9).hours_h == pytest.approx(full, rel=1e-12)
    assert discharge.recharge(full, full, np.zeros(1), 0.9, 240.0).hours_h == pytest.approx(full, rel=1e-12)


def test_a_bank_that_was_used_before_begins_with_what_is_left() -> None:
    ours = discharge.recharge(10, 10, np.full(48, 0.5), 0.9, 1.0, 20, used_h=4)
    assert (ours.hours_h, ours.short_h) == (12, 4)
    assert discharge.recharge(10, 10, np.full(48, 2.0), 0.9, used_h=4).left_h.max() == 10


@given(BANKS, st.floats(0, 60))
def test_a_battery_of_what_is_short_carries_it_until_it_is_no_longer_needed(
    bank: tuple[float, float, list[float], float, float], until: float
) -> None:
    full, share, put_in, given_back, _ = bank
    until = min(until, float(len(put_in)))
    bare = discharge.recharge(full, full * share, np.array(put_in), given_back, 1.0, until)
    assert (bare.short_h == 0) == (bare.hours_h >= until or full == until == 0) or bare.short_h < 1e-9
    more = discharge.recharge(full + bare.short_h * 1.001 + 1e-6, full * share, np.array(put_in), given_back)
    assert more.hours_h >= until * (1 - 1e-9)
    if bare.short_h > 0.01:
        less = discharge.recharge(full + bare.short_h * 0.99, full * share, np.array(put_in), given_back)
        assert less.hours_h < until


def test_the_day_does_not_fill_what_the_night_is_short_of() -> None:
    """Two nights of 10 h with a sunny day between, on 4 h that the day fills again: 6 h are short each night, not 30."""
    night, day = [0.0] * 10, [8.0] * 14
    assert discharge.recharge(4, 4, np.array(night + day + night), 0.9, 1.0, 34).short_h == pytest.approx(12)
    assert discharge.recharge(4, 4, np.array([0.25]), 0.9, 240.0, 10).short_h == pytest.approx(3.5)


def test_sun_after_the_bank_is_empty_comes_too_late() -> None:
    night, day = [0.0] * 10, [8.0] * 14
    assert discharge.recharge(4, 4, np.array(night + day), 0.9).hours_h == 4
    # at noon it is full already: the bank lasts as long after sunset as without the sun, however much that brought
    assert discharge.recharge(4, 4, np.array(day + night), 0.9).hours_h == 14 + 4


def test_what_is_put_in_feeds_the_load_first_and_loses_only_in_the_bank() -> None:
    assert discharge.recharge(4, 4, np.full(20, 0.5), 0.7).hours_h == 8
    assert discharge.recharge(4, 4, np.full(20, 1.0), 0.7).hours_h == 20
    # three hours used, two put in at one half of what is beyond the load, seventy percent kept
    left = discharge.recharge(4, 4, np.array([0, 0, 0, 2, 2]), 0.7).left_h
    np.testing.assert_allclose(left, [4, 3, 2, 1, 1.7, 2.4])


def test_what_cannot_be_charged_is_used_last_and_stays_used() -> None:
    left = discharge.recharge(5, 2, np.array([0, 0, 0, 9, 9, 9, 9]), 1.0).left_h
    np.testing.assert_allclose(left, [5, 4, 3, 2, 4, 4, 4, 4])
    assert discharge.recharge(5, 0, np.array([0, 0, 9, 9, 0, 0, 0.0, 0]), 1.0).hours_h == 7


def test_banks_side_by_side_are_each_alone() -> None:
    put_in = np.array([[0.0, 2.0], [3.0, 0.0], [0.0, 0.0]])
    both = discharge.recharge([1.5, 0.5], [1.5, 0.5], put_in, [0.9, 0.7])
    for n, (full, back) in enumerate([(1.5, 0.9), (0.5, 0.7)]):
        one = discharge.recharge(full, full, put_in[:, n], back)
        assert both.hours_h[n] == one.hours_h
        np.testing.assert_array_equal(both.left_h[:, n], one.left_h)


def test_a_light_load_never_gets_more_than_the_rated_charge() -> None:
    light: dict[str, Any] = {"amps_tx": 0.1, "amps_rx": 0.1, "amps_idle": 0.1}
    result = station(chemistry="agm", temperature_c=25, horizon_h=1000, **light)
    assert result.energy_h == pytest.approx(20 / 0.1)


def test_a_reserve_shortens_the_energy_and_not_the_brown_out() -> None:
    whole, half = station(soc_reserve=[0, 0.5]).energy_h
    assert half == pytest.approx(whole / 2)
    assert np.ptp(station(soc_reserve=[0, 0.5]).brown_out_h) == 0


@pytest.mark.parametrize(
    ("name", "better"),
    [
        ("capacity_ah", [5, 10, 20, 40]),
        ("soc_start", [0.2, 0.5, 0.8, 1.0]),
        ("temperature_c", [-15, 0, 10, 25]),
        ("path_ohm", [0.1, 0.05, 0.02, 0.0]),
        ("internal_ohm", [0.1, 0.05, 0.02, 0.0]),
        ("amps_tx", [20, 10, 5, 2]),
        ("stop_v", [12.5, 12.0, 11.7, 11.0]),
    ],
)
@pytest.mark.parametrize("chemistry", ["lifepo4", "agm", "li_ion", "nimh"])
def test_anything_better_never_shortens_the_run(chemistry: str, name: str, better: list[float]) -> None:
    hours = station(chemistry=chemistry, **{name: better}).hours_h
    assert np.all(np.diff(hours) >= 0)
    assert hours[-1] > hours[0]


@pytest.mark.parametrize("name", [name for name in STATION if not name.endswith(("share", "chemistry"))])
def test_one_unknown_makes_the_case_unknown_and_no_other(name: str) -> None:
    result = station(**{name: [NAN, STATION[name]]})
    assert np.isnan([column[0] for column in result if column.dtype.kind == "f"]).all()
    assert list(result.limit == discharge.NOT_KNOWN) == [True, False]
    assert result.hours_h[1] == station().hours_h


def test_an_unknown_chemistry_or_too_cold_a_day_is_unknown() -> None:
    result = station(chemistry=["", "lifepo4", "lifepo4"], temperature_c=[20, -40, 20])
    assert list(result.limit == discharge.NOT_KNOWN) == [True, True, False]


def test_many_cases_equal_each_alone() -> None:
    rng = np.random.default_rng(7)
    chemistry = rng.choice(battery.CHEMISTRIES, 50)
    capacity, path = rng.uniform(2, 100, 50), rng.uniform(0, 0.1, 50)
    many = station(chemistry=chemistry, capacity_ah=capacity, path_ohm=path)
    for i in range(50):
        alone = station(chemistry=chemistry[i], capacity_ah=capacity[i], path_ohm=path[i])
        assert many.hours_h[i] == pytest.approx(float(alone.hours_h))
        assert many.limit[i] == alone.limit


def test_twenty_thousand_cases_take_well_under_a_third_of_a_second() -> None:
    rng = np.random.default_rng(1)
    chemistry = rng.choice(battery.CHEMISTRIES, 20_000)
    capacity = rng.uniform(2, 100, 20_000)
    best = np.inf
    for _ in range(3):
        begun = time.perf_counter()
        station(chemistry=chemistry, capacity_ah=capacity, path_ohm=rng.uniform(0, 0.1, 20_000))
        best = min(best, time.perf_counter() - begun)
    assert best < 0.3


# Load, feed line


def test_average_current_stays_between_idle_and_transmit() -> None:
    assert load.average_current_a(10, 0.5, 0.3, 1, 0, 0) == 10
    assert load.average_current_a(10, 0.5, 0.3, 0, 0, 1) == pytest.approx(0.3)


def test_a_fifty_watt_radio_on_a_busy_net() -> None:
    """12 A at 30 %, 0.65 A at 40 %, 0.40 A at 30 % of the time."""
    assert load.average_current_a(12, 0.65, 0.40, 0.3, 0.4, 0.3) == pytest.approx(3.98)


def test_no_line_loses_nothing_and_twice_the_line_twice_as_many_decibels() -> None:
    assert feedline.matched_loss_db(0.2, 0.002, 146, 0) == 0
    one, two = feedline.matched_loss_db(0.2, 0.002, 146, [10, 20])
    assert two == pytest.approx(2 * one)


@given(st.floats(0, 20), st.floats(1, 20))
def test_a_mismatch_only_adds_loss(matched: float, swr: float) -> None:
    assert feedline.loss_with_swr_db(matched, 1) == pytest.approx(matched, abs=1e-9)
    assert feedline.loss_with_swr_db(matched, swr) >= matched - 1e-9


def test_a_line_without_loss_has_none_at_any_mismatch() -> None:
    np.testing.assert_allclose(feedline.loss_with_swr_db(0, [1, 2, 10]), 0, atol=1e-12)


def test_power_is_kept_or_lost() -> None:
    assert feedline.power_at_antenna_w(50, 0) == 50
    assert feedline.power_at_antenna_w(50, 10) == pytest.approx(5)


# Exposure and clearance


@given(st.floats(0.3, 100_000))
def test_the_public_limit_is_never_above_the_controlled_one(frequency: float) -> None:
    public = exposure.mpe_power_density_mw_cm2(frequency, "uncontrolled")
    assert public <= exposure.mpe_power_density_mw_cm2(frequency, "controlled")


def test_the_limit_is_lowest_between_30_and_300_mhz() -> None:
    """NCVEC T0C02 (2026-2030): of the frequencies listed there, 50 MHz has the lowest limit."""
    for tier in exposure.TIERS:
        limits = exposure.mpe_power_density_mw_cm2([3.5, 50, 440, 1296], tier)
        assert np.argmin(limits) == 1


@pytest.mark.parametrize("edge", [3, 30, 300, 1500])
def test_the_controlled_rows_meet_at_their_edges(edge: float) -> None:
    below, above = exposure.mpe_power_density_mw_cm2([edge, edge * (1 + 1e-9)], "controlled")
    assert below == pytest.approx(above, rel=1e-6)


def test_half_the_duty_doubles_the_density_that_is_allowed() -> None:
    """NCVEC T0C03."""
    full = exposure.average_power_w(100, 1, 6, 6, "controlled")
    half = exposure.average_power_w(100, 1, 3, 6, "controlled")
    assert full == pytest.approx(2 * half)


@given(st.floats(0.1, 60), st.floats(0, 1))
def test_average_power_lies_between_the_mean_and_the_peak(period: float, share: float) -> None:
    for tier in exposure.TIERS:
        average = exposure.average_power_w(100, 1, share * period, period, tier)
        assert 100 * share - 1e-6 <= average <= 100 + 1e-6


def test_the_window_that_opens_with_the_key_is_the_worst() -> None:
    """Slide a 6-minute window over a 4-on 5-off cycle: none holds more keyed time."""
    minute = np.arange(0, 60, 0.01)
    keyed = (minute % 9) < 4
    worst = max(keyed[i : i + 600].mean() for i in range(1800))
    assert exposure.average_power_w(1, 1, 4, 9, "controlled") == pytest.approx(worst, abs=0.002)


@given(st.floats(0.1, 1500), st.floats(1.8, 1300))
def test_at_the_safe_distance_the_density_is_the_limit(power: float, frequency: float) -> None:
    distance = exposure.safe_distance_m(power, frequency, "uncontrolled", 1)
    density = power / (4 * np.pi * distance**2) / 10
    assert density == pytest.approx(exposure.mpe_power_density_mw_cm2(frequency, "uncontrolled"))


def test_four_times_the_power_twice_the_distance() -> None:
    near, far = exposure.safe_distance_m([25, 100], 146, "controlled")
    assert far == pytest.approx(2 * near)


def test_a_taller_mast_needs_a_wider_zone() -> None:
    assert clearance.fall_zone_m(6, 2) == clearance.fall_zone_m(8) == pytest.approx(8 + 3.048)


# Sun


def test_at_the_equinox_day_and_night_are_nearly_equal() -> None:
    """Refraction and the sun's width lengthen the day by several minutes."""
    dark = sun.dark_hours([0, 30, -45], 0, "2026-03-20", "2026-03-21")
    assert np.all((dark > 11.7) & (dark < 12))


def test_polar_night_and_midnight_sun() -> None:
    np.testing.assert_allclose(
        sun.dark_hours(80, 0, ["2026-01-01", "2026-07-01"], ["2026-01-02", "2026-07-02"]), [24, 0]
    )
    assert np.isnat(sun.sunrise_and_sunset_utc(80, 0, "2026-01-01")).all()


def test_dark_hours_agree_with_sunset_and_sunrise() -> None:
    rise, down = sun.sunrise_and_sunset_utc(40, 0, ["2026-05-02", "2026-05-01"])
    night = rise[0] - down[1]
    dark = sun.dark_hours(40, 0, "2026-05-01T12:00", "2026-05-02T12:00")
    assert dark == pytest.approx(night / np.timedelta64(1, "s") / 3600, abs=0.01)


def test_a_window_of_no_length_holds_nothing() -> None:
    assert sun.dark_hours(40, 0, "2026-05-01T00:00", "2026-05-01T00:00") == 0
    assert sun.solar_wh_by_hour(40, 0, "2026-05-01T12:00", 0, 100).shape == (0,)


def test_windows_add_up() -> None:
    start, middle, end = "2026-05-01T06:00", "2026-05-01T15:00", "2026-05-02T03:00"
    parts = sun.dark_hours(40, 0, start, middle) + sun.dark_hours(40, 0, middle, end)
    assert parts == pytest.approx(sun.dark_hours(40, 0, start, end), rel=1e-3)
    whole, late = sun.solar_wh_by_hour(40, 0, start, 21, 100), sun.solar_wh_by_hour(40, 0, middle, 12, 100)
    np.testing.assert_allclose(whole[9:], late)


def test_hours_of_sun_add_up_to_a_day_looked_at_every_five_minutes() -> None:
    days = [(40, "2026-06-01"), (52, "2026-12-20"), (60, "2026-03-10"), (-35, "2026-09-01")]
    for lat, day in days:
        at = np.datetime64(day) + np.arange(0, 24 * 60 + 1, 5).astype("timedelta64[m]")
        w_m2 = sun.clear_sky_w_m2(sun.elevation_deg(at.astype("datetime64[s]").astype(float), lat, 0)[1])
        closely = ((w_m2[1:] + w_m2[:-1]) / 2).mean() * 24 / 1000
        for minutes in (0, 25, 50):
            start = np.datetime64(day) + np.timedelta64(minutes, "m")
            assert sun.solar_wh_by_hour(lat, 0, start, 24, 1, 0, 1).sum() == pytest.approx(closely, rel=0.01)


def test_twilight_counts_as_light_when_asked() -> None:
    window = (40, 0, "2026-05-01", "2026-05-02")
    assert sun.dark_hours(*window, below_deg=-6) < sun.dark_hours(*window)


def test_an_offset_in_the_text_and_a_datetime_say_the_same() -> None:
    local = sun.dark_hours(40, -105, "2026-05-01T12:00-06:00", "2026-05-01T21:00-06:00")
    assert local == sun.dark_hours(
        40, -105, *np.array(["2026-05-01T18:00", "2026-05-02T03:00"], "datetime64[m]")
    )


def test_no_sun_no_energy_and_never_more_than_the_clear_sky() -> None:
    assert sun.solar_wh_by_hour(80, 0, "2026-01-01", 24, 100).sum() == 0
    clear = sun.solar_wh_by_hour(40, 0, "2026-06-01", 24, 100, 0, 1)
    assert 700 < clear.sum() < 950
    assert clear.argmax() in (11, 12) and clear[:4].sum() == clear[20:].sum() == 0
    np.testing.assert_allclose(
        sun.solar_wh_by_hour(40, 0, "2026-06-01", 24, 100), clear * (1 - sun.LOSS_SHARE) * sun.SKY_FACTOR
    )


def test_the_default_loss_is_that_of_the_manual() -> None:
    """PVWatts Version 5 Manual: soiling, shading, mismatch, wiring, contacts, light, nameplate, availability."""
    shares = [0.02, 0.03, 0.02, 0.02, 0.005, 0.015, 0.01, 0.03]
    assert pytest.approx(1 - np.prod(1 - np.array(shares)), abs=5e-5) == sun.LOSS_SHARE
    assert sun.LOSS_SHARE == 0.1408, "as its hourly output file prints them, 14.08 %"


def test_the_sky_factor_lies_inside_the_year_that_it_is_taken_from() -> None:
    """Level kWh/m2 a day, by month: ASHRAE typical year at 52.3 N 4.77 E; PVGIS typical year at 45 N 8 E."""
    months = np.arange(1, 13)
    starts = [f"2021-{month:02d}-01" for month in months]
    coast = np.array([0.639, 1.362, 2.477, 3.431, 4.812, 4.928, 4.935, 4.065, 2.72, 1.551, 0.825, 0.463])
    inland = np.array([1.543, 2.393, 3.824, 4.047, 4.833, 7.205, 6.619, 5.758, 4.516, 2.872, 2.021, 1.491])
    clear_coast = sun.solar_wh_by_hour(52.3, 4.77, starts, 27 * 24, 1, 0, 1).sum(axis=0) / 27
    clear_inland = sun.solar_wh_by_hour(45, 8, starts, 27 * 24, 1, 0, 1).sum(axis=0) / 27
    assert (coast / clear_coast).mean() == pytest.approx(sun.SKY_FACTOR, abs=0.02)
    assert np.all(inland < clear_inland)


# --- how warm the air is ---


DAY = np.datetime64("2027-06-12") + np.arange(24 * 60).astype("timedelta64[m]")


@pytest.mark.parametrize("lon", [-93.0, 0.0, 145.0])
def test_a_day_is_coldest_at_sunrise_and_warmest_an_hour_and_a_half_after_its_middle(lon: float) -> None:
    air = sun.air_temperature_c(45, lon, DAY, -4, 12)
    rise, down = sun.sunrise_and_sunset_utc(45, lon, "2027-06-12")

    def of_day(at: np.datetime64) -> float:
        return float((at - DAY[0]) / np.timedelta64(1, "h") % 24)

    assert air.min() == pytest.approx(-4, abs=0.05) and air.max() == pytest.approx(12, abs=0.05)
    assert int(air.argmin()) / 60 == pytest.approx(of_day(rise), abs=0.1)
    assert int(air.argmax()) / 60 == pytest.approx(of_day(rise + (down - rise) / 2) + 1.5, abs=0.1)
    assert np.abs(np.diff(np.append(air, air[0]))).max() < 0.1, "without a step, over the night too"


@pytest.mark.parametrize(("day", "lon"), [("2027-02-10", -178), ("2027-11-03", 178)])
def test_beside_the_date_line_the_air_is_as_warm_as_west_of_it_when_the_sun_stands_there(
    day: str, lon: int
) -> None:
    at = np.datetime64(day) + np.arange(24 * 6).astype("timedelta64[m]") * 10
    later = np.timedelta64((lon - 168) % 360 * 4, "m")
    there, west = (
        sun.air_temperature_c(-40, lon, at, 5, 40),
        sun.air_temperature_c(-40, 168, at + later, 5, 40),
    )
    assert np.abs(there - west).max() < 0.2


def test_where_the_sun_does_not_rise_or_set_it_is_taken_to_be_as_cold_as_it_gets() -> None:
    assert sun.air_temperature_c(-85, 0, DAY[::60], -40, -10).tolist() == [-40.0] * 24
    assert sun.air_temperature_c(45, 0, DAY[::60], 7, 7).tolist() == [7.0] * 24
    with pytest.raises(ValueError, match="warmest_c: below coldest_c"):
        sun.air_temperature_c(45, 0, DAY, 1, 0)
