"""The pick of what to buy, against brute force and a published optimum."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from rules.plans import choosing
from rules.plans.choosing import Lesson, Way, choose
from rules.plans.offers import Offer
from rules.plans.shares import Share
from tests.plans.picks import menus, worth


def offer(
    number: int, price: float, kind: str = "handheld", available: int | None = None, pieces: int = 1
) -> Offer:
    return Offer(number, f"offer {number}", kind, price, available, "member", pieces, False)


def way(
    kit_id: int, uses: dict[int, int], closes: set[int], opens: set[int] = frozenset(), group: str = "station",
    posts: set[int] = frozenset(),
) -> Way:  # fmt: skip
    """Finding n is of rule n, so that it weighs what is given for n."""

    def keys(numbers: set[int]) -> frozenset[Any]:
        return frozenset((n, "kit", n, 0) for n in numbers)

    risen = frozenset(("post", post) for post in posts)
    return Way(kit_id, group, tuple(uses.items()), keys(closes), keys(opens), risen)


def opened(ways: tuple[Way, ...], blocked: dict[int, frozenset[Any]]) -> int:
    """Posts that one of these ways opens, or that all together leave nothing to block."""
    closed = frozenset().union(*(one.closes for one in ways))
    alone = frozenset().union(*(one.posts for one in ways))
    return sum(post in alone or (bool(keys) and keys <= closed) for post, keys in blocked.items())


@pytest.mark.parametrize("seed", range(25))
def test_the_pick_is_the_best_of_all_picks(seed: int) -> None:
    chance = random.Random(seed)
    book = [
        offer(0, 40, available=2), offer(1, 25), offer(2, 60, available=1),
        offer(3, 10, "fuse", pieces=3), offer(4, 30, "connector_kit", available=1, pieces=4),
    ]  # fmt: skip
    weight = {n: chance.choice([1.0, 2.0, 5.0]) for n in range(12)}
    ways = [
        way(
            kit_id, dict(chance.choices([(0, 1), (1, 1), (1, 2), (2, 1), (3, 2), (4, 3)], k=chance.choice([1, 1, 2]))),
            set(chance.sample(range(12), chance.randint(1, 4))), set(chance.sample(range(12), chance.choice([0, 0, 1]))), group,
            set(chance.sample(range(4), chance.choice([0, 0, 1, 2]))),
        )
        for kit_id, group in itertools.product(range(3), ["station", "papers"])
        for _ in range(2)
    ]  # fmt: skip
    budget = chance.choice([30, 75, 120, 1000])
    blocked = {
        post: frozenset((n, "kit", n, 0) for n in chance.sample(range(12), chance.choice([0, 2, 3])))
        for post in range(4)
    }
    best = (0.0, 0, 0.0)
    for picked in itertools.product(*menus(ways)):
        had = tuple(w for w in picked if w)
        gain, money, is_there = worth(book, had, weight)
        if is_there and money <= budget:
            best = max(best, (gain, opened(had, blocked), -money))
    chosen = choose(book, ways, weight, budget, 10.0, blocked=blocked)
    gain, money, is_there = worth(book, chosen.ways, weight)
    assert chosen.is_proven and is_there and money <= budget
    assert (gain, opened(chosen.ways, blocked), -money) == best
    assert chosen.promised == pytest.approx(best[0]) == pytest.approx(chosen.bound)


@pytest.mark.parametrize("seed", range(12))
def test_what_was_learnt_and_what_the_club_shares_counts_in_the_pick(seed: int) -> None:
    """Sets of ways that close or open what none does alone, or do not what each does alone, and a share of plugs."""
    chance = random.Random(seed)
    book = [offer(0, 40), offer(1, 25), offer(2, 30, "connector_kit", pieces=3)]
    weight = {n: chance.choice([1.0, 2.0, 5.0]) for n in range(8)}
    share = Share(7, ("power", "any"), 0.75, chance.choice([(8, 4, 0), (8, 6, 0), (8, 5, 2)]))
    ways = [
        replace(
            way(kit_id, {chance.randrange(3): 1}, set(chance.sample(range(6), 2)), set(chance.sample(range(6), chance.choice([0, 1]))), group),
            plugs=((7, chance.choice([(0, 1, 0), (0, 2, 0), (1, 0, 0), (1, 1, 0)])),),
        )
        for kit_id, group in itertools.product(range(3), ["station", "papers"])
        for _ in range(2)
    ]  # fmt: skip
    lessons = []
    for _ in range(4):
        places = frozenset(chance.sample(range(len(ways)), chance.choice([2, 2, 3])))
        key = (chance.randrange(6), "kit", 0, 0)
        lessons.append(
            Lesson(places, (key[0], "kit", key[0], 0), chance.random() < 0.5, chance.random() < 0.5)
        )
    lessons = list({(x.places, x.key, x.is_closing): x for x in lessons}.values())
    budget = chance.choice([60, 90, 150])
    best = 0.0
    for picked in itertools.product(*menus(ways)):
        had = tuple(w for w in picked if w)
        gain, money, is_there = worth(book, had, weight, (share,), lessons, ways)
        if is_there and money <= budget:
            best = max(best, gain)
    chosen = choose(book, ways, weight, budget, 10.0, lessons, (share,))
    gain, money, is_there = worth(book, chosen.ways, weight, (share,), lessons, ways)
    assert chosen.is_proven and is_there and money <= budget
    assert chosen.promised == pytest.approx(best) == pytest.approx(gain)


def test_of_plans_that_close_as_much_the_cheapest_is_taken() -> None:
    book = [offer(0, 90), offer(1, 20)]
    chosen = choose(book, [way(1, {0: 1}, {3}), way(1, {1: 1}, {3})], {3: 5.0}, 200, 5.0)
    assert [picked.uses for picked in chosen.ways] == [((1, 1),)]


def test_of_plans_that_close_as_much_the_one_that_opens_more_posts_is_taken() -> None:
    """Also where it costs more, and where only the dearer of two offers for one kit opens the post; of the posts asked about."""
    book = [offer(0, 20), offer(1, 30), offer(2, 45)]
    ways = [way(1, {0: 1}, {3}), way(2, {1: 1}, {4}, posts={7}), way(2, {2: 1}, {4}, posts={7, 8})]
    weight = {3: 5.0, 4: 5.0}

    def picked(budget: float, *posts: int) -> list[choosing.Uses]:
        blocked = dict.fromkeys(posts, frozenset[Any]())
        return [one.uses for one in choose(book, ways, weight, budget, 5.0, blocked=blocked).ways]

    assert picked(44, 7, 8) == [((1, 1),)]
    assert picked(49, 7, 8) == [((2, 1),)]
    assert picked(49, 7) == [((1, 1),)]
    assert picked(49) == [((0, 1),)]


def test_nothing_is_bought_for_nothing() -> None:
    assert choose([offer(0, 0.0)], [way(1, {0: 1}, {1}, {2})], {1: 1.0, 2: 2.0}, 100, 5.0).ways == ()
    assert choose([], [], {}, 100, 5.0) == choosing.Chosen((), 0.0, 0.0, True)


def test_a_published_knapsack() -> None:
    """50 things, capacity 850: total value 7534, total weight 850.

    Source: knapsack page of the guide of an open-source optimisation suite, output of the program. Beside it the same by
    dynamic programming.
    """
    values = (
        "360 83 59 130 431 67 230 52 93 125 670 892 600 38 48 147 78 256 63 17 120 164 432 35 92 110 22 42 50 323 514 28 "
        "87 73 78 15 26 78 210 36 85 189 274 43 33 10 19 389 276 312"
    )
    weights = (
        "7 0 30 22 80 94 11 81 70 64 59 18 0 36 3 8 15 42 9 0 42 47 52 32 26 48 55 6 29 84 2 4 18 56 7 29 93 44 71 3 86 66 "
        "31 65 0 79 20 65 52 13"
    )
    gain, price = ([int(word) for word in text.split()] for text in (values, weights))
    book = [offer(n, float(usd)) for n, usd in enumerate(price)]
    ways = [way(n, {n: 1}, {n}) for n in range(50)]
    chosen = choose(book, ways, dict(enumerate(map(float, gain))), 850, 20.0)
    best = np.zeros(851)
    for usd, value in zip(price, gain, strict=True):
        best[usd:] = np.maximum(best[usd:], best[: 851 - usd] + value)
    assert chosen.is_proven
    assert chosen.promised == pytest.approx(7534) == pytest.approx(best[850])
    assert sum(price[w.kit_id] for w in chosen.ways) <= 850
