"""Hours on the air are said in one way wherever they stand, and no further than they were looked at."""

from dataclasses import replace
from types import SimpleNamespace

import pandas as pd
import pytest

from dashboard import after, change_commands, curves, evidence_tables, posts
from dashboard.sheets import told
from rules import facts, on_air
from rules.plans.after import observations
from rules.policy import Policy
from rules.rule import evidence, fill, load_rules

from .plans.test_after import HOURS, judged
from .plans.test_after import told as club_told


def test_the_words_of_evidence_that_are_hours_on_the_air_are_known():
    named = {name for name, said in evidence().items() if said["label"].startswith("hours on the air")}
    assert named | {"low_power_h"} == set(on_air.EVIDENCE) <= set(evidence())


def test_the_card_of_a_finding_says_them():
    given = {"runtime_h": 7.3, "runtime_high_h": 240.0, "need_h": 240.0}
    club = judged(club_told())
    found = next(iter(club.findings("true", [])))
    shown = evidence_tables.evidence_frame([replace(found, evidence=given, lines=[])]).iloc[0]
    assert shown.tolist() == ["7.3", "240 or more", "240.0"]


def test_the_sentence_of_a_rule_says_them():
    rule = next(rule for rule in load_rules() if rule.name == "runs_out_before_the_shift_ends")
    row = dict.fromkeys((*evidence(), "subject", "member", "kit"), 1.0) | {
        "runtime_h": 240.0,
        "need_h": 240.0,
        "low_power_h": 240.0,
    }
    assert "lasts 240 h or more of 240.0 h" in fill(rule, rule.not_met, row, Policy.standard())
    assert "hours at low power: 240 or more)" in fill(rule, rule.fix, row, Policy.standard())
    assert "hours at low power: 239)" in fill(rule, rule.fix, row | {"low_power_h": 239.9}, Policy.standard())


@pytest.mark.parametrize(
    ("hours", "need", "given", "asked"),
    [
        (8.86, 9.0, "8.8", "9.0"),
        (7.96, 7.97, "7.9", "8.0"),
        (0.04, 0.25, "0.0", "0.3"),
        (24.97, 25.2, "24", "25.2"),
    ],
)
def test_the_same_hours_read_the_same_in_a_finding_its_table_a_chart_and_on_paper(hours, need, given, asked):
    """Those given are rounded down and those asked for up: 8.86 h are 8.8 h, and 7.97 h are asked for as 8.0 h."""
    rules = {rule.name: rule for rule in load_rules()}
    row = dict.fromkeys((*evidence(), "subject", "member", "kit"), "x") | {"need_h": need, "load_w": 1.0}
    row |= dict.fromkeys(("runtime_h", "least_h", "low_power_h"), hours)
    for name in ("runs_out_before_the_shift_ends", "short_of_its_own_hours", "no_margin_on_the_clock"):
        said = fill(rules[name], rules[name].not_met, row, Policy.standard())
        assert f"lasts {given} h " in said and f" {asked} h" in said, said
        if name != "short_of_its_own_hours":
            assert f"low power: {given})" in fill(rules[name], rules[name].fix, row, Policy.standard())
    assert posts.hours_words(hours, hours, need) == f"{given} h of {asked} h"
    assert (told.hours(hours, hours), told.needed(need)) == (f"{given} h", f"{asked} h")
    frame = pd.DataFrame([{"low": hours, "high": hours, "need": need}])
    assert posts.as_said(frame).loc[0].tolist() == [float(given), float(given), float(asked)]
    curve = pd.DataFrame([{"runtime_h": hours, "need_h": need, "limited_by": "stored energy"}])
    assert curves.title(curve).endswith(f"after {given} h of {asked} h")
    figures = curves.numbers(curve)[["runtime_h", "need_h"]]
    assert figures.loc[0].tolist() == [float(given), float(asked)]
    club = judged(club_told())
    found = replace(next(iter(club.findings())), lines=[], evidence={"runtime_h": hours, "need_h": need})
    assert evidence_tables.evidence_frame([found]).iloc[0].tolist() == [given, asked]
    with facts.blank() as con:
        in_sql = con.execute("select hours_given(?), hours_asked(?)", [hours, need]).fetchone()
    assert in_sql == (f"{given} h", f"{asked} h")


def test_hours_that_are_enough_read_no_less_than_the_shift():
    """8.27 h are no less than 8.25 h, though tenths would have it so."""
    rule = next(rule for rule in load_rules() if rule.name == "no_margin_on_the_clock")
    row = dict.fromkeys((*evidence(), "subject", "member", "kit"), "x") | {"least_h": 8.27, "need_h": 8.25}
    assert "lasts 8.27 h for 8.25 h" in fill(rule, rule.not_met, row, Policy.standard())


@pytest.mark.parametrize(
    ("low", "high", "need", "given", "asked"),
    [
        (8.27, 8.27, 8.25, "8.27 h", "8.25 h"),
        (8.27, 9.06, 8.25, "8.27 to 9.0 h", "8.25 h"),
        (8.1, 8.27, 8.25, "8.1 to 8.27 h", "8.25 h"),
        (8.335, 8.335, 25 / 3, "8.335 h", "8.334 h"),
        (8.3, 8.3, 8.25, "8.3 h", "8.3 h"),
        (25.5, 25.5, 25.2, "25.5 h", "25.2 h"),
    ],
)  # fmt: skip
def test_hours_that_are_enough_read_so_wherever_they_stand_beside_the_shift(low, high, need, given, asked):
    assert posts.hours_words(low, high, need) == f"{given} of {asked}"
    sent = {
        "is_on_mains": False,
        "untold": None,
        "runtime_low_h": low,
        "runtime_high_h": high,
        "need_h": need,
    }
    assert (told.lasts(sent), told.shift_needs(sent)) == (given, asked)
    shown = posts.as_said(
        pd.DataFrame([sent]).rename(columns=lambda name: name.removeprefix("runtime_").removesuffix("_h"))
    )
    assert f"{shown['high'].iloc[0]} h" == given.split(" to ")[-1] and f"{shown['need'].iloc[0]} h" == asked
    if low == high:
        found = SimpleNamespace(evidence={"runtime_h": low, "need_h": need}, lines=[])
        assert evidence_tables.evidence_frame([found]).iloc[0].tolist() == [given[:-2], asked[:-2]]
        curve = pd.DataFrame([{"runtime_h": low, "need_h": need, "limited_by": "stored energy"}])
        assert curves.title(curve) == f"Lasts the shift of {asked}: the charge is used up after {given}"
        assert curves.numbers(curve).loc[0, ["runtime_h", "need_h"]].tolist() == [
            float(given[:-2]),
            float(asked[:-2]),
        ]


@pytest.mark.parametrize(
    ("low", "high", "is_more_open", "says"),
    [(240.0, 240.0, False, "240 h or more"), (79.8, 240.0, False, "79 to 240 h or more"),
     (23.94, 157.4, False, "23.9 to 157 h"), (24.6, 240.0, True, "at least 24 h"),
     (240.0, 240.0, True, "240 h or more"),
     (7.5, 9.0, True, "at least 7.5 h"), (7.52, 7.53, False, "7.5 h"), (None, 7.5, False, "not known")],
)  # fmt: skip
def test_sheets_say_them(low, high, is_more_open, says):
    sent = {"is_on_mains": False, "untold": is_more_open, "runtime_low_h": low, "runtime_high_h": high}
    assert told.lasts(sent | {"need_h": None}) == says
    if low is not None:
        assert posts.hours_words(low, high, float("nan"), False, is_more_open) == says


def test_the_page_and_the_command_after_an_event_say_them(capsys):
    found = observations(judged(club_told(Q2BBB={"hours_on_battery": HOURS, "battery_left_pct": 40.0})))
    found = after.ran(
        found.assign(predicted_low_h=79.8, predicted_high_h=240.0, lasts_h=240.0, lasts_high_h=240.0)
    )
    (row,) = [row for rows in after.chart(found, "x").to_dict()["datasets"].values() for row in rows]
    assert row["hours"] == "240 h or more measured, 79 to 240 h or more predicted"
    change_commands._measured("Ride", found)
    assert "\t79 to 240 or more\t" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("low", "high", "need", "says"),
    [
        (7.96, 7.96, 8.0, "7.9 h / 8.0 h"),
        (8.2, 8.3, 8.25, "8.2 to 8.3 h / 8.3 h"),
        (23.99, 47.9, 24.0, "23.9 to 47 h / 24.0 h"),
    ],
)
def test_what_is_given_is_rounded_down_and_what_is_asked_for_up(low, high, need, says):
    assert f"{told.hours(low, high)} / {told.needed(need)}" == says
    assert posts.hours_words(low, high, need) == says.replace(" / ", " of ")
