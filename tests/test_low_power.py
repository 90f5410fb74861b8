"""A radio's low power: as told, as its kind's, and what a post that asks for it gains."""

from __future__ import annotations

from datetime import date

import pandas as pd

from data import upload
from rules import engine
from rules.policy import Policy

TODAY = date(2027, 3, 1)


def club(**files: str) -> engine.Assessment:
    frames: dict[str, pd.DataFrame] = {}
    for stem, text in files.items():
        read = upload.read(f"{stem}.csv", text.encode())
        assert read.frame is not None, [str(problem) for problem in read.problems]
        frames[stem] = read.frame
    return engine.assess(frames, Policy.standard(), TODAY)


def test_a_low_setting_is_told_whole_or_taken_from_the_kind_whole() -> None:
    told = club(
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
    told = club(
        events="event,starts,ends\nRide,2027-06-12T06:00,2027-06-12T18:00\n",
        posts="event,post,post_type,power_setting,check_in_min\nRide,Ford,aid_station,low,30\nRide,Mill,aid_station,,\n",
    ).table("post")
    assert told["power_setting"].tolist() == ["low", "high"]
    assert told["check_in_min"].tolist()[0] == 30 and pd.isna(told["check_in_min"].iloc[1])


def test_a_kit_says_whether_its_bags_are_marked_and_when_its_exposure_was_evaluated() -> None:
    told = club(kits="member,kit,labelled,rf_evaluated\nQA1BC,box,yes,2027-01-16\nQA1BC,bag,,\n").table("kit")
    rows = told.set_index("kit")
    assert rows.loc["box", ["is_labelled", "rf_evaluated"]].tolist() == [True, pd.Timestamp("2027-01-16")]
    assert rows.loc["bag", ["is_labelled", "rf_evaluated"]].isna().all()
