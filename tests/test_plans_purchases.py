"""What to buy: the pick against brute force and a published optimum, the promise against what the rules say."""

from __future__ import annotations

import csv
import io
import itertools
import os
import random
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

from dashboard.sheets import purchases as sheet
from data import club, demo, reference
from rules import engine
from rules.plans import choosing, purchases, replacements, trials
from rules.plans.choosing import Lesson, Way, choose, holds
from rules.plans.offers import Offer, price_book
from rules.plans.purchases import buy_list, settling
from rules.plans.quiet import quiet
from rules.plans.shares import Share
from tests import printed, small_club
from tests.small_club import ANTENNA, BATTERY, COAX, EVENT, FUSE, HANDHELD, LEAD, MOBILE, PACK

OFFERS = [
    {"offer": "20 Ah battery", "kind": "battery_lifepo4", "price_usd": 160.0, "dc_plug": "genderless_30", "capacity_ah": 20.0},
    {"offer": "50 Ah battery", "kind": "battery_lifepo4", "price_usd": 290.0, "dc_plug": "genderless_30", "capacity_ah": 50.0, "paid_by": "club", "available": 1},
    {"offer": "handheld", "kind": "handheld", "price_usd": 110.0},
    {"offer": "pack", "kind": "handheld_pack", "price_usd": 35.0},
    {"offer": "fuses", "kind": "fuse", "price_usd": 10.0, "paid_by": "club"},
    {"offer": "contacts", "kind": "connector_kit", "price_usd": 75.0, "paid_by": "club"},
]  # fmt: skip

SHARES = ("connector_kit", "rf_adapter_kit")


@pytest.fixture(scope="module")
def two_kits() -> engine.Assessment:
    """Two kits that lack different things, one of them at a post."""
    foreign = MOBILE | {"dc_plug": "t_plug_male"}
    return small_club.assess(
        inventory=[
            *small_club.kit(
                "QA1BC", "Go box", MOBILE, BATTERY | {"capacity_ah": 6.0}, LEAD, FUSE, ANTENNA, COAX
            ),
            *small_club.kit("QB2CD", "Bag", HANDHELD, PACK, foreign, FUSE),
        ],
        events=[EVENT],
        posts=[{"event": "Ride", "post": "Ford", "post_type": "aid_station"}],
        assignments=[{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Go box"}],
    )


@pytest.fixture(scope="module")
def offers() -> pd.DataFrame:
    return small_club.frame("offers", OFFERS)


@pytest.fixture(scope="module")
def market(two_kits: engine.Assessment, offers: pd.DataFrame) -> purchases.Market:
    return purchases.market(two_kits, offers)


# --- the pick ---


def offer(
    number: int, price: float, kind: str = "handheld", available: int | None = None, pieces: int = 1
) -> Offer:
    return Offer(number, f"offer {number}", kind, price, available, "member", pieces, False)


def way(
    kit_id: int, uses: dict[int, int], closes: set[int], opens: set[int] = frozenset(), group: str = "station"
) -> Way:
    """Finding n is of rule n, so that it weighs what is given for n."""

    def keys(numbers: set[int]) -> frozenset[Any]:
        return frozenset((n, "kit", n, 0) for n in numbers)

    return Way(kit_id, group, tuple(uses.items()), keys(closes), keys(opens))


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


def best_of_all(of: purchases.Market, budget: float) -> float:
    """The most that any pick of the market gains; what touches nothing else is counted for all its subsets at once."""

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
        fit = subsets[subsets[:, 1] <= budget - money, 0]
        if is_there and len(fit):
            best = max(best, gain + fit.max())
    return best


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
        )
        for kit_id, group in itertools.product(range(3), ["station", "papers"])
        for _ in range(2)
    ]  # fmt: skip
    budget = chance.choice([30, 75, 120, 1000])
    best = 0.0
    for picked in itertools.product(*menus(ways)):
        gain, money, is_there = worth(book, tuple(w for w in picked if w), weight)
        if is_there and money <= budget:
            best = max(best, gain)
    chosen = choose(book, ways, weight, budget, 10.0)
    gain, money, is_there = worth(book, chosen.ways, weight)
    assert chosen.is_proven and is_there and money <= budget
    assert gain == pytest.approx(best)
    assert chosen.promised == pytest.approx(best) == pytest.approx(chosen.bound)


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


def test_what_the_solver_prints_goes_nowhere(capfd: pytest.CaptureFixture[str]) -> None:
    """Two solvers at work at once: standard output comes back with the last, and nothing before it is seen."""
    with quiet():
        with quiet():
            os.write(1, b"noise")
        os.write(1, b"more noise")
    os.write(1, b"heard")
    assert capfd.readouterr().out == "heard"


def test_of_plans_that_close_as_much_the_cheapest_is_taken() -> None:
    book = [offer(0, 90), offer(1, 20)]
    chosen = choose(book, [way(1, {0: 1}, {3}), way(1, {1: 1}, {3})], {3: 5.0}, 200, 5.0)
    assert [picked.uses for picked in chosen.ways] == [((1, 1),)]


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


# --- trying and judging ---


def test_a_trial_without_a_change_answers_as_the_club_does(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Every kit of the demo club with its posts and those sent there, each in its own trial."""
    folder = tmp_path_factory.mktemp("demo")
    demo.write(folder, today=small_club.TODAY)
    assessment = engine.assess(club.read_folder(folder).frames, today=small_club.TODAY)
    kits = assessment.table("kit")["kit_id"]
    tried = pd.DataFrame({"trial": range(1, len(kits) + 1), "kit_id": kits})
    answers = trials.judge(assessment, tried, trials.Changes())
    kit_of_item = assessment.table("item").set_index("item_id")["kit_id"]

    sent = assessment.table("assignment").dropna(subset=["kit_id"])[["post_id", "kit_id"]].drop_duplicates()

    def of_posts(open_: pd.DataFrame) -> pd.DataFrame:
        return open_[open_["subject_kind"] == "post"].merge(sent, left_on="a", right_on="post_id")

    def own(open_: pd.DataFrame) -> pd.DataFrame:
        open_ = open_[~open_["subject_kind"].isin(["post", "club"])]
        kinds = open_["subject_kind"]
        of_item = open_["a"].map(kit_of_item)
        return open_.assign(
            kit_id=open_["b"].where(kinds == "post_kit", open_["a"].where(kinds == "kit", of_item))
        )

    columns = [*trials.KEY, "is_not_met"]
    stood = own(trials.standing(assessment).open)[columns]
    found = own(answers.open).merge(tried, on=["trial", "kit_id"])[columns]
    assert len(stood) > 500
    there = of_posts(trials.standing(assessment).open)
    seen = of_posts(answers.open).merge(tried, on=["trial", "kit_id"])
    assert len(there) and set(there["rule_no"]) <= set(trials.mended(assessment))
    of_post = ["kit_id", *columns]
    pd.testing.assert_frame_equal(
        there.sort_values(of_post, ignore_index=True)[of_post],
        seen.sort_values(of_post, ignore_index=True)[of_post],
        check_dtype=False,
    )
    pd.testing.assert_frame_equal(
        stood.sort_values(columns, ignore_index=True),
        found.sort_values(columns, ignore_index=True),
        check_dtype=False,
    )
    others = trials.standing(assessment).open.query("subject_kind == 'post_kit'")
    others = (
        others.drop(columns="trial").merge(sent, left_on="a", right_on="post_id").merge(tried, on="kit_id")
    )
    seen = answers.open.query("subject_kind == 'post_kit'")
    assert (seen["b"] != seen["trial"].map(tried.set_index("trial")["kit_id"])).any()
    pd.testing.assert_frame_equal(
        others.sort_values(["trial", *columns], ignore_index=True)[["trial", *columns]],
        seen.sort_values(["trial", *columns], ignore_index=True)[["trial", *columns]],
        check_dtype=False,
    )
    before = trials.standing(assessment).verdicts.set_index(["subject_kind", "a"])["verdict"].to_dict()
    told = answers.verdicts.merge(tried, on="trial")
    told = told[(told["subject_kind"] == "post") | (told["a"] == told["kit_id"])]
    assert {"post", "kit"} == set(told["subject_kind"])
    for row in told.to_dict("records"):
        assert row["verdict"] == before[row["subject_kind"], row["a"]]


def test_a_rule_of_the_club_s_own_may_ask_where_else_a_kit_is() -> None:
    """Two kits at a post, each in its own trial; who is there with them is not told to be at two posts at once."""
    rule = engine.Rule(
        "sent_twice", "coverage", "Kit sent twice", "post_kit", "limits", "w", "n", "f", "s",
        "select post_kit_id as subject, (select count(*) from assignment as a where a.kit_id = pk.kit_id) = 1 as ok from post_kit as pk",
    )  # fmt: skip
    assessment = engine.assess(
        {
            "inventory": small_club.frame(
                "inventory",
                [row for m in ("QA1BC", "QB2CD", "QC3DE") for row in small_club.kit(m, "Bag", HANDHELD)],
            ),
            "events": small_club.frame("events", [EVENT]),
            "posts": small_club.frame("posts", [{"event": "Ride", "post": "Ford"}]),
            "assignments": small_club.frame(
                "assignments",
                [
                    {"event": "Ride", "post": "Ford", "member": m, "kit": "Bag"}
                    for m in ("QA1BC", "QB2CD", "QC3DE")
                ],
            ),
        },
        today=small_club.TODAY,
        rules=(rule,),
    )
    tried = pd.DataFrame({"trial": [1, 2, 3], "kit_id": [1, 2, 3]})
    assert trials.standing(assessment).open.empty
    assert trials.judge(assessment, tried, trials.Changes()).open.empty


@pytest.mark.parametrize("budget", [0, 45, 120, 300, 400, 2000])
def test_the_plan_is_the_best_of_all_that_was_tried_as_the_rules_judge(
    market: purchases.Market, budget: int
) -> None:
    plan = purchases.plan(market.assessment, None, budget, 10.0, market)
    assert plan.is_proven
    assert plan.promised == pytest.approx(plan.judged)
    assert plan.spent_usd <= budget
    assert (
        plan.spent_usd
        == pytest.approx(plan.member_usd + plan.club_usd)
        == pytest.approx(sum(line.cost_usd for line in plan.lines))
    )
    assert plan.judged == pytest.approx(best_of_all(market, budget))
    applied = settling._applied(market, plan.ways)
    assert market.gap - market.gap_of(applied.after.not_met()) == pytest.approx(plan.judged)
    assert len(plan.closed) == len(applied.closed) and len(plan.opened) == len(applied.opened)


def test_money_buys_something_and_says_for_whom(market: purchases.Market) -> None:
    plan = purchases.plan(market.assessment, None, 2000, 10.0, market)
    assert plan.judged > 0
    assert any("No spare pack for a handheld" in text for text in plan.closed)
    pack = next(line for line in plan.lines if line.kind == "handheld_pack" and line.for_whom == "QB2CD/Bag")
    assert "QB2CD/Bag: No spare pack for a handheld" in pack.closes
    contacts = next(line for line in plan.lines if line.kind == "connector_kit")
    assert (
        contacts.units == 1
        and contacts.for_whom == "shared, pieces for: QB2CD/Bag 1; 19 left for the pool"
        and contacts.paid_by == "club"
    )
    assert not any(line.is_estimate for line in plan.lines if line.kind == "handheld_pack")
    assert all(line.is_estimate for line in plan.lines if line.kind not in {row["kind"] for row in OFFERS})


def test_what_a_post_lacks_is_bought_once_for_the_kits_sent_there() -> None:
    """Two kits at a post, either of which could carry what mends it; a kit at another post cannot."""
    posts = [{"event": "Ride", "post": name, "post_type": "aid_station"} for name in ("Ford", "Mill")]
    at = (("Ford", "QA1BC"), ("Ford", "QB2CD"), ("Mill", "QC3DE"))
    club_ = small_club.assess(
        inventory=[
            row
            for member in ("QA1BC", "QB2CD", "QC3DE")
            for row in small_club.kit(
                member, "Bag", HANDHELD, PACK, *([{"kind": "first_aid"}] if member == "QC3DE" else [])
            )
        ],
        events=[EVENT],
        posts=posts,
        assignments=[{"event": "Ride", "post": post, "member": member, "kit": "Bag"} for post, member in at],
    )
    of = purchases.market(club_)
    title = "Ride/Ford: No first-aid kit at the post"
    kits = {
        of.names("kit")[way.kit_id] for way in of.ways if any(text == title for text in of.spoken(way.closes))
    }
    assert kits == {"QA1BC/Bag", "QB2CD/Bag"}
    plan = purchases.plan(club_, None, 5000, 10.0, of)
    assert title in plan.closed and plan.promised == pytest.approx(plan.judged)
    bought = [line for line in plan.lines if title in line.closes]
    assert [(line.kind, line.units) for line in bought] == [("first_aid", 1)]


@pytest.fixture(scope="module")
def odd_plugs() -> purchases.Market:
    """Two kits of three with the wrong plugs; what contacts and adapters can do for the club's two shares."""
    battery, antenna = BATTERY | {"dc_plug": "t_plug_male"}, ANTENNA | {"rf_plug": "bnc_male"}
    club_ = small_club.assess(
        inventory=[
            *small_club.kit("QA1BC", "Go box", MOBILE, BATTERY, LEAD, FUSE, ANTENNA, COAX),
            *small_club.kit("QB2CD", "Bag", HANDHELD, PACK, battery, antenna),
            *small_club.kit("QC3DE", "Bag", HANDHELD, PACK, battery, antenna),
        ]
    )
    of = purchases.market(club_)
    ways = tuple(w for w in of.ways if all(of.offers[n].kind in SHARES for n, _ in w.uses))
    return replace(of, ways=ways)


def test_the_club_s_shares_are_bought_as_judged_of_every_pick(odd_plugs: purchases.Market) -> None:
    """Every pick of contacts and adapters judged on the whole club, against the plan for some budgets."""
    of = odd_plugs
    assert {share.answer() for share in of.shares} == {False}
    told = []
    for picked in itertools.product(*menus(of.ways)):
        ways = tuple(w for w in picked if w)
        applied = settling._applied(of, ways)
        told.append((buy_list.spent(of, ways), of.gap_of(applied.closed) - of.gap_of(applied.opened)))
    assert len(told) >= 16
    closed = set()
    for budget in (30, 40, 80, 500):
        plan = purchases.plan(of.assessment, None, budget, 10.0, of)
        best = max(value for money, value in told if money <= budget)
        assert plan.is_proven and plan.judged == pytest.approx(best) == pytest.approx(plan.promised)
        closed |= {text for line in plan.lines for text in line.closes if text.startswith("the club: ")}
        assert {text for text in plan.closed if text.startswith("the club: ")} <= closed
    assert len(closed) == 2
    adapters = next(line for line in plan.lines if line.kind == "rf_adapter_kit")
    assert adapters.units == 1
    assert adapters.for_whom == "shared, pieces for: QB2CD/Bag 1, QC3DE/Bag 1; 6 left for the pool"


def test_the_frontier_of_the_demo_club_is_what_plans_are_judged_to_close(
    tmp_path_factory: pytest.TempPathFactory, capfd: pytest.CaptureFixture[str]
) -> None:
    """The frontier judges copies of what meets, a plan the whole club: the same figures, and the same who is ready."""
    folder = tmp_path_factory.mktemp("demo")
    demo.write(folder, today=small_club.TODAY)
    frames = club.read_folder(folder).frames
    assessment = engine.assess(frames, today=small_club.TODAY)
    of = purchases.market(assessment, frames["offers"])
    pairs = [[of.ways[j] for j in places] for places in of.judged]
    assert pairs and all(one.kit_id == two.kit_id and one.group != two.group for one, two in pairs)
    assert any(lesson.places in of.judged for lesson in settling._recalled(of).lessons)
    steps = purchases.frontier(of, [1125, 1500], 60.0).to_dict("records")
    assert capfd.readouterr().out == "", "the solver prints where JSON may stand"
    for row in steps:
        plan = purchases.plan(assessment, None, row["budget_usd"], 60.0, replace(of, judged={}, lessons=[]))
        assert row["is_proven"] and plan.is_proven
        assert row["gap_closed"] == pytest.approx(plan.judged) == pytest.approx(plan.promised)
        assert row["posts_opened"] == len(plan.posts_opened) > 0
        assert {post for line in plan.lines for post in line.posts} == set(plan.posts_opened)


def harsh(market: purchases.Market, monkeypatch: pytest.MonkeyPatch) -> tuple[purchases.Market, float]:
    """A market where the whole club is judged to gain less than the best plan promises, and the most it may claim."""
    honest = settling._applied
    first = purchases.plan(market.assessment, None, 2000, 10.0, market)
    key = next(iter(sorted(first.ways[0].closes)))

    def harsher(of: purchases.Market, ways: Any) -> Any:
        found = honest(of, ways)
        return replace(found, closed=found.closed - {key})

    monkeypatch.setattr(settling, "_applied", harsher)
    return replace(market, lessons=[], judged={}), first.judged - market.weight[key[0]] + 1e-9


def test_what_two_ways_gain_less_together_is_learnt(
    market: purchases.Market, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the whole club gains less than was promised, the choice is made anew until both agree."""
    of, most = harsh(market, monkeypatch)
    plan = purchases.plan(market.assessment, None, 2000, 10.0, of)
    assert plan.promised == pytest.approx(plan.judged)
    assert plan.judged <= most


def test_a_market_stays_as_it_is_for_other_plans_that_are_made_of_it_meanwhile(
    market: purchases.Market, monkeypatch: pytest.MonkeyPatch
) -> None:
    of, _ = harsh(market, monkeypatch)
    purchases.plan(market.assessment, None, 2000, 10.0, of)
    purchases.frontier(of, [2000], 10.0)
    assert (of.lessons, of.judged) == ([], {})


def test_a_plan_stands_when_no_time_is_left_for_another(
    market: purchases.Market, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A solver that is stopped before it finds anything takes nothing back of what was judged before."""
    of, _ = harsh(market, monkeypatch)
    kept, asked = settling.choose, []

    def stopped(*given: Any) -> choosing.Chosen:
        asked.append(given)
        return kept(*given) if len(asked) == 1 else choosing.Chosen((), 0.0, of.gap, False)

    monkeypatch.setattr(settling, "choose", stopped)
    plan = purchases.plan(market.assessment, None, 2000, 10.0, of)
    assert len(asked) > 1 and plan.judged > 0 and not plan.is_proven
    assert plan.promised == pytest.approx(plan.judged) and plan.lines


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
    (found,) = settling.settle(market, [2000], 10.0)
    assert len(asked) == 2 and found.chosen.ways and not found.chosen.is_proven
    judged = market.gap_of(found.effect.closes) - market.gap_of(found.effect.opens)
    assert found.chosen.promised == pytest.approx(judged) and judged > 0


def test_more_money_never_closes_less(market: purchases.Market) -> None:
    steps = purchases.frontier(market, [0, 50, 100, 200, 400, 800, 5000], 10.0)
    assert steps["gap_closed"].is_monotonic_increasing
    assert (steps["spent_usd"] <= steps["budget_usd"]).all()
    assert steps["is_proven"].all()
    assert steps["gap_closed"].iloc[0] == 0 and steps["gap_closed"].iloc[-1] > 0
    for row in steps.iloc[[2, -1]].to_dict("records"):
        plan = purchases.plan(market.assessment, None, row["budget_usd"], 10.0, market)
        assert row["gap_closed"] == pytest.approx(plan.judged)
        assert (row["kits_ready"], row["posts_opened"]) == (len(plan.kits_ready), len(plan.posts_opened))


def test_what_copies_show_is_learnt_and_told_by_the_frontier(
    market: purchases.Market, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where copies of what is chosen together gain less than each way alone promises, the frontier tells the less."""
    first = purchases.plan(market.assessment, None, 2000, 10.0, market)
    key = next(iter(sorted(first.ways[0].closes)))
    honest = settling.judged

    def harsher(of: purchases.Market, sets: Any) -> Any:
        found = honest(of, sets)
        return [replace(effect, closes=effect.closes - {key}) for effect in found]

    monkeypatch.setattr(settling, "judged", harsher)
    of = replace(market, lessons=[], judged={})
    (told,) = purchases.frontier(of, [2000], 10.0).to_dict("records")
    assert told["is_proven"] and told["gap_closed"] < first.judged
    (chosen, effect) = settling.settle(of, [2000], 10.0)[0]
    assert told["gap_closed"] == pytest.approx(of.gap_of(effect.closes) - of.gap_of(effect.opens))
    assert chosen.promised == pytest.approx(told["gap_closed"])


def test_the_printed_buy_list_names_what_for_whom_and_what_wears_out(market: purchases.Market) -> None:
    plan = purchases.plan(market.assessment, None, 2000, 10.0, market)
    old = pd.Timestamp("2010-01-01")
    club_ = small_club.assess(inventory=small_club.kit("QA1BC", "Bag", PACK | {"acquired": old}, HANDHELD))
    due = replacements.replacements(club_)
    payload = sheet.buy_list(plan, due, market.assessment)
    said = printed.text(payload)
    assert f"{plan.spent_usd:,.0f} USD" in said and "QB2CD/Bag" in said and "shared, pieces for:" in said
    assert (
        "To replace within three years" in said
        and "2027" in said
        and "Of 1 thing nobody wrote the age" in said
    )


def test_only_what_one_side_pays(two_kits: engine.Assessment, offers: pd.DataFrame) -> None:
    of = purchases.market(two_kits, offers, paid_by="club")
    assert {offer.paid_by for offer in of.offers} == {"club"}
    plan = purchases.plan(two_kits, offers, 2000, 10.0, of)
    assert plan.member_usd == 0 and plan.club_usd > 0


@pytest.mark.parametrize("budget", [-1.0, float("nan"), float("inf")])
def test_a_budget_that_is_no_money_is_said(two_kits: engine.Assessment, budget: float) -> None:
    with pytest.raises(ValueError, match=r"budget: .* is not an amount of money"):
        purchases.plan(two_kits, None, budget)


def test_a_club_that_lacks_nothing_to_buy() -> None:
    empty = engine.assess({}, today=date(2027, 3, 1))
    plan = purchases.plan(empty, None, 500)
    assert plan.lines == () and plan.spent_usd == 0 and plan.is_proven


# --- prices, replacement, export ---


def test_planning_prices_are_estimates_within_the_range_of_the_kind() -> None:
    kinds = reference.kinds().set_index("kind")
    prices = reference.table("prices").set_index("kind")
    assert set(prices["basis"]) == {"estimate"}
    assert (prices["price_usd"] >= kinds["price_low_usd"].loc[prices.index]).all()
    assert (prices["price_usd"] <= kinds["price_high_usd"].loc[prices.index]).all()
    assert (prices["pieces"] >= 1).all()


def test_every_remedy_has_a_price() -> None:
    kinds = {rule.remedy["kind"] for rule in engine.load_rules() if "kind" in rule.remedy}
    assert kinds - {"item_kind"} <= set(reference.table("prices")["kind"])


def test_an_offer_goes_before_the_planning_price(offers: pd.DataFrame) -> None:
    book = price_book(offers, ["handheld", "whip"])
    assert [(o.offer, o.is_estimate) for o in book if o.kind == "handheld"] == [("handheld", False)]
    assert [(o.price_usd, o.is_estimate) for o in book if o.kind == "whip"] == [(25.0, True)]
    assert [o.number for o in book] == list(range(len(book)))


def test_what_wears_out_and_what_has_no_date() -> None:
    life = float(reference.kinds().set_index("kind").loc["handheld_pack", "life_years"])
    bought = pd.Timestamp("2024-06-01")
    club_ = small_club.assess(
        inventory=small_club.kit(
            "QA1BC", "Bag", PACK | {"acquired": bought, "quantity": 2}, PACK | {"item": "new", "acquired": pd.Timestamp("2027-02-01")},
            HANDHELD | {"cost_usd": 200.0}, PACK | {"item": "old", "acquired": pd.Timestamp("2010-01-01")},
            PACK | {"item": "gone", "condition": "removed", "acquired": bought},
        ),
        offers=OFFERS,
    )  # fmt: skip
    found = replacements.replacements(club_).set_index("item")
    assert set(found.index) == {"handheld_pack", "handheld", "old"}
    assert found.loc["handheld_pack", "due"] == (bought + pd.Timedelta(days=life * 365.25)).normalize()
    assert (
        found.loc["handheld_pack", "cost_usd"] == 70 and found.loc["handheld_pack", "price_from"] == "offer"
    )
    assert found.loc["old", "year"] == 2027
    assert pd.isna(found.loc["handheld", "due"]) and pd.isna(found.loc["handheld", "year"])
    assert found.loc["handheld", "price_usd"] == 200 and found.loc["handheld", "price_from"] == "told"
    assert "new" in set(replacements.replacements(club_, years=6)["item"])
    told = next(f for f in club_.findings() if f.rule == "replacement_not_foreseen")
    assert told.evidence["due_usd"] == found.loc[found["year"].notna(), "cost_usd"].sum()


def test_no_cell_of_the_export_begins_a_formula(two_kits: engine.Assessment) -> None:
    told = small_club.frame("offers", [{"offer": "=1+1", "kind": "handheld_pack", "price_usd": 35.0}])
    plan = purchases.plan(two_kits, told, 100)
    rows = list(csv.DictReader(io.StringIO(purchases.buy_list_csv(plan).decode("utf-8-sig"))))
    assert [row["offer"] for row in rows if row["kind"] == "handheld_pack"] == ["'=1+1"]
    assert {row["price_from"] for row in rows} <= {"offer", "planning estimate"}


def test_buy_on_the_command_line(tmp_path: Any) -> None:
    from dashboard.command import app

    (tmp_path / "inventory.csv").write_text(
        "member,kit,item,kind\nQA1BC,Bag,radio,handheld\nQA1BC,Bag,pack,handheld_pack\n"
    )
    listed = tmp_path / "buy.csv"
    args = ["buy", str(tmp_path), "--budget", "60", "--today", "2027-03-01"]
    told = CliRunner().invoke(app, [*args, "--csv", str(listed.with_name("out") / "buy.csv")])
    assert told.exit_code == 2 and "Name a file that can be written to" in told.stderr
    told = CliRunner().invoke(app, args)
    assert told.exit_code == 0, told.output
    assert "of 60 USD" in told.stdout and "Readiness against money" in told.stdout
    assert (
        "budget USD\tspent USD\tpoints closed\tshare" in told.stdout
        and "\N{BOX DRAWINGS LIGHT HORIZONTAL}" not in told.stdout
    )
    told = CliRunner().invoke(app, ["buy", str(tmp_path), "--budget", "60", "--paid-by", "me"])
    assert told.exit_code == 2
