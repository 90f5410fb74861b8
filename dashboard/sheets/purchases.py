"""The buy list on paper: what to buy for a budget, for whom, what it closes, and what wears out within three years."""

from __future__ import annotations

from typing import Any

import pandas as pd

from dashboard.money import FORECAST, UNTOLD, forecast, spent
from dashboard.sheets import told
from dashboard.sheets.paper import LONGEST, Marked, Page, Tick, cautions, facts, gap, head, mark, para, table
from rules.engine import Assessment
from rules.plans.purchases import Plan

USUAL_USD = 1_500  # the budget that page and paper begin with
MOST_CLOSED = 4  # findings named for one line; the rest is counted
NAMES = ("", "how many", "offer", "for whom", "USD", "paid by", "closes", "opens posts")


def buy_list(found: Plan, due: pd.DataFrame, assessment: Assessment, paper: str | None = None) -> bytes:
    """A plan of purchases to tick off, and the replacement forecast.

    Parameters
    ----------
    due : what reaches the end of its life, as `rules.plans.replacements` tells it

    Raises
    ------
    SheetError
        There is no such paper.
    """
    page = Page(paper, is_wide=True)
    story: list[Any] = [
        para("What should the club buy?", "title"),
        para(brings(found)),
        gap(1.5),
        facts(
            [
                ("members pay", f"{found.member_usd:,.0f} USD"),
                ("the club pays", f"{found.club_usd:,.0f} USD"),
                ("kits that become ready", len(found.kits_ready)),
                ("posts that can be held", f"{found.posts_before} before, {found.posts_after} after"),
            ],
            page.width,
        ),
        head("To buy"),
    ]
    if found.lines:
        story.append(table(NAMES, to_buy(found), [6, 14, 36, 44, 14, 16, 84, 34], page.width))
    else:
        story.append(para("Nothing that closes a finding can be bought within this budget."))
    if found.opened:
        story += [head("New findings that come with it"), *map(para, found.opened)]
    if found.untold:
        story += [head(UNTOLD), *map(para, found.untold)]
    story += _forecast(due, page)
    story += cautions(told.warned({"charging"}), page.width)
    return page.pdf("Buy list", story, assessment.today)


def brings(found: Plan) -> Marked:
    """What a plan costs and closes, and what is known of how good it is; one sentence."""
    share = found.judged / found.gap if found.gap else 0.0
    proof = "no other pick of what was tried closes more" if found.is_proven else "best found in the time"
    return mark(
        "<b>{} USD</b> of {} close {} of the weighted gap, as judged with it bought; {}.",
        spent(found),
        f"{found.budget_usd:,.0f}",
        f"{share:.0%}",
        proof,
    )


def to_buy(found: Plan) -> list[list[object]]:
    """A row under NAMES for each line of a plan."""
    return [
        [
            Tick(), line.units, line.offer + (" (estimate)" if line.is_estimate else ""), line.for_whom,
            f"{line.cost_usd:,.0f}", line.paid_by, _some(line.closes), ", ".join(line.posts),
        ]
        for line in found.lines
    ]  # fmt: skip


def _some(texts: tuple[str, ...]) -> str:
    """As many as a cell holds whole, and how many more there are."""
    for count in range(min(len(texts), MOST_CLOSED), 0, -1):
        more = f"; and {len(texts) - count} more" if count < len(texts) else ""
        said = "; ".join(texts[:count]) + more
        if len(said) <= LONGEST:
            return said
    return said if texts else ""


def _forecast(due: pd.DataFrame, page: Page) -> list[Any]:
    """What falls due in each year, and of how many things nobody knows the age."""
    dated = due.dropna(subset=["year"])
    story: list[Any] = [head("To replace within three years")]
    such = {
        int(year): "; ".join(dict.fromkeys(part["item"].head(12)))
        for year, part in dated.groupby("year", sort=True)
    }
    if rows := [[*row, such.get(row[0], "")] for row in forecast(due)]:
        story.append(table([*FORECAST, "for example"], rows, [18, 14, 46, 40, 130], page.width))
    else:
        story.append(para("Nothing is known to reach the end of its life."))
    if unknown := len(due) - len(dated):
        story.append(para(f"The age of {told.many(unknown, 'thing')} is not written down.", "small"))
    return story
