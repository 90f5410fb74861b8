"""After an event: the duty behind the charge that is left, and the rows that a report changes."""

from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest

from data import upload, writing
from rules.engine import Assessment, assess
from rules.physics import discharge
from rules.plans import after, report
from rules.policy import Policy
from tests import small_club
from tests.small_club import ANTENNA, BATTERY, COAX, EVENT, LEAD, MOBILE, TODAY, frame, kit

PEOPLE = ("Q1AAA", "Q2BBB", "Q3CCC")
RADIO = MOBILE | {"amps_tx": 10.0, "amps_rx": 1.0, "amps_idle": 0.5, "volts_min": 10.5}
WHOLE = BATTERY | {"chemistry": "lifepo4", "volts_min": 10.0, "volts_max": 14.4}
WHOLE |= {"acquired": pd.Timestamp("2026-06-01")}
RIDE = EVENT | {"temp_min_c": 0.0, "temp_max_c": 20.0}
HOURS = 6.0
ONE = np.array([1.0])


def told(**rehearsed: Any) -> dict[str, pd.DataFrame]:
    """Three like stations at three posts of one duty; each reports as told by member."""
    things = [thing for member in PEOPLE for thing in kit(member, "box", RADIO, WHOLE, LEAD, ANTENNA, COAX)]
    posts = [
        {"event": "Ride", "post": f"Mile {n}", "post_type": "aid_station", "duty": "busy"} for n in (1, 2, 3)
    ]
    sent = [
        {"event": "Ride", "post": f"Mile {n}", "member": member, "kit": "box"}
        for n, member in enumerate(PEOPLE, 1)
    ]
    rows = [
        {"member": member, "kit": "box", "date": pd.Timestamp("2027-04-25"), "stage": "event", "event": "Ride"}
        | {"post": f"Mile {n}"} | rehearsed[member]
        for n, member in enumerate(PEOPLE, 1)
        if member in rehearsed
    ]  # fmt: skip
    stems = {"inventory": things, "events": [RIDE], "posts": posts, "assignments": sent, "rehearsals": rows}
    return {stem: frame(stem, rows) for stem, rows in stems.items()}


def left_after(hours: float, tx: float, rx: float, idle: float, tx_a: float = 10.0) -> float:
    """Charge left (%) that the project's own discharge finds for the station at 0 °C, with nothing held back."""
    run = discharge.simulate(
        20.0, "lifepo4", 0.0, 1.0, 0.0, 0.0, tx_a, 1.0, 0.5, tx, rx, idle, 0.0, 10_000.0, 12.2, 0.0
    )
    return float(100 * (1 - hours / run.energy_h))


def judged(frames: dict[str, pd.DataFrame], policy: Policy | None = None) -> Assessment:
    return assess(frames, policy, TODAY)


def test_current_follows_from_the_charge_that_is_left_by_hand() -> None:
    # 20 Ah without Peukert: half of it in 5 h is 2 A
    plain = after.Pieces(np.array([20.0]), ONE, ONE, ONE)
    assert after.measured_current_a(plain, 0.5, 5.0) == pytest.approx(2.0, rel=1e-6)
    # two of them, and a panel that brings 1 A: 20 Ah used in 5 h, 4 A from the battery
    pair = after.Pieces(np.array([20.0]), ONE, ONE, 2 * ONE)
    assert after.measured_current_a(pair, 0.5, 5.0, put_in_a=1.0) == pytest.approx(5.0, rel=1e-6)
    assert after.measured_current_a(plain, 0.0, 5.0) == 0.0


def test_duty_follows_from_the_current_by_hand() -> None:
    # off: half of 1 A, half of 0.5 A and 0.25 A beside = 1 A; on: 10.25 A; 1.925 A is a tenth of the way
    draw = after.Draw(10.0, 1.0, 0.5, 0.25, 1.0, 0.5)
    assert draw.tx_share(1.925) == pytest.approx(0.1)
    assert draw.current_a(0.1) == pytest.approx(1.925)
    assert np.isnan(after.Draw(1.0, 1.0, 1.0, 0.0, 1.0, 0.5).tx_share(1.0)), "transmitting draws no more"


@pytest.mark.parametrize("tx", [0.05, 0.1, 0.15])
def test_what_the_discharge_was_run_at_is_found_again(tx: float) -> None:
    # the profile busy waits 0.4 : 0.5, so that share of listening holds for the rest of the time
    rx, idle = (1 - tx) * 0.4 / 0.9, (1 - tx) * 0.5 / 0.9
    left = left_after(HOURS, tx, rx, idle)
    frames = told(Q1AAA={"hours_on_battery": HOURS, "battery_left_pct": left})
    (row,) = after.observations(judged(frames), "Ride").to_dict("records")
    assert row["reading"] == "measured", row["why"]
    assert row["measured_share"] == pytest.approx(tx, abs=1e-6)
    assert row["average_a"] == pytest.approx(10 * tx + 1 * rx + 0.5 * idle, rel=1e-6)
    assert row["measured_low_share"] < tx < row["measured_high_share"]
    own = Policy.parse(f"[duty.busy]\ntx_share = {tx}\nrx_share = {rx}\nidle_share = {idle}\n")
    (again,) = after.observations(judged(frames, own), "Ride").to_dict("records")
    assert again["predicted_left_share"] == pytest.approx(left / 100, abs=1e-6)
    assert again["predicted_h"] == pytest.approx(row["lasts_h"], rel=1e-3), "predicted with the measured duty"
    assert row["lasts_low_h"] < row["lasts_h"] < row["lasts_high_h"]


def test_a_post_on_low_power_is_read_at_the_current_of_it() -> None:
    left = left_after(HOURS, 0.1, 0.4, 0.5, tx_a=4.0)
    frames = told(Q1AAA={"hours_on_battery": HOURS, "battery_left_pct": left})
    frames["inventory"].loc[frames["inventory"]["kind"] == "mobile_vhf_uhf", "amps_tx_low"] = 4.0
    frames["posts"]["power_setting"] = "low"
    (row,) = after.observations(judged(frames)).to_dict("records")
    assert row["measured_share"] == pytest.approx(0.1, abs=1e-6)
    assert row["predicted_left_share"] == pytest.approx(left / 100, abs=1e-6)
    frames["inventory"]["amps_tx_low"] = float("nan")
    (typical,) = after.observations(judged(frames)).to_dict("records")
    width = "measured_low_share", "measured_high_share"
    told_width, assumed_width = (each[width[1]] - each[width[0]] for each in (row, typical))
    assert assumed_width > 1.2 * told_width, "what is only typical widens the range"


@pytest.mark.parametrize(
    ("radios", "batteries", "left"), [(1, 1, 63.6), (2, 2, 63.6), (2, 1, 27.2), (1, 2, 81.8)]
)
def test_of_several_radios_that_are_on_at_once_each_draws_from_its_own(
    radios: int, batteries: int, left: float
) -> None:
    """Each draws 0.3 x 11 + 0.3 x 0.6 + 0.4 x 0.4 = 3.64 A; in 2 h 7.28 of the 20 Ah of a battery, or 14.56 of one for two."""
    radio = MOBILE | {"amps_tx": 11.0, "amps_rx": 0.6, "amps_idle": 0.4}
    parts = [thing | {"quantity": radios} for thing in (radio, LEAD, COAX, ANTENNA)]
    club = small_club.assess(
        "[chemistry.lifepo4]\npeukert = 1.0",
        inventory=kit("Q1AAA", "box", *parts, WHOLE | {"quantity": batteries}),
        events=[RIDE | {"temp_min_c": 25.0, "temp_max_c": 25.0}],
        posts=[{"event": "Ride", "post": "Desk", "post_type": "digital", "bands": "2m", "modes": "fm", "mains": False}],
        assignments=[{"event": "Ride", "post": "Desk", "member": "Q1AAA", "kit": "box"}],
        rehearsals=[
            {"member": "Q1AAA", "kit": "box", "date": pd.Timestamp("2027-02-20"), "stage": "event", "event": "Ride"}
            | {"post": "Desk", "hours_on_battery": 2.0, "battery_left_pct": left}
        ],
    )  # fmt: skip
    club.table("runtime")
    (row,) = after.observations(club).to_dict("records")
    assert row["measured_share"] == pytest.approx(0.3)
    assert row["predicted_left_share"] == pytest.approx(left / 100)


def test_without_the_charge_left_only_the_most_is_known() -> None:
    (row,) = after.observations(judged(told(Q1AAA={"hours_on_battery": HOURS}))).to_dict("records")
    assert row["reading"] == "at most" and np.isnan(row["measured_share"])
    # at 0 °C a LiFePO4 gives 0.8 of its 20 Ah: 16 Ah in 6 h are at most 2.7 A, a little less by Peukert
    assert 2.5 < row["average_high_a"] < 16 / 6


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"battery_left_pct": 50.0}, "how long it ran"),
        ({"hours_on_battery": 6.0, "battery_left_pct": 99.5}, "no share of time"),
        ({"hours_on_battery": 6.0, "battery_left_pct": 50.0, "post": "Mile 9"}, "no file names this post"),
        ({"hours_on_battery": 6.0, "battery_left_pct": 50.0, "faulty": "battery_lifepo4"}, "has failed"),
    ],
)
def test_what_cannot_be_worked_out_says_why(said: dict[str, Any], why: str) -> None:
    frames = told(Q1AAA=said)
    if "faulty" in said:
        is_it = frames["inventory"]["item"].eq(said["faulty"]) & frames["inventory"]["member"].eq("Q1AAA")
        frames["inventory"].loc[is_it, "condition"] = "faulty"
    if said.get("battery_left_pct") == 99.5:
        frames["rehearsals"]["hours_on_battery"] = 60.0
    (row,) = after.observations(judged(frames)).to_dict("records")
    assert row["reading"] == "not known" and why in row["why"]
    assert np.isnan(row["measured_share"]) or "no share" in why


def test_a_profile_is_corrected_by_the_middle_of_enough_stations() -> None:
    shares = dict(zip(PEOPLE, (0.02, 0.03, 0.2), strict=True))
    rehearsed = {}
    for member, tx in shares.items():
        left = left_after(HOURS, tx, (1 - tx) * 0.4 / 0.9, (1 - tx) * 0.5 / 0.9)
        rehearsed[member] = {"hours_on_battery": HOURS, "battery_left_pct": left}
    club = judged(told(**rehearsed))
    found = after.observations(club)
    (correction,) = after.corrections(club, found)
    assert (correction.duty, correction.stations, correction.was) == ("busy", 3, 0.1)
    assert correction.tx_share == 0.03
    assert correction.tx_share + correction.rx_share + correction.idle_share == pytest.approx(1, abs=1e-12)
    assert correction.is_enough and correction.low < 0.03 < correction.high
    (fewer,) = after.corrections(club, found.head(2))
    assert not fewer.is_enough
    two = judged(told(**rehearsed), Policy.parse("[facts]\nleast_stations = 2"))
    (enough,) = after.corrections(two, found.head(2))
    assert enough.is_enough, "a club may be content with fewer"


def test_a_club_says_how_far_its_gauges_may_be_off() -> None:
    frames = told(Q1AAA={"hours_on_battery": HOURS, "battery_left_pct": 50.0})
    width = "measured_low_share", "measured_high_share"
    usual, sharp = (
        after.observations(judged(frames, Policy.parse(f"[facts]\ngauge_share = {share}"))).iloc[0]
        for share in (0.1, 0.02)
    )
    assert usual["measured_share"] == sharp["measured_share"]
    assert sharp[width[1]] - sharp[width[0]] < usual[width[1]] - usual[width[0]]


def test_a_correction_leaves_the_rest_of_the_policy_alone() -> None:
    made = after.Correction("busy", 3, 0.1, 0.03, 0.43, 0.54, 0.01, 0.05, 3)
    own = "# ours\n[duty.quiet]\ntx_share = 0.1\nrx_share = 0.2\nidle_share = 0.7 # told\n[duty.busy]\ntx_share = 0.5\nrx_share = 0.5\nidle_share = 0.0\n[weight]\nadvice = 0.5\n"
    for text in ("", own, "[weight]\nadvice = 0.5\n"):
        policy = Policy.parse(after.with_duty(text, made))
        assert policy.duty["busy"] == {"tx_share": 0.03, "rx_share": 0.43, "idle_share": 0.54}
        assert policy.weight["advice"] == (0.5 if text else 1)
    assert "# ours" in after.with_duty(own, made) and "# told" in after.with_duty(own, made)


def test_a_kit_that_comes_on_from_another_post_begins_with_what_was_left_there() -> None:
    """30 % in the first four hours and 30 % in the next are one current; after a night it is full again."""
    frames = told()
    at = {
        "Mile 1": ("25 06:00", "25 10:00"),
        "Mile 2": ("25 11:00", "25 15:00"),
        "Mile 3": ("26 06:00", "26 10:00"),
    }
    frames["events"]["ends"] = pd.Timestamp("2027-04-26 12:00")
    for column, which in (("opens", 0), ("closes", 1)):
        frames["posts"][column] = [
            pd.Timestamp(f"2027-04-{at[post][which]}") for post in frames["posts"]["post"]
        ]
    frames["assignments"] = frame(
        "assignments",
        [{"event": "Ride", "post": post, "member": member, "kit": "box"} for post in at for member in PEOPLE],
    )
    one = {
        "kit": "box",
        "date": pd.Timestamp("2027-04-25"),
        "stage": "event",
        "event": "Ride",
        "hours_on_battery": 4.0,
    }
    left = {"Q1AAA": (70.0, 40.0, 70.0), "Q2BBB": (None, 40.0, 70.0), "Q3CCC": (40.0, 70.0, 70.0)}
    frames["rehearsals"] = frame("rehearsals", [
        one | {"member": member, "post": post, "battery_left_pct": pct}
        for member, told_of in left.items() for post, pct in zip(at, told_of, strict=True)
    ])  # fmt: skip
    found = after.observations(judged(frames), "Ride").set_index(["member", "post"])
    amps = found.loc["Q1AAA", "average_a"]
    assert amps["Mile 1"] > 0 and amps.to_numpy() == pytest.approx(amps["Mile 1"])
    plan = found.loc["Q1AAA", "predicted_left_share"]
    assert plan["Mile 3"] == plan["Mile 1"] and plan["Mile 2"] == pytest.approx(plan["Mile 1"] - 0.3)
    wide = found["measured_high_share"] - found["measured_low_share"]
    assert wide["Q1AAA", "Mile 2"] > wide["Q1AAA", "Mile 1"], "the gauge was read twice"
    assert found["why"]["Q2BBB", "Mile 2"].startswith("it came on from another post")
    assert found["why"]["Q3CCC", "Mile 2"].endswith("it was charged in between")
    assert found["reading"].tolist().count("not known") == 2


# ---- the report


def reported(frames: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """A report on the first kit: hours, charge, a lead that failed, a coax that was not there, and a stool."""
    filled = report.sheet(frames, "Ride")
    filled.loc[0, ["hours_on_battery", "battery_left_pct", "also_missing"]] = [5.5, 40.0, "folding stool"]
    known = report.things(frames, "Ride").query("member == 'Q1AAA'").set_index("item")["place"]
    return report.changed(frames, "Ride", filled, {known["dc_lead"]: 1}, {known["coax"]: 1})


def test_a_report_changes_the_rows_of_its_kit_and_no_others() -> None:
    earlier = {"hours_on_battery": 1.0, "stage": "yard", "event": None, "post": None}
    frames = told(Q1AAA=earlier, Q2BBB=earlier)
    files = reported(frames)
    practice, held = files["rehearsals"], files["inventory"]
    assert set(practice["member"]) == set(held["member"]) == {"Q1AAA"}
    assert practice["stage"].tolist() == ["yard", "event"], "what was told before stays"
    new = practice.iloc[1]
    assert (new["post"], new["hours_on_battery"], new["battery_left_pct"]) == ("Mile 1", 5.5, 40.0)
    assert (new["faulty"], new["missing"]) == ("dc_lead", "coax; folding stool")
    conditions = held.set_index("item")["condition"]
    assert conditions["dc_lead"] == "faulty" and conditions["coax"] == "removed"
    assert conditions.drop(["dc_lead", "coax"]).isna().all() and len(held) == 5
    for stem, rows in files.items():
        again = upload.read(f"{stem}.csv", writing.csv_of(stem, rows), stem, limits=upload.FOLDER)
        assert not again.problems and len(again.frame) == len(rows)


def test_pieces_of_a_line_that_failed_or_were_missing_stand_in_lines_of_their_own() -> None:
    """Of four batteries one failed and one was left at home: two work, and no name in the report means these."""
    frames = told()
    held = frames["inventory"]
    lot = held[held["member"].eq("Q1AAA") & held["kind"].eq("battery_lifepo4")].index[0]
    held.loc[lot, ["item", "quantity"]] = ["lot", 4]
    files = report.changed(frames, "Ride", report.sheet(frames, "Ride"), {lot: 1}, {lot: 1})
    said = files["rehearsals"].iloc[0]
    assert (said["faulty"], said["missing"]) == ("lot (1 of 4)", "lot (1 of 3)")
    rows = files["inventory"].query("item.str.startswith('lot')")[["item", "quantity", "condition"]]
    assert rows.fillna("").to_numpy().tolist() == [
        ["lot", 2, ""], ["lot (1 of 4)", 1, "faulty"], ["lot (1 of 3)", 1, "removed"],
    ]  # fmt: skip
    assert len(files["inventory"]) == 7, "no other line changes"
    others = held[held["member"] != "Q1AAA"]
    then = frames | files | {"inventory": pd.concat([files["inventory"], others], ignore_index=True)}
    assert report.still_listed(then, "Ride").empty
    works = small_club.Club(then, today=date(2027, 5, 1)).table("item").query("item == 'lot'")
    assert works["condition"].tolist() == ["ok"], "it is not in doubt"
    again = report.chosen_before(then, "Ride", "faulty")
    assert then["inventory"].loc[again, "item"].tolist() == ["lot (1 of 4)"]


def test_a_report_told_again_takes_the_place_of_the_first() -> None:
    frames = told()
    files = reported(frames)
    first = frames["inventory"]
    merged = pd.concat([files["inventory"], first[first["member"] != "Q1AAA"]], ignore_index=True)
    frames |= {"rehearsals": files["rehearsals"], "inventory": merged}
    filled = report.sheet(frames, "Ride")
    assert filled.loc[0, "hours_on_battery"] == 5.5 and filled.loc[0, "also_missing"] == "folding stool"
    failed = report.chosen_before(frames, "Ride", "faulty")
    missing = report.chosen_before(frames, "Ride", "missing")
    assert merged.loc[failed, "item"].tolist() == ["dc_lead"] and merged.loc[missing, "item"].tolist() == [
        "coax"
    ]
    filled.loc[0, "hours_on_battery"] = 6.0
    again = report.changed(frames, "Ride", filled, dict.fromkeys(failed, 1), dict.fromkeys(missing, 1))
    assert again["rehearsals"]["hours_on_battery"].tolist() == [6.0]
    assert "inventory" not in again, "nothing more changes there"


def test_nothing_told_changes_nothing() -> None:
    frames = told()
    assert report.changed(frames, "Ride", report.sheet(frames, "Ride"), {}, {}) == {}
    assert report.sheet(frames, "Ride")["planned_h"].tolist() == [6.0] * 3


def test_what_failed_and_still_counts_is_listed() -> None:
    frames = told(Q2BBB={"faulty": "dc_lead; a stool", "missing": "coax"})
    rows = report.still_listed(frames, "Ride")
    assert rows[["member", "item", "after"]].to_numpy().tolist() == [
        ["Q2BBB", "dc_lead", "faulty"],
        ["Q2BBB", "coax", "removed"],
    ]
    held, day = frames["inventory"], frames["rehearsals"]["date"].iloc[0]
    held.loc[held["item"].eq("dc_lead"), "tested"] = day + pd.Timedelta(days=1)
    assert report.still_listed(frames, "Ride")["item"].tolist() == ["coax"], (
        "what was tested since works again"
    )
