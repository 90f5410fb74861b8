"""Radios fed through a converter: hours by hand, and when a converter does not serve."""

import numpy as np
import pandas as pd
import pytest

from dashboard import curves
from dashboard.standing import Standing
from rules.facts.lasting import APART
from rules.plans import after
from tests import small_club
from tests.small_club import TODAY, Club

HEAD = "member,kit,item,kind,capacity_ah,chemistry,amps_tx,amps_rx,amps_idle,volts_min,volts_max,amps_rated,charged,acquired,dc_plug\n"
MOBILE = "QA1BC,box,mobile,mobile_vhf_uhf,,,11,0.6,0.4,11,15.9,,,,\n"
HF = "QA1BC,box,rig,hf_100w,,,22,2,1.5,11.7,15.9,,,,\n"
HANDHELD = "QA1BC,box,handheld,handheld,,,1.6,0.25,0.08,6,8.4,,,,\n"
PACK = "QA1BC,box,pack,handheld_pack,1.8,li_ion,,,,6,8.4,,2027-03-01,2026-06-01,\n"
BUCK = "QA1BC,box,buck,buck_converter,,,,,,13.8,13.8,25,,,\n"
BOOSTER = "QA1BC,box,booster,boost_converter,,,,,,13.8,13.8,25,,,\n"
ELIMINATOR = "QA1BC,box,eliminator,handheld_dc_lead,,,,,,7.4,8.4,2.5,,,\n"


def battery(ah: float, chemistry: str, low_v: float, high_v: float) -> str:
    return f"QA1BC,box,battery,battery_{chemistry},{ah},{chemistry},,,,{low_v},{high_v},30,2027-03-01,2026-06-01,\n"


LITHIUM_12 = battery(6, "lifepo4", 12, 14.4)
LITHIUM_24 = battery(20, "lifepo4", 24, 28.8)
LITHIUM_9 = battery(20, "li_ion", 9, 12.6)
PICKY = MOBILE.replace("11,15.9", "13,15.9")
LEAD_12 = battery(35, "agm", 11, 12.8)


def club(*rows: str, facts: str = "", **files: str) -> Club:
    return small_club.read(f"[facts]\n{facts}\n", inventory=HEAD + "".join(rows), **files)


def run(*rows: str, facts: str = "") -> pd.Series:
    return club(*rows, facts=facts).table("kit_runtime").iloc[0]


def test_a_12_v_radio_runs_on_24_v_through_a_converter() -> None:
    # The mobile takes 0.05 x 11 + 0.35 x 0.6 + 0.6 x 0.4 = 1.0 A at 13.8 V: 13.8 / 0.9 = 15.3 W from the battery, 0.581 A at
    # its 26.4 V. LiFePO4 at 20 C gives 0.96 of 20 Ah, 0.9 of it in use: 17.28 Ah last 29.75 h.
    found = run(MOBILE, LITHIUM_24, BUCK)
    assert found["load_w"] == pytest.approx(13.8 / 0.9)
    assert found["runtime_h"] == pytest.approx(17.28 * 26.4 * 0.9 / 13.8)
    assert found["limited_by"] == "stored energy"
    assert (found["how"], found["energy_wh"]) == ("told", pytest.approx(20 * 26.4 * 0.9))
    poor = run(MOBILE, LITHIUM_24, BUCK, facts="converter_share = 0.8")
    assert poor["runtime_h"] == pytest.approx(found["runtime_h"] * 0.8 / 0.9)


def test_a_booster_carries_a_radio_past_its_brown_out() -> None:
    # 0.05 x 22 + 0.35 x 2 + 0.6 x 1.5 = 2.7 A at 13.8 V are 3.48 A from the 11.9 V of an AGM battery. At 20 C it gives 29 / 30
    # of 35 Ah, by Peukert's law (35 / (20 x 3.48))^0.15 of that, and half of it is used.
    amps = 2.7 * 13.8 / (0.9 * 11.9)
    hours = 35 * 29 / 30 * (35 / (20 * amps)) ** 0.15 * 0.5 / amps
    straight, boosted = run(HF, LEAD_12), run(HF, LEAD_12, BOOSTER)
    assert straight["limited_by"] == "brown-out"
    assert (boosted["limited_by"], boosted["runtime_h"]) == ("stored energy", pytest.approx(hours))
    assert straight["runtime_h"] < hours
    assert club(HF, LEAD_12, BOOSTER).table("supply")["bank_ah"].tolist() == [35.0], "one battery, two ways"


def test_accessories_hang_on_the_lower_voltage() -> None:
    # 12 W at 12 V is 1 A: behind the converter from 24 V as the radio's 1.0 A, straight on the 11.9 V beside a booster
    down = run(MOBILE, LITHIUM_24, BUCK, facts="accessory_w = 12")
    assert down["load_w"] == pytest.approx(2.0 * 13.8 / 0.9)
    assert down["runtime_h"] == pytest.approx(17.28 * 26.4 * 0.9 / (2.0 * 13.8), rel=0.02), (
        "but for Peukert's law"
    )
    up = run(HF, LEAD_12, BOOSTER, facts="accessory_w = 12")
    assert up["load_w"] == pytest.approx(2.7 * 13.8 / 0.9 + 11.9)
    amps = 2.7 * 13.8 / (0.9 * 11.9) + 1
    assert up["runtime_h"] == pytest.approx(35 * 29 / 30 * (35 / (20 * amps)) ** 0.15 * 0.5 / amps)


def test_the_booster_puts_right_what_the_rule_says_that_it_does() -> None:
    def said(*rows: str) -> set[str]:
        return {one.status for one in club(*rows).answers("battery_outside_the_window")}

    assert said(HF, LEAD_12) == {"not met"}
    assert said(HF, LEAD_12, BOOSTER) == {"met"}


def test_a_handheld_runs_on_a_12_v_battery_through_an_eliminator() -> None:
    # 0.05 x 1.6 + 0.35 x 0.25 + 0.6 x 0.08 = 0.2155 A at 7.9 V, from 13.2 V; 6 Ah x 0.96 x 0.9 = 5.184 Ah
    amps = 0.2155 * 7.9 / (0.9 * 13.2)
    assert run(HANDHELD, LITHIUM_12, ELIMINATOR)["runtime_h"] == pytest.approx(5.184 / amps)
    assert run(HANDHELD, LITHIUM_12)["limited_by"] == "no battery"
    packed = run(HANDHELD, PACK)["runtime_h"]
    lead, store = (row.replace(",\n", ",genderless_30\n") for row in (ELIMINATOR, LITHIUM_12))
    both = run(HANDHELD, PACK, store, lead)["runtime_h"]
    assert both == pytest.approx(packed + 5.184 / amps), "one after another"


def test_a_battery_of_the_station_is_not_counted_on_for_the_handheld() -> None:
    table = club(MOBILE, HANDHELD, LITHIUM_12, ELIMINATOR).table("supply").set_index("is_handheld")
    assert table["bank_ah"].to_dict() == {False: 6.0, True: 0.0}


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ((MOBILE, LITHIUM_24, BUCK.replace(",25,", ",10,")), "does not carry 11 A"),
        ((MOBILE, LITHIUM_24, BUCK.replace("13.8,13.8", "13.8,24")), "may deliver more than the radio takes"),
        ((MOBILE, LITHIUM_24, BUCK.replace("13.8,13.8", "5,5")), "delivers too little"),
        ((MOBILE, LITHIUM_24, BOOSTER), "cannot step down"),
        ((PICKY, LITHIUM_9, BUCK), "cannot step up"),
        ((MOBILE, LITHIUM_24), "no converter"),
    ],
)
def test_a_converter_that_does_not_serve(rows: tuple[str, ...], why: str) -> None:
    found = run(*rows)
    assert (found["runtime_h"], found["limited_by"]) == (0, APART), why


def test_a_buck_converter_stops_at_what_it_delivers_and_any_at_the_least_that_it_takes() -> None:
    bucked = run(MOBILE.replace("11,15.9", "11,14"), battery(20, "li_ion", 14.2, 16.8), BUCK)
    assert tuple(bucked[["limited_by", "stop_v"]]) == ("brown-out", 13.8)
    assert bucked["runtime_h"] > 0
    boosted = run(PICKY, LITHIUM_9, BOOSTER)
    assert boosted["runtime_h"] > 0 and boosted["stop_v"] == 9
    assert run(PICKY, LITHIUM_9, BOOSTER, facts="converter_volts_min = 12.6")["runtime_h"] == 0


def test_a_converter_whose_figures_are_not_told_is_not_known_where_nothing_else_feeds_the_radio() -> None:
    untold = BUCK.replace("13.8,13.8,25", ",,25")
    assert np.isnan(run(MOBILE, LITHIUM_24, untold)["runtime_h"])
    assert run(HANDHELD, PACK, LITHIUM_24, untold)["runtime_h"] == run(HANDHELD, PACK)["runtime_h"]


def test_another_converter_takes_no_hours() -> None:
    assert run(MOBILE, LITHIUM_12, BOOSTER)["runtime_h"] == run(MOBILE, LITHIUM_12)["runtime_h"]


@pytest.mark.parametrize("rows", [(HF, LEAD_12, BOOSTER), (MOBILE, LITHIUM_24, BUCK)])
def test_the_curve_through_a_converter_ends_where_the_rules_say(rows: tuple[str, ...]) -> None:
    told = club(
        *rows,
        events="event,starts,ends\nRide,2027-06-12T06:00,2027-06-12T18:00\n",
        posts="event,post,post_type,modes\nRide,Ford,aid_station,fm\n",
        assignments="event,post,member,kit\nRide,Ford,QA1BC,box\n",
    )
    now = Standing(1, TODAY, told)
    curve = curves.at_post(now, curves.sent_to(now, "QA1BC", "box")["Ride/Ford"])
    assert curve["hours"].max() == pytest.approx(told.table("runtime")["runtime_h"].iloc[0])
    assert set(curve["least_v"]) == {13.8 if BUCK in rows else 9.0}


def test_what_was_drawn_through_a_converter_is_found_again() -> None:
    # 20 Ah, half of it in 5 h: 2 A from the battery are 4 A of the radio where it takes half an ampere for one
    plain = np.array([1.0])
    pieces = after.Pieces(np.array([20.0]), plain, plain, plain, gain=0.5)
    assert after.measured_current_a(pieces, 0.5, 5.0) == pytest.approx(4.0, rel=1e-6)
