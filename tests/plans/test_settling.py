"""What is chosen is judged, what comes out otherwise is learnt, and the best that was judged stands."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from dashboard import buy_commands
from rules.plans import choosing, purchases
from rules.plans.purchases import settling


@pytest.fixture
def harsh(
    market: purchases.Market, all_bought: purchases.Plan, monkeypatch: pytest.MonkeyPatch
) -> tuple[purchases.Market, float]:
    """A market where the whole club is judged to gain less than the best plan promises, and the most it may claim."""
    honest = settling._applied
    key = next(iter(sorted(all_bought.ways[0].closes)))

    def harsher(of: purchases.Market, ways: Any) -> Any:
        found = honest(of, ways)
        return replace(found, closes=found.closes - {key})

    monkeypatch.setattr(settling, "_applied", harsher)
    return replace(market, lessons=[], judged={}), all_bought.judged - market.weight[key[0]] + 1e-9


def test_what_two_ways_gain_less_together_is_learnt(
    market: purchases.Market, harsh: tuple[purchases.Market, float]
) -> None:
    """Where the whole club gains less than was promised, the choice is made anew until both agree."""
    of, most = harsh
    plan = purchases.plan(market.assessment, None, 2000, 10.0, of)
    assert plan.promised == pytest.approx(plan.judged)
    assert plan.judged <= most
    assert (of.lessons, of.judged) == ([], {}), "other plans are made of the market meanwhile"


def test_a_plan_stands_when_no_time_is_left_for_another(
    market: purchases.Market, harsh: tuple[purchases.Market, float], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A solver that is stopped before it finds anything takes nothing back of what was judged before."""
    of, _ = harsh
    kept, asked = settling.choose, []

    def stopped(*given: Any) -> choosing.Chosen:
        asked.append(given)
        return kept(*given) if len(asked) == 1 else choosing.Chosen((), 0.0, of.gap, False)

    monkeypatch.setattr(settling, "choose", stopped)
    plan = purchases.plan(market.assessment, None, 2000, 10.0, of)
    assert len(asked) > 1 and plan.judged > 0 and not plan.is_proven
    assert plan.promised == pytest.approx(plan.judged) and plan.lines


def test_no_more_is_said_to_be_open_than_none_where_a_plan_does_more_than_it_promised(
    market: purchases.Market, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = settling.choose

    def modest(*given: Any) -> choosing.Chosen:
        found = kept(*given)
        return replace(found, promised=found.promised - 5, bound=found.promised - 5)

    monkeypatch.setattr(settling, "choose", modest)
    plan = purchases.plan(market.assessment, None, 100, 10.0, replace(market, lessons=[], judged={}))
    assert plan.bound == plan.promised == pytest.approx(plan.judged) and not plan.is_proven
    assert buy_commands._proof(False, plan.promised, plan.bound) == "best found in the time, not proven"
    assert "at most 3 points more" in buy_commands._proof(False, 10.0, 13.0)


def test_a_step_of_the_frontier_stands_when_no_time_is_left_for_another(
    market: purchases.Market, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, asked = settling.choose, []

    def stopped(*given: Any) -> choosing.Chosen:
        """Promises too much at first, and finds nothing afterwards."""
        asked.append(given)
        first = kept(*given)
        return (
            replace(first, promised=first.promised + 5)
            if len(asked) == 1
            else choosing.Chosen((), 0, 0, False)
        )

    monkeypatch.setattr(settling, "choose", stopped)
    monkeypatch.setattr(settling, "_learn", lambda of, picks: len(asked) < 2)
    (found,) = settling.settle_many(market, [2000], 10.0)
    assert len(asked) == 2 and found.chosen.ways and not found.chosen.is_proven
    judged = market.gap_of(found.effect.closes) - market.gap_of(found.effect.opens)
    assert found.chosen.promised == pytest.approx(judged) and judged > 0


def test_what_copies_show_is_learnt_and_told_by_the_frontier(
    market: purchases.Market, all_bought: purchases.Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where copies of what is chosen together gain less than each way alone promises, the frontier tells the less."""
    key = next(iter(sorted(all_bought.ways[0].closes)))
    honest = settling.judged

    def harsher(of: purchases.Market, sets: Any) -> Any:
        found = honest(of, sets)
        return [replace(effect, closes=effect.closes - {key}) for effect in found]

    monkeypatch.setattr(settling, "judged", harsher)
    of = replace(market, lessons=[], judged={})
    (told,) = purchases.frontier(of, [2000], 10.0).to_dict("records")
    assert told["is_proven"] and told["gap_closed"] < all_bought.judged
    assert (of.lessons, of.judged) == ([], {}), "other plans are made of the market meanwhile"
    (chosen, effect) = settling.settle_many(of, [2000], 10.0)[0]
    assert told["gap_closed"] == pytest.approx(of.gap_of(effect.closes) - of.gap_of(effect.opens))
    assert chosen.promised == pytest.approx(told["gap_closed"])
