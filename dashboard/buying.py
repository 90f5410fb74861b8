"""What the page of purchases says: the plan for a budget, what other budgets bring, what wears out by when."""

from __future__ import annotations

import pandas as pd

from dashboard import parts
from dashboard.money import about, spent
from dashboard.standing import Standing, club, made_once
from dashboard.turns import in_turn
from rules.plans import purchases
from rules.plans import replacements as wear
from rules.plans.purchases import Market, Plan

BUDGETS = (0, 250, 500, 1_000, 1_500, 2_500, 4_000, 6_000, 8_000, 10_000)
SECONDS = 10.0  # for one plan, and for all points of the frontier together
YEARS = 3
# columns of the table on what wears out: what decides is seen without moving it sideways
DUE = ["due", "item", "cost_usd", "member", "kit", "quantity", "price_usd", "price_from", "owner", "kind"]
POINTS = {"gap_closed": "points closed", "bound": "points, at most"}
MARKET = "market"


def market(now: Standing) -> Market:
    """Every offer tried on every kit that could use it; once per version."""
    return now.kept.once(
        MARKET, lambda: in_turn(lambda: purchases.market(now.assessment, club().store.frames().get("offers")))
    )


def plan(now: Standing, budget_usd: float) -> Plan:
    """What to buy within a budget."""
    of = market(now)
    return now.kept.once(
        ("buy", budget_usd),
        lambda: in_turn(lambda: purchases.plan(now.assessment, None, budget_usd, SECONDS, of=of)),
    )


def buy_table(found: Plan) -> pd.DataFrame:
    """One row per thing to buy: what and how many, for whom, cost, who pays, what it closes and opens.

    What it closes says whose only where that is not who gets it; the cost says "about" where it is an estimate.
    """
    rows = [
        (
            f"{line.offer}, {line.units} times" if line.units > 1 else line.offer,
            line.for_whom,
            f"{'about ' if line.is_estimate else ''}{line.cost_usd:,.0f}\u00a0USD",
            line.paid_by,
            "; ".join(title.removeprefix(f"{line.for_whom}: ") for title in line.closes)
            + (f". Opens {'; '.join(line.posts)}" if line.posts else ""),
        )
        for line in found.lines
    ]
    return pd.DataFrame(rows, columns=["what", "for whom", "cost", "paid by", "closes"])


def gap_words(now: Standing) -> str:
    """What the weighted gap is, under the policy in force."""
    weight = now.assessment.policy.weight
    return (
        f"The weighted gap counts what is not met: {weight['blocks']:g} points for what blocks, {weight['limits']:g} for "
        f"what limits, {weight['advice']:g} for advice; what comes new counts against it."
    )


def plan_words(found: Plan) -> str:
    """What a plan brings, in one sentence; as judged on a copy of the club."""
    share = found.judged / found.gap if found.gap else 0.0
    brings = [f"close {parts.many(len(found.closed), 'finding')} ({share:.0%} of the weighted gap)"]
    if found.kits_ready:
        brings.append(f"make {parts.many(len(found.kits_ready), 'kit')} ready")
    if found.posts_opened:
        brings.append(f"open {parts.many(len(found.posts_opened), 'post')}")
    return f"{spent(found)} USD {parts.listed(brings)}."


def frontier_title(points: pd.DataFrame, budget_usd: float) -> str:
    """What the budget closes and what the most money would, as a finding."""
    here = points[points["budget_usd"] <= budget_usd]["gap_share"].max()
    last = points.iloc[-1]
    return f"{budget_usd:,.0f} USD close {here:.0%} of the weighted gap, {last['budget_usd']:,.0f} USD {last['gap_share']:.0%}"


def by_year(due: pd.DataFrame) -> pd.DataFrame:
    """What falls due in each year: year, cost_usd, things, says; without what nobody knows the age of."""
    told = due.dropna(subset=["year"])
    sums = {name: (name, "sum") for name in ("cost_usd", "low_usd", "high_usd")}
    found = told.groupby("year").agg(**sums, things=("item", "size")).reset_index()
    says = [
        f"{row.year}: {about(row.low_usd, row.high_usd)}, {parts.many(row.things, 'thing')}"
        for row in found.itertuples()
    ]
    return found.assign(year=found["year"].astype(str), says=says)[["year", "cost_usd", "things", "says"]]


def due_title(due: pd.DataFrame) -> str:
    """How much falls due, as a finding."""
    told, open_ = due.dropna(subset=["year"]), int(due["year"].isna().sum())
    if told.empty and open_:
        return f"What falls due is not known: the age of {parts.many(open_, 'thing')} is not written down"
    said = about(told["low_usd"].sum(), told["high_usd"].sum())
    title = f"{said[0].upper()}{said[1:]} fall due within {YEARS} years"
    return title + (f"; the age of {parts.many(open_, 'thing')} is not written down" if open_ else "")


def frontier(now: Standing) -> pd.DataFrame:
    """What each of BUDGETS brings; as `purchases.frontier`."""
    of = market(now)
    return now.kept.once("frontier", lambda: in_turn(lambda: purchases.frontier(of, BUDGETS, SECONDS)))


@made_once
def due(now: Standing) -> pd.DataFrame:
    """What reaches the end of its life within YEARS; as `replacements`."""
    return wear.replacements(now.assessment, YEARS)
