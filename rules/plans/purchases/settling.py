"""The choice that the rules confirm: choose, judge what is chosen together, learn what came out otherwise, choose anew.

One plan is judged on a copy of the whole club. Of many, each set of kits that meet at posts is judged on copies of
them and of those who are there, once, however many plans it is in; kits that meet nobody else who gets something are a
set of their own. Of ways that come out otherwise than they promise, pairs are judged too, so that what is learnt is
learnt of the fewest that it takes.
"""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Generic, NamedTuple, TypeVar

from rules.plans import trials
from rules.plans.choosing import Chosen, Lesson, Way, choose, holds
from rules.plans.purchases.trying import Effect, Market, is_ready, judged, more_plugs
from rules.plans.shares import NONE, Counts, by_kit
from rules.plans.trials import Answers, Key

ROUNDS = 16
SAME = 1e-6
"""Weights that differ by less are equal."""
PAIRS = 200
"""Pairs of ways that are judged for one set of kits that meet; more are not looked into."""
Places = frozenset[int]
"""Ways, by their place in the market."""


@dataclass(frozen=True)
class Applied:
    """The whole club judged with a choice: what it closes and opens, and who becomes ready (kind, number)."""

    after: Answers
    closes: frozenset[Key]
    opens: frozenset[Key]
    risen: frozenset[tuple[str, int]]


Judged = TypeVar("Judged", Effect, Applied)


class Settled(NamedTuple, Generic[Judged]):
    """A choice and what it does, as judged."""

    chosen: Chosen
    effect: Judged


def settle_one(of: Market, budget_usd: float, seconds: float) -> Settled[Applied]:
    """A choice that the whole club confirms, judged on a copy of it."""

    def judge(own: Market, picks: Sequence[Places]) -> list[Applied]:
        found = []
        for pick in picks:
            found.append(_applied(own, [own.ways[j] for j in sorted(pick)]))
            own.judged.update(_seen(own, pick, found[-1]))
        return found

    return _settle(of, [budget_usd], seconds, judge)[0]


def settle_many(of: Market, budgets: Sequence[float], seconds: float) -> list[Settled[Effect]]:
    """A choice for each budget that copies of what it changes, and of all whom they meet, confirm, judged together."""
    return _settle(of, budgets, seconds, together)


def _settle(
    of: Market, budgets: Sequence[float], seconds: float, judge: Callable[[Market, list[Places]], list[Judged]]
) -> list[Settled[Judged]]:  # fmt: skip
    """A choice for each budget that does what it promises.

    Where promise and judgement do not agree when rounds or time are used up, the choice that was judged best stands,
    at its judged figure and without proof.
    """
    ends = time.perf_counter() + seconds
    place = {way: j for j, way in enumerate(of.ways)}
    best: dict[float, Settled[Judged]] = {}
    of = _recalled(of)
    open_ = list(dict.fromkeys(budgets))
    for _ in range(ROUNDS):
        chosen = []
        for number, budget in enumerate(open_):
            left = max((ends - time.perf_counter()) / (len(open_) - number), 0.1)
            chosen.append(
                choose(of.offers, of.ways, of.weight, budget, left, of.lessons, of.shares, of.blocked)
            )
        picks = [frozenset(place[way] for way in one.ways) for one in chosen]
        strange = {}
        for budget, pick, one, effect in zip(open_, picks, chosen, judge(of, picks), strict=True):
            value = of.gap_of(effect.closes) - of.gap_of(effect.opens)
            if abs(value - one.promised) >= SAME:
                strange[budget] = pick
                one = replace(one, promised=value, bound=max(one.bound, value), is_proven=False)
            if budget not in best or one.is_proven or value > best[budget].chosen.promised:
                best[budget] = Settled(one, effect)
        open_ = list(strange)
        if not strange or time.perf_counter() > ends or not _learn(of, list(strange.values())):
            break
    return [best[budget] for budget in budgets]


# --- what is chosen together ---


def _meeting(of: Market, chosen: Places) -> list[Places]:
    """The chosen ways of kits that meet at posts, set by set; a kit that meets no other that gets something is one."""
    at: dict[int, set[int]] = {}
    ways: dict[int, set[int]] = {}
    for j in chosen:
        ways.setdefault(of.ways[j].kit_id, set()).add(j)
    for kit in ways:
        for post in of.posts_of.get(kit, ()):
            at.setdefault(post, set()).add(kit)
    left, found = set(ways), []
    while left:
        here, new = set(), {left.pop()}
        while new:
            here |= new
            new = {kit for one in new for post in of.posts_of.get(one, ()) for kit in at[post]} - here
        left -= here
        found.append(frozenset(j for kit in here for j in ways[kit]))
    return found


def together(of: Market, picks: Sequence[Places]) -> list[Effect]:
    """What each choice does: what its sets of kits that meet do, each judged once."""
    sets = [_meeting(of, pick) for pick in picks]
    _judge(of, itertools.chain.from_iterable(sets))
    found = []
    for one in sets:
        effects = [of.judged[places] for places in one]
        more = _sum(effect.plugs for effect in effects)
        closed = {
            share.key
            for share in of.shares
            if share.answer() is False and share.answer(more.get(share.rule_no, NONE))
        }
        opened = {
            share.key
            for share in of.shares
            if share.answer() is not False and share.answer(more.get(share.rule_no, NONE)) is False
        }
        closed = closed.union(*(effect.closes for effect in effects))
        opened = opened.union(*(effect.opens for effect in effects))
        risen_ = frozenset().union(*(effect.risen for effect in effects))
        found.append(Effect(frozenset(closed), frozenset(opened), risen_))
    return found


def _sum(parts: Iterable[tuple[tuple[int, Counts], ...]]) -> dict[int, Counts]:
    found: dict[int, Counts] = {}
    for part in parts:
        for rule_no, counts in part:
            a = found.get(rule_no, NONE)
            found[rule_no] = (a[0] + counts[0], a[1] + counts[1], a[2] + counts[2])
    return found


def _judge(of: Market, sets: Iterable[Places]) -> None:
    """Judge the sets of ways that were not judged before, all in one copy."""
    new = []
    for places in dict.fromkeys(sets):
        if places in of.judged:
            continue
        if len(places) == 1:
            way = of.ways[min(places)]
            of.judged[places] = Effect(way.closes, way.opens, way.risen, way.plugs)
        else:
            new.append(places)
    ways = [[(of.ways[j].kit_id, of.ways[j].uses) for j in sorted(places)] for places in new]
    of.judged.update(zip(new, judged(of, ways), strict=True))


# --- what is learnt ---


def otherwise(of: Market, chosen: Places, effect: Effect) -> set[tuple[bool, Key]]:
    """Findings closed (True) or opened (False) that were not to be, and those that were to be and are not."""
    found = set()
    for is_closing, came in ((True, effect.closes), (False, effect.opens)):
        causes = _causes(of, chosen, is_closing)
        taught: dict[Key, list[Lesson]] = {}
        for lesson in of.lessons:
            if lesson.is_closing == is_closing and lesson.places <= chosen:
                taught.setdefault(lesson.key, []).append(lesson)
        for key in causes.keys() | taught.keys() | came:
            if key[1] == "club":
                continue
            if holds(chosen, causes.get(key, ()), taught.get(key, ())) != (key in came):
                found.add((is_closing, key))
    return found


def _causes(of: Market, chosen: Places, is_closing: bool) -> dict[Key, list[int]]:
    found: dict[Key, list[int]] = {}
    for j in chosen:
        for key in of.ways[j].closes if is_closing else of.ways[j].opens:
            found.setdefault(key, []).append(j)
    return found


def _learn(of: Market, picks: Sequence[Places]) -> bool:
    """Of each set that came out otherwise: first what its pairs teach, then what stays of the whole set; if anything."""
    known = len(of.lessons)
    sets = [
        places
        for places in dict.fromkeys(itertools.chain.from_iterable(_meeting(of, pick) for pick in picks))
        if len(places) > 1
    ]
    strange = [(places, found) for places in sets if (found := otherwise(of, places, of.judged[places]))]
    pairs = list(
        dict.fromkeys(
            frozenset(pair)
            for places, found in strange
            for pair in itertools.islice(
                itertools.combinations(sorted(_bearing(of, places, found)), 2), PAIRS
            )
        )
    )
    _judge(of, pairs)
    for places in [*pairs, *(places for places, _ in strange)]:
        _teach(of, places)
    return len(of.lessons) > known


def _bearing(of: Market, places: Places, found: Iterable[tuple[bool, Key]]) -> Places:
    """The ways of a set that bear on one of these findings."""
    return frozenset(j for j in places if any(of.bears_on((of.ways[j].kit_id,), key) for _, key in found))


def _recalled(of: Market) -> Market:
    """The market to learn of, with what pairs of ways did otherwise when they were tried.

    Other plans may be made of the same market at the same time; it stays as it is.
    """
    own = replace(of, lessons=[], judged=dict(of.judged))
    for places in of.judged:
        if len(places) == 2:
            _teach(own, places)
    return own


def _teach(of: Market, places: Places) -> None:
    """Note what a judged set of ways does otherwise than is known."""
    effect = of.judged[places]
    for is_closing, key in sorted(otherwise(of, places, effect)):
        bearing = _bearing(of, places, [(is_closing, key)])
        came = key in (effect.closes if is_closing else effect.opens)
        of.lessons.append(Lesson(bearing if len(bearing) > 1 else places, key, is_closing, came))


# --- the whole club ---


def _applied(of: Market, ways: Sequence[Way]) -> Applied:
    """The club judged with the ways applied."""
    changes = of.fitter.changes([(0, way.kit_id, way.uses) for way in ways])
    after = trials.whole(of.assessment, changes)
    found = trials.standing(after, plugs=[share.plug for share in of.shares])
    closed, opened = of.not_met - found.keys(), found.not_met() - of.not_met
    return Applied(
        found,
        frozenset(filter(of.counts, closed)),
        frozenset(filter(of.counts, opened)),
        frozenset(risen(of.before, found)),
    )


def _seen(of: Market, pick: Places, applied: Applied) -> dict[Places, Effect]:
    """What the whole club shows of each set of kits that meet."""
    plugs = by_kit(applied.after.plugs, of.shares)
    found = {}
    for places in _meeting(of, pick):
        kits = {of.ways[j].kit_id for j in places}
        posts = set().union(*(of.posts_of.get(kit, ()) for kit in kits))
        found[places] = Effect(
            frozenset(key for key in applied.closes if of.bears_on(kits, key)),
            frozenset(key for key in applied.opens if of.bears_on(kits, key)),
            frozenset((kind, a) for kind, a in applied.risen if a in (kits if kind == "kit" else posts)),
            more_plugs(of, [(0, kit) for kit in kits], plugs),
        )
    return found


def risen(before: Answers, after: Answers) -> set[tuple[str, int]]:
    """Kits and posts (kind, number) that were not ready and are, with limits or without."""
    was, now = (
        {
            (str(kind), int(number))
            for kind, number, verdict in rows[["subject_kind", "a", "verdict"]].itertuples(index=False)
            if is_ready(verdict)
        }
        for rows in (before.verdicts, after.verdicts)
    )
    return now - was
