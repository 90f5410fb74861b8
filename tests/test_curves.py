"""How batteries run down at a post: the curve ends where the rules say that the hours end."""

import altair as alt
import pandas as pd
import pytest

from dashboard import charts, curves, gear_charts
from dashboard.standing import Standing

from .small_club import ANTENNA, BATTERY, COAX, EVENT, FUSE, LEAD, MOBILE, TODAY, assess, kit


def standing_with(battery: dict, **more) -> Standing:
    rows = kit("Q1ABC", "bag", MOBILE, battery, LEAD, ANTENNA, COAX, FUSE)
    post = {"event": "Ride", "post": "Gate", "post_type": "aid_station", "bands": "2m", "modes": "fm", **more}
    told = assess(
        inventory=rows,
        events=[EVENT],
        posts=[post],
        assignments=[{"event": "Ride", "post": "Gate", "member": "Q1ABC", "kit": "bag"}],
    )
    return Standing(1, TODAY, told)


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


def test_volts_sag_less_where_the_post_transmits_at_low_power():
    high, low = (curve_of(standing_with(BATTERY, power_setting=setting)) for setting in ("high", "low"))
    assert low["volts_v"].iloc[0] > high["volts_v"].iloc[0]


def test_a_small_battery_is_said_to_be_short_and_a_large_one_to_last():
    assert "h short" in curves.title(curve_of(standing_with(BATTERY | {"capacity_ah": 2.0})))
    assert curves.title(curve_of(standing_with(BATTERY | {"capacity_ah": 200.0}))).startswith(
        "Lasts the shift"
    )


def test_no_curve_where_there_is_no_battery():
    assert curve_of(standing_with(LEAD)).empty


def test_the_chart_marks_the_shift_and_the_volts_at_which_the_radio_stops():
    curve = curve_of(standing_with(BATTERY | {"capacity_ah": 3.0}))
    with alt.data_transformers.enable("default"):
        spec = charts.drawn(gear_charts.discharge(curve, "Short"))
    said = {row for frame in spec["datasets"].values() if "says" in frame for row in frame["says"]}
    assert said == {"end of the shift", f"the radio stops at {curve['least_v'].iloc[0]:.1f} V"}
    assert spec["title"]["text"] == ["Short"]
