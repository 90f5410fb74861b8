"""What pages say is whole, has its unit and counts as people do."""

import pandas as pd
import pytest

from dashboard import evidence_tables, kits, parts, posts
from data import plain_words
from rules.policy import Policy
from rules.rule import load_rules, unfilled


@pytest.mark.parametrize("rule", load_rules(), ids=lambda rule: rule.name)
def test_the_rule_book_shows_no_places_to_fill(rule):
    policy = Policy.standard()
    said = [unfilled(rule, text, policy) for text in (rule.not_met, rule.not_known, rule.fix)]
    assert not any(brace in text for text in said for brace in "{}")


def test_the_rule_book_says_what_a_rule_compares_with_and_leaves_open_what_a_finding_tells():
    rule = next(rule for rule in load_rules() if rule.name == "no_margin_on_the_clock")
    own = Policy.parse("[rules.no_margin_on_the_clock]\nmargin = 1.5\n")
    assert unfilled(rule, rule.not_met, own) == "…: …'s … lasts … h for … h…; plan for 1.50 times the hours."


@pytest.mark.parametrize(
    ("enough", "says"),
    [
        (["too little"], "The one kit does not last as long as planned"),
        (["enough"], "The one kit lasts as long as planned"),
        (["may fall short"], "The one kit may not last as long as planned"),
        (["enough", "not known"], "1 of 2 kits lasts as long as planned, 1 is in doubt"),
        (["too little", "enough", "enough"], "2 of 3 kits last as long as planned"),
        (
            ["too little", "not known", "may fall short"],
            "0 of 3 kits last as long as planned, 2 are in doubt",
        ),
    ],
)
def test_kits_are_counted_as_people_count(enough, says):
    assert kits.hours_title(pd.DataFrame({"enough": enough})) == says


@pytest.mark.parametrize(
    ("low", "high", "says"),
    [
        (5.04, 7.56, "5.0 to 7.5 h of 7.0 h"),
        (7.5, 7.5, "7.5 h of 7.0 h"),
        (240.0, 240.0, "240 h or more of 7.0 h"),
        (79.8, 240.0, "79 to 240 h or more of 7.0 h"),
        (float("nan"), 7.5, "hours not known, 7.0 h wanted"),
    ],
)
def test_hours_are_said_with_their_unit_and_no_further_than_they_were_looked_at(low, high, says):
    assert posts.hours_words(low, high, 7.0) == says


def test_figures_of_hours_are_named_with_their_units_and_no_finer_than_anyone_reads():
    row = {"subject": "box", "low": 4.7727, "high": 10.7385, "need": 7.25, "load_w": 4.3, "energy_wh": 66.25}
    told = kits.hours_numbers(
        pd.DataFrame(
            [row | {"limited_by": "stored energy", "duty": "post", "enough": "too little", "says": ""}]
        )
    )
    assert list(told.columns[:4]) == ["kit", "enough", "least (h)", "most (h)"]
    assert told.loc[0, ["least (h)", "most (h)", "wanted (h)"]].tolist() == [4.7, 10.7, 7.3]
    assert not any("_" in name for name in told)


def test_tables_behind_charts_are_headed_as_people_speak_and_hold_no_words_of_files():
    told = evidence_tables.headed(
        pd.DataFrame([(1, "rf_pigtail", 0.25, 12.0)], columns=["not_met", "kind", "gap_share", "budget_usd"])
    )
    assert list(told) == ["not met", "kind", "gap (share)", "budget (USD)"]
    assert told.loc[0, "kind"] == plain_words.kinds()["rf_pigtail"] != "rf_pigtail"
    mixed = evidence_tables.headed(pd.DataFrame([(2.0, 3.0)], columns=["weight_kg", "volts_v"]))
    assert not any("_" in name for name in mixed)


def test_a_narrow_cell_breaks_behind_the_slash():
    assert parts.breaking("QA1BCD/Club tote").replace("\\", "") == "QA1BCD/\u200bClub tote"
