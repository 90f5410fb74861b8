"""How batteries run down at a post: the curve ends where the rules say that the hours end."""

import altair as alt
import pandas as pd
import pytest

from dashboard import curves, drawing, gear_charts
from dashboard.standing import Standing

from .small_club import ANTENNA, BATTERY, COAX, EVENT, FUSE, LEAD, MOBILE, TODAY, Club, assess, kit


def standing_of(told: Club) -> Standing:
    """The facts that a curve rests on, and nothing judged."""
    return Standing(1, TODAY, told.part(curves.SENT, curves.TOLD))


def standing_with(battery: dict, *things: dict, **more) -> Standing:
    rows = kit("Q1ABC", "bag", MOBILE, battery, LEAD, ANTENNA, COAX, FUSE, *things)
    post = {"event": "Ride", "post": "Gate", "post_type": "aid_station", "bands": "2m", "modes": "fm", **more}
    told = assess(
        inventory=rows,
        events=[EVENT],
        posts=[post],
        assignments=[{"event": "Ride", "post": "Gate", "member": "Q1ABC", "kit": "bag"}],
    )
    return standing_of(told)


def curve_of(now: Standing) -> pd.DataFrame:
    sent = curves.sent_to(now, "Q1ABC", "bag")
    assert list(sent) == ["Ride/Gate"]
    return curves.at_post(now, sent["Ride/Gate"])


@pytest.mark.parametrize("setting", ["high", "low"])
@pytest.mark.parametrize(
    "battery", [BATTERY, BATTERY | {"capacity_ah": 3.0}, BATTERY | {"chemistry": "agm"}, BATTERY | {"quantity": 2}]
)  # fmt: skip
def test_the_curve_ends_where_the_rules_say(battery, setting):
    now = standing_with(battery, power_setting=setting)
    curve = curve_of(now)
    (runtime,) = now.assessment.con.execute("select runtime_h from runtime join post_kit using (post_kit_id) "
                                            "where is_assigned").fetchone()  # fmt: skip
    assert curve["hours"].max() == pytest.approx(runtime, rel=1e-6)
    assert curve["hours"].is_monotonic_increasing
    one = curve[curve["battery"] == curve["battery"].iloc[0]]
    assert one["volts_v"].is_monotonic_decreasing
    assert curve["battery"].nunique() == battery.get("quantity", 1)
    if curve["limited_by"].iloc[0] == "brown-out":
        assert curve["volts_v"].iloc[-1] == pytest.approx(curve["least_v"].iloc[0], abs=0.01)
    else:
        assert (curve["volts_v"] >= curve["least_v"] - 0.01).all()


def test_a_battery_measured_at_nothing_has_no_part_in_the_curve():
    dead = BATTERY | {"item": "dead", "tested": pd.Timestamp(TODAY), "tested_ah": 0.0}
    pd.testing.assert_frame_equal(curve_of(standing_with(BATTERY, dead)), curve_of(standing_with(BATTERY)))
    assert curve_of(standing_with(dead)).empty


def test_volts_sag_less_where_the_post_transmits_at_low_power():
    high, low = (curve_of(standing_with(BATTERY, power_setting=setting)) for setting in ("high", "low"))
    assert low["volts_v"].iloc[0] > high["volts_v"].iloc[0]


def test_a_small_battery_is_said_to_be_short_and_a_large_one_to_last():
    assert "h short" in curves.title(curve_of(standing_with(BATTERY | {"capacity_ah": 2.0})))
    assert curves.title(curve_of(standing_with(BATTERY | {"capacity_ah": 200.0}))).startswith(
        "Lasts the shift"
    )


SOLAR = [{"kind": "solar_panel", "solar_watts": 60.0}, {"kind": "charge_controller_mppt"}]
MIDSUMMER = EVENT | {
    "starts": pd.Timestamp("2027-06-12 12:00"),
    "ends": pd.Timestamp("2027-06-13 12:00"),
    "lat": 45.0,
    "lon": -93.0,
    "utc_offset_h": -5.0,
}


def sunlit(batteries: int) -> Standing:
    """A small bank and a panel, from noon on."""
    rows = kit(
        "Q1ABC",
        "bag",
        MOBILE,
        BATTERY | {"capacity_ah": 4.0, "quantity": batteries},
        LEAD,
        ANTENNA,
        COAX,
        FUSE,
        *SOLAR,
    )
    post = {"event": "Ride", "post": "Gate", "post_type": "aid_station", "bands": "2m", "modes": "fm"}
    sent = {"event": "Ride", "post": "Gate", "member": "Q1ABC", "kit": "bag"}
    return standing_of(assess(inventory=rows, events=[MIDSUMMER], posts=[post], assignments=[sent]))


@pytest.mark.parametrize("batteries", [1, 2])
def test_in_the_sun_the_curve_stays_full_by_day_and_falls_only_in_the_evening(batteries: int) -> None:
    now = sunlit(batteries)
    curve = curve_of(now)
    (runtime_h,) = now.assessment.con.execute(
        "select runtime_h from runtime join post_kit using (post_kit_id) where is_assigned"
    ).fetchone()
    assert curve["hours"].is_monotonic_increasing
    assert curve["hours"].max() == pytest.approx(runtime_h) and runtime_h < 24
    full = curve["volts_v"].iloc[0]
    assert curve.loc[curve["hours"] < 6, "volts_v"].to_numpy() == pytest.approx(full, abs=1e-6)
    night = curve[curve["hours"] > 9]
    assert (night.groupby("battery")["volts_v"].diff().dropna() < 0).all()
    assert night["battery"].nunique() == batteries
    assert "the charge is used up" in curves.title(curve)


def test_a_charger_on_mains_is_drawn_full_to_the_end() -> None:
    charger = {"kind": "charger_lifepo4", "amps_rated": 6.0}
    rows = kit("Q1ABC", "bag", MOBILE, BATTERY, LEAD, ANTENNA, COAX, FUSE, charger)
    post = {
        "event": "Ride",
        "post": "Gate",
        "post_type": "aid_station",
        "bands": "2m",
        "modes": "fm",
        "mains": True,
    }
    sent = {"event": "Ride", "post": "Gate", "member": "Q1ABC", "kit": "bag"}
    curve = curve_of(standing_of(assess(inventory=rows, events=[EVENT], posts=[post], assignments=[sent])))
    assert curve["hours"].max() == 240 and curve["volts_v"].nunique() == 1
    assert curves.title(curve).endswith("and goes on for 240 h or more")


def test_no_curve_where_there_is_no_battery():
    assert curve_of(standing_with(LEAD)).empty


def test_the_chart_marks_the_shift_and_the_volts_at_which_the_radio_stops():
    curve = curve_of(standing_with(BATTERY | {"capacity_ah": 3.0}))
    with alt.data_transformers.enable("default"):
        spec = drawing.drawn(gear_charts.discharge(curve, "Short"))
    said = {row for frame in spec["datasets"].values() if "says" in frame for row in frame["says"]}
    assert said == {"end of the shift", f"the radio stops at {curve['least_v'].iloc[0]:.1f} V"}
    assert spec["title"]["text"] == ["Short"]
