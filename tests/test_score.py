"""The asks of a member and what a change would do agree with judging the changed club again."""

import pandas as pd
import pytest

from rules import engine, score
from tests.small_club import TODAY


def test_at_most_three_asks_of_different_rules(assessment: engine.Assessment) -> None:
    for member in assessment.table("member")["member"]:
        steps = score.next_steps(assessment, member)
        assert len(steps) <= 3
        assert len({step.rule for step in steps}) == len(steps)
        assert all(step.fix for step in steps)


def test_what_blocks_is_asked_first(assessment: engine.Assessment) -> None:
    scores = assessment.scores()
    kits = scores[(scores["subject_kind"] == "kit") & (scores["verdict"] == "not ready")]
    assert len(kits)
    for member in kits["member"].unique():
        assert score.next_steps(assessment, member)[0].severity == "blocks"


@pytest.mark.parametrize("kind", ["kit", "member", "post", "event"])
def test_the_verdict_before_any_change_is_the_scored_one(assessment: engine.Assessment, kind: str) -> None:
    scores = assessment.scores()
    for row in scores[scores["subject_kind"] == kind].head(25).itertuples():
        assert score.verdict(score.answers(assessment, kind, row.subject)) == row.verdict, row.subject


def test_points_promised_are_points_gained(
    frames: dict[str, pd.DataFrame], assessment: engine.Assessment
) -> None:
    """Writing down every charge date moves the low end of the score by what `changes` says."""
    before = assessment.scores().query("subject_kind == 'kit'").set_index("subject")
    kit = next(
        subject
        for subject in before.index
        if "not_charged_lately" in set(score.changes(assessment, "kit", subject)["rule"])
    )
    promised = score.changes(assessment, "kit", kit).set_index("rule").loc["not_charged_lately"]
    inventory = frames["inventory"].copy()
    inventory["charged"] = pd.Timestamp(TODAY)
    inventory["charged"] = inventory["charged"].astype(frames["inventory"]["charged"].dtype)
    rules = tuple(rule for rule in assessment.rules if rule.name != "short_of_its_own_hours")
    base = engine.assess(frames, today=TODAY, rules=rules).scores().set_index("subject").loc[kit]
    after = (
        engine.assess({**frames, "inventory": inventory}, today=TODAY, rules=rules)
        .scores()
        .set_index("subject")
        .loc[kit]
    )
    assert after["low"] > base["low"]
    assert promised["low_points"] == pytest.approx(after["low"] - base["low"], abs=1.5)


def test_mending_what_blocks_changes_the_verdict(assessment: engine.Assessment) -> None:
    scores = assessment.scores()
    blocked = scores[(scores["subject_kind"] == "kit") & (scores["verdict"] == "not ready")]["subject"].iloc[
        0
    ]
    table = score.changes(assessment, "kit", blocked)
    assert set(table["severity"]) <= set(engine.SEVERITIES)
    assert (table["low_points"] >= table["high_points"]).all()
