"""What is worked out of a small club where a test asks for it is what the club judged whole says."""

from __future__ import annotations

import pandas as pd
import pytest

from rules import engine, facts
from tests.small_club import Club


def test_facts_and_answers_asked_for_alone_are_those_of_the_whole(
    frames: dict[str, pd.DataFrame], assessment: engine.Assessment
) -> None:
    """The last facts and rules are asked for first, so that what they rest on is not there yet."""
    alone = Club(frames)
    found = assessment.findings(with_met=True)
    for rule in reversed(assessment.rules):
        assert alone.answers(rule.name) == [one for one in found if one.rule == rule.name]
    names = assessment.con.execute("select table_name from duckdb_tables() where not temporary").fetchall()
    for (name,) in names:
        if name not in ("judgement", "scored"):
            are_alike(alone, assessment, name)
    assert "_whole" not in alone.__dict__, "it was judged whole"


def test_what_is_found_does_not_hang_on_how_statements_are_planned(
    frames: dict[str, pd.DataFrame], assessment: engine.Assessment, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of things alike one is named, and without the optimizer rows come in another order."""
    monkeypatch.setattr(engine, "FEW", 10_000)
    monkeypatch.setattr(engine, "PAIRS", 10**6)
    expected = assessment.findings(with_met=True)
    for _ in range(2):  # by new plans, and by those that were kept
        other = engine.assess(frames, today=assessment.today)
        assert other.findings(with_met=True) == expected


@pytest.mark.parametrize("name", facts.BESIDE_OWN)
def test_a_table_beside_that_of_a_fact_is_filled_by_that_fact(
    frames: dict[str, pd.DataFrame], assessment: engine.Assessment, name: str
) -> None:
    are_alike(Club(frames), assessment, name)


def are_alike(one: engine.Assessment, other: engine.Assessment, name: str) -> None:
    """Whether a table holds the same rows, in whatever order."""
    by = list(other.table(name).columns)
    got, want = (club.table(name).map(str).sort_values(by).reset_index(drop=True) for club in (one, other))
    pd.testing.assert_frame_equal(got, want, obj=name)
