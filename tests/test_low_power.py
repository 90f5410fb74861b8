"""A radio's low power: as told, as its kind's, and what a post that asks for it gains."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from data import upload
from rules.on_air import down
from rules.plans.offers import remedy
from rules.policy import Policy
from rules.rule import fill, load_rules
from tests import small_club


def test_a_low_setting_is_told_whole_or_taken_from_the_kind_whole() -> None:
    told = small_club.read(
        inventory="member,kit,item,kind,amps_tx_low,rf_watts_low\n"
        "QA1BC,box,neither,mobile_vhf_uhf,,\nQA1BC,box,both,mobile_vhf_uhf,6,10\n"
        "QA1BC,box,amps,mobile_vhf_uhf,6,\nQA1BC,box,watts,mobile_vhf_uhf,,10\nQA1BC,box,small,handheld,,\n"
    )
    rows = told.table("item").set_index("item")[["amps_tx_low", "rf_watts_low", "is_low_assumed"]]
    assert rows.loc["neither"].tolist() == [4.7, 5, True]
    assert rows.loc["both"].tolist() == [6, 10, False]
    assert rows.loc[["amps", "watts", "small"], "is_low_assumed"].tolist() == [False] * 3
    assert rows["amps_tx_low"].dropna().to_dict() == {"neither": 4.7, "both": 6, "amps": 6}
    assert rows["rf_watts_low"].dropna().to_dict() == {"neither": 5, "both": 10, "watts": 10}


def test_low_power_above_full_power_is_asked_about() -> None:
    text = "member,kit,item,kind,amps_tx,amps_tx_low,rf_watts,rf_watts_low\nQA1BC,box,set,mobile_vhf_uhf,11,12,50,60\n"
    said = {problem.column for problem in upload.read("inventory.csv", text.encode()).problems}
    assert said == {"amps_tx_low", "rf_watts_low"}


def test_posts_transmit_at_full_power_unless_told() -> None:
    told = small_club.read(
        events="event,starts,ends\nRide,2027-06-12T06:00,2027-06-12T18:00\n",
        posts="event,post,post_type,power_setting,check_in_min\nRide,Ford,aid_station,low,30\nRide,Mill,aid_station,,\n",
    ).table("post")
    assert told["power_setting"].tolist() == ["low", "high"]
    assert told["check_in_min"].tolist()[0] == 30 and pd.isna(told["check_in_min"].iloc[1])


def test_a_kit_says_whether_its_bags_are_marked_and_when_its_exposure_was_evaluated() -> None:
    told = small_club.read(
        kits="member,kit,labelled,rf_evaluated\nQA1BC,box,yes,2027-01-16\nQA1BC,bag,,\n"
    ).table("kit")
    rows = told.set_index("kit")
    assert rows.loc["box", ["is_labelled", "rf_evaluated"]].tolist() == [True, pd.Timestamp("2027-01-16")]
    assert rows.loc["bag", ["is_labelled", "rf_evaluated"]].isna().all()


# Bench of a county emergency group's portable box, VHF mobile: 0.30 A waiting, 0.31 A with audio, 4.7 A at 5 W,
# 7.2 A at 10 W, 10 A at 25 W.
HEAD = "member,kit,item,kind,capacity_ah,chemistry,amps_tx,amps_rx,amps_idle,rf_watts,volts_min,volts_max,charged,acquired,amps_tx_low,rf_watts_low\n"
BENCH = "QA1BC,box,set,mobile_vhf_uhf,,,10,0.31,0.30,25,11,15.9,,,{low}\n"
BATTERY = "QA1BC,box,battery,battery_lifepo4,{ah},lifepo4,,,,,12,14.4,2027-03-01,2027-01-16,,\n"
EVENT = "event,starts,ends,temp_min_c,public\nRide,2027-06-12T06:00,2027-06-12T18:00,20,yes\n"
SENT = "event,post,member,kit\nRide,Ford,QA1BC,box\n"


def at_post(setting: str, low: str = "4.7,5", ah: float = 10, least_w: float = 5) -> small_club.Club:
    """The radio of the bench at a busy post of twelve hours."""
    post = f"event,post,post_type,duty,rf_watts_min,power_setting,public_m\nRide,Ford,aid_station,busy,{least_w},{setting},1\n"
    things = HEAD + BENCH.format(low=low) + BATTERY.format(ah=ah)
    return small_club.read(inventory=things, events=EVENT, posts=post, assignments=SENT)


def runtime(*args: Any, **more: Any) -> pd.Series:
    return at_post(*args, **more).table("runtime").iloc[0]


@pytest.mark.parametrize(
    ("low", "tx_a"), [("4.7,5", "4.7"), ("7.2,10", "7.2")]
)  # fmt: skip
def test_a_post_on_low_power_draws_the_average_of_the_bench(low: str, tx_a: str) -> None:
    """Average current by duty (NCVEC T4A09): 10 % on transmit, 40 % with audio, 50 % waiting."""
    high, at_low = runtime("high", low), runtime("low", low)
    listening = 0.4 * 0.31 + 0.5 * 0.30
    assert at_low["load_w"] / high["load_w"] == pytest.approx(
        (0.1 * float(tx_a) + listening) / (1.0 + listening)
    )
    assert (high["amps_tx"], at_low["amps_tx"]) == (10, float(tx_a))
    # a fifth of the watts saves less than half of the current, and less current gives a little more of the capacity
    assert 1 < at_low["runtime_h"] * at_low["load_w"] / (high["runtime_h"] * high["load_w"]) < 1.05


def test_a_radio_that_tells_of_no_low_setting_counts_at_full_power_and_as_assumed() -> None:
    high, at_low = runtime("high", ","), runtime("low", "7,")
    assert (high["how"], at_low["how"], at_low["amps_tx"]) == ("told", "told", 7)
    club_of = at_post("low", ",10")
    row = club_of.table("runtime").iloc[0]
    assert (row["how"], row["amps_tx"], row["is_load_assumed"]) == ("assumed", 10, True)
    assert row["runtime_low_h"] < row["runtime_h"] == pytest.approx(high["runtime_h"])
    typical = runtime("low", ",")
    assert (typical["how"], typical["amps_tx"]) == ("assumed", 4.7)


def test_hours_at_low_power_are_those_of_the_post_set_to_low() -> None:
    high = runtime("high", ah=12)
    assert high["runtime_h"] < high["need_h"] == 12
    assert high["low_power_h"] == pytest.approx(runtime("low", ah=12)["runtime_h"])
    assert high["low_power_w"] == 5
    assert high["low_power_h"] > high["runtime_h"]
    (short,) = at_post("high", ah=12).answers("runs_out_before_the_shift_ends")
    assert f"watts at low power: 5; hours at low power: {down(high['low_power_h']):.1f}" in short.fix
    plenty = runtime("high", ah=100)
    assert plenty["runtime_h"] > 4 * 12 and pd.isna(plenty["low_power_h"]) and pd.isna(plenty["low_power_w"])


def test_a_kit_short_of_its_own_hours_tells_those_at_low_power() -> None:
    def kit(ah: float, low: str = "4.7,5") -> pd.Series:
        told = small_club.read(inventory=HEAD + BENCH.format(low=low) + BATTERY.format(ah=ah))
        return told.table("kit_runtime").iloc[0]

    short = kit(5)
    # 0.05 x 10 + 0.35 x 0.31 + 0.6 x 0.30 A against 0.05 x 4.7 + the same of listening
    listening = 0.35 * 0.31 + 0.6 * 0.30
    gain = (0.5 + listening) / (0.05 * 4.7 + listening)
    assert gain <= short["low_power_h"] / short["runtime_h"] < 1.05 * gain
    assert short["low_power_w"] == 5
    unknown, plenty = kit(5, "4.7,"), kit(40)
    assert unknown["low_power_h"] == short["low_power_h"] and pd.isna(unknown["low_power_w"])
    assert plenty["runtime_h"] > plenty["need_h"] and pd.isna(plenty["low_power_h"])


def test_the_post_gets_the_watts_of_its_setting() -> None:
    def pair(setting: str, low: str = "4.7,5") -> list[Any]:
        told = at_post(setting, low, least_w=10)
        return told.table("post_kit")[["has_watts", "rf_watts"]].iloc[0].tolist()

    assert pair("high") == [True, 25]
    assert pair("low") == [False, 5]
    assert pair("low", "4.7,") == [True, 25], "not told: at full power"
    (weak,) = at_post("low", least_w=10).answers("kit_below_the_power")
    assert "has 5 W at low power" in weak.sentence


def test_two_posts_that_differ_only_in_their_setting_get_each_its_own() -> None:
    both = "".join(f"Ride,{post},aid_station,busy,10,{post},1\n" for post in ("high", "low"))
    told = small_club.read(
        inventory=HEAD + BENCH.format(low="4.7,5") + BATTERY.format(ah=10),
        events=EVENT,
        posts="event,post,post_type,duty,rf_watts_min,power_setting,public_m\n" + both,
    )
    post = told.table("post").set_index("post_id")["power_setting"]
    watts = {"high": 25, "low": 5}
    pairs = told.table("post_kit").set_index("post_id")["rf_watts"]
    assert [(post[number], each) for number, each in pairs.items()] == [*watts.items()]
    of_pair = told.table("post_kit").set_index("post_kit_id")["post_id"]
    sent = told.table("exposure").set_index("post_kit_id")["rf_watts"]
    assert {post[of_pair[number]]: each for number, each in sent.items()} == watts
    assert len(sent) == 2


def test_people_keep_the_distance_of_the_watts_that_are_sent() -> None:
    def asked(setting: str, low: str = "4.7,5") -> pd.Series:
        return at_post(setting, low).table("exposure").iloc[0]

    high, at_low = asked("high"), asked("low")
    assert (high["rf_watts"], at_low["rf_watts"]) == (25, 5)
    assert high["public_safe_m"] / at_low["public_safe_m"] == pytest.approx(5**0.5)
    unknown = asked("low", "4.7,")
    assert (unknown["rf_watts"], unknown["public_safe_m"]) == (25, high["public_safe_m"])


def test_a_distance_is_told_where_watts_and_gain_are() -> None:
    antenna = {"kind": "mag_mount", "bands": "2m", "gain_dbi": 2.0}

    def how(setting: str, **low: float) -> str:
        radio = small_club.MOBILE | {"bands": "2m", "rf_watts": 25.0} | low
        told = small_club.assess(
            inventory=small_club.kit("QA1BC", "box", radio, antenna),
            events=[small_club.EVENT],
            posts=[{"event": "Ride", "post": "Ford", "post_type": "aid_station", "power_setting": setting}],
        )
        return str(told.table("exposure")["how"].iloc[0])

    assert how("high") == how("low", rf_watts_low=5.0) == "told"
    assert how("low") == how("low", amps_tx_low=4.7) == "assumed"


def test_brackets_in_which_no_figure_is_known_are_left_out_of_a_fix() -> None:
    rule = next(rule for rule in load_rules() if rule.name == "short_of_its_own_hours")
    told = {
        "short_wh": 120.0,
        "batteries_wanted": 1,
        "mending_kind": "battery_lifepo4",
        "each_wh": 230.0,
        "first": "",
        "with_fuse": "",
        "low_power_w": None,
        "low_power_h": None,
    }
    said = fill(rule, rule.fix, told, Policy.standard())
    assert "transmit at low power where the path allows it, or" in said and "(battery, LiFePO4: 1" in said
    half = fill(rule, rule.fix, told | {"low_power_w": 5.0}, Policy.standard())
    assert "(watts at low power: 5; hours at low power: not known)" in half


def test_what_mends_short_hours_is_a_pack_for_a_handheld_and_a_battery_for_what_else() -> None:
    rule = next(rule for rule in load_rules() if rule.name == "runs_out_before_the_shift_ends")
    assert remedy(rule, {"mending_kind": "handheld_pack"}) == "handheld_pack"
    assert remedy(rule, {}) == "battery_lifepo4"
