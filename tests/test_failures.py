"""What failed at the last trial of a kit may not work, until its line tells what became of it."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from tests import small_club

THING = {"member": "QA1BC", "kit": "box", "item": "First", "kind": "mobile_vhf_uhf"}
TRIAL = {"member": "QA1BC", "kit": "box", "stage": "park", "date": pd.Timestamp("2027-02-20")}


def condition(trials: list[dict[str, Any]], **told: Any) -> str:
    """Of the one thing of the box, beside one that is called so in another kit."""
    club = small_club.assess(
        inventory=[THING | told, THING | {"kit": "case"}], rehearsals=[TRIAL | trial for trial in trials]
    )
    rows = club.rows("select condition from item order by item_id")
    assert [row[0] for row in rows[1:]] == ["ok"]
    return rows[0][0]


@pytest.mark.parametrize("faulty", ["First", "whip; first ", "mobile_vhf_uhf;", "FIRST;First"])
def test_what_failed_by_name_or_kind_may_not_work(faulty: str) -> None:
    assert condition([{"faulty": faulty}]) == "unknown"
    assert condition([{"faulty": faulty}], condition="ok", tested=pd.Timestamp("2027-02-20")) == "unknown"


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ({"tested": pd.Timestamp("2027-02-21")}, "ok"),
        ({"acquired": pd.Timestamp("2027-02-27")}, "ok"),
        ({"serviced": pd.Timestamp("2027-02-27")}, "ok"),
        ({"condition": "faulty"}, "faulty"),
        ({"condition": "removed"}, "removed"),
        ({"item": "Firsts", "kind": "handheld"}, "ok"),
    ],
)
def test_what_a_line_tells_since_stands(told: dict[str, Any], expected: str) -> None:
    assert condition([{"faulty": "first; mobile_vhf_uhf"}], **told) == expected


def test_only_the_last_trial_counts_and_none_that_is_to_come() -> None:
    later = {"date": pd.Timestamp("2027-02-25")}
    assert condition([{"faulty": "first"}, later]) == "ok"
    assert condition([later | {"faulty": "first"}, {}]) == "unknown"
    assert condition([{"faulty": "first"}, {"date": pd.Timestamp("2028-02-25")}]) == "unknown"
    assert condition([{"faulty": "first"}, {"faulty": "whip"}]) == "unknown"


def test_a_kit_that_no_list_has_and_a_trial_at_which_nothing_failed_change_nothing() -> None:
    assert condition([{"kit": "bag", "faulty": "first"}, {"faulty": " ; "}]) == "ok"
