"""Picks of ways of equipping kits, counted one by one."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from rules.plans import choosing, purchases
from rules.plans.choosing import Lesson, Way, holds
from rules.plans.offers import Offer
from rules.plans.shares import Share


def worth(
    book: Sequence[Offer], ways: tuple[Way, ...], weight: Mapping[int, float], shares: tuple[Share, ...] = (),
    lessons: Sequence[Lesson] = (), order: Sequence[Way] = (),
) -> tuple[float, float, bool]:  # fmt: skip
    """Gain and money of a pick, and whether it can be had, counted one by one."""
    used: dict[int, int] = {}
    for picked in ways:
        for number, count in picked.uses:
            used[number] = used.get(number, 0) + count
    units = {number: -(-count // book[number].pieces) for number, count in used.items()}
    money = sum(book[number].price_usd * count for number, count in units.items())
    chosen = frozenset(j for j, one in enumerate(order) if one in ways)
    closed, opened = (
        {
            key
            for key in set().union(
                *(getattr(one, side) for one in [*order, *ways]), *([x.key] for x in lessons)
            )
            if holds(
                chosen if order else frozenset(range(len(ways))),
                [j for j, one in enumerate(order or ways) if key in getattr(one, side)],
                [x for x in lessons if x.key == key and x.is_closing == (side == "closes")],
            )
        }
        for side in ("closes", "opens")
    )
    gain = sum(weight[k[0]] for k in closed) - sum(weight[k[0]] for k in opened)
    for share in shares:
        after = share.answer(choosing.more(ways, share))
        gain += weight[share.rule_no] * (
            (share.answer() is False and after is True) - (share.answer() is not False and after is False)
        )
    is_there = all(book[n].available is None or count <= book[n].available for n, count in units.items())
    return gain, money, is_there


def menus(ways: Sequence[Way]) -> list[list[Way | None]]:
    """For each kit and group: nothing, or one of its ways."""
    return [[None, *(w for w in ways if w.place == place)] for place in sorted({w.place for w in ways})]


def most_gain(of: purchases.Market, budget_usd: float) -> float:
    """The most that any pick of the market gains for the money; what touches nothing else is counted for all its subsets at once."""

    def keys(menu: Sequence[Way | None]) -> set[Any]:
        return set().union(*(w.closes | w.opens for w in menu if w))

    def is_apart(menu: list[Way | None]) -> bool:
        uses = [number for w in menu[1:] for number, _ in w.uses]
        rest = set().union(*(keys(other) for other in all_ if other is not menu))
        is_free = all(of.offers[n].available is None and not of.offers[n].is_shared for n in uses)
        return len(menu) == 2 and is_free and not menu[1].plugs and not keys(menu) & rest

    all_ = menus(of.ways)
    apart = [menu[1] for menu in all_ if is_apart(menu)]
    figures = np.array([worth(of.offers, (w,), of.weight)[:2] for w in apart]).reshape(-1, 2)
    subsets = np.array(list(itertools.product((0, 1), repeat=len(apart)))).reshape(-1, len(apart)) @ figures
    best = 0.0
    for picked in itertools.product(*(menu for menu in all_ if not is_apart(menu))):
        gain, money, is_there = worth(of.offers, tuple(w for w in picked if w), of.weight, of.shares)
        fit = subsets[subsets[:, 1] <= budget_usd - money, 0]
        if is_there and len(fit):
            best = max(best, gain + fit.max())
    return best
