"""Sums of money as people say them: no finer than they are known."""

from __future__ import annotations

from math import floor, log10
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from rules.plans.purchases import Plan

UNTOLD = "Not known with it bought, which blocks until it is found out"
UNTOLD_LENT = "Not known with these loans, which blocks until it is found out"
FORECAST = ("year", "things", "cost", "of that the club's")


def two_figures(usd: float) -> float:
    """A sum (USD) to two figures: 18,515 is 19,000."""
    return round(usd, 1 - floor(log10(usd))) if usd >= 1 else 0.0


def about(low_usd: float, high_usd: float) -> str:
    """A sum of prices that are in part usual ranges: `about 13,000 to 26,000 USD`, or one figure where both read alike."""
    low, high = (f"{two_figures(usd):,.0f}" for usd in (low_usd, high_usd))
    return f"about {low} USD" if low == high else f"about {low} to {high} USD"


def forecast(due: pd.DataFrame) -> list[tuple[int | str, int, str, str]]:
    """Rows under FORECAST for what falls due, as `rules.plans.replacements` tells it: one a year, and all together last."""
    told = due.dropna(subset=["year"])
    parts = [(int(year), part) for year, part in told.groupby("year", sort=True)]
    rows = []
    for year, part in [*parts, ("together", told)] if parts else []:
        of_club = part[part["owner"] == "club"]
        costs = (about(some["low_usd"].sum(), some["high_usd"].sum()) for some in (part, of_club))
        rows.append((year, len(part), next(costs), next(costs) if len(of_club) else "none"))
    return rows


def spent(plan: Plan) -> str:
    """What a plan costs, at the head of a sentence: `About 1,491` (USD), or `1,491` where no price of it is an estimate."""
    return f"{'About ' if any(line.is_estimate for line in plan.lines) else ''}{plan.spent_usd:,.0f}"
