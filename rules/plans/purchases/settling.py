"""The choice that the rules confirm: choose, judge what is chosen together, learn what came out otherwise, choose anew.

Kits that meet at a post are judged together on copies of them and of those who are there, each set of ways once; kits
that meet nobody else who gets something are a set of their own. Of ways that come out otherwise than they promise,
pairs are judged too, so that what is learnt is learnt of the fewest that it takes. A choice that stands is judged on
a copy of the whole club, with the same consequence.
"""

from __future__ import annotations

import itertools
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from rules.engine import Assessment
from rules.plans import trials
from rules.plans.choosing import Chosen, Lesson, Way, choose, holds
from rules.plans.purchases.trying import Effect, Market, is_ready, judged
from rules.plans.shares import NONE, Counts
from rules.plans.trials import Answers, Key

ROUNDS = 30
SAME = 1e-6
"""Weights that differ by less are equal."""
PAIRS = 200
"""Pairs of ways that are judged for one set of kits that meet; more are not looked into."""
Places = frozenset[int]
"""Ways, by their place in the market."""


class Settled(NamedTuple):
    """A choice and what it does, as judged on copies of the kits that get something and of all whom they meet."""

    chosen: Chosen
    effect: Effect


@dataclass(frozen=True)
class Applied:
    """The whole club judged with a choice: what is closed and opened, and who becomes ready (kind, number)."""

    after: Assessment
    closed: set[Key]
    opened: set[Key]
    risen: set[tuple[str, int]]


def settled(of: Market, budget_usd: float, seconds: float) -> tuple[Chosen, Applied]:
    """What is chosen, and the club judged with it.

    Where promise and judgement do not agree when rounds or time are used up, the choice that was judged best stands,
    at its judged figure and without proof.
    """
    ends = time.perf_counter() + seconds
    best: tuple[float, Chosen, Applied] | None = None
    for _ in range(ROUNDS):
        (here,) = settle(of, [budget_usd], max(ends - time.perf_counter(), 0.0))
        applied = _applied(of, here.chosen.ways)
        value = of.gap_of(applied.closed) - of.gap_of(applied.opened)
        if not _learnt_of_club(of, here, applied):
            return here.chosen, applied
        if best is None or value > best[0]:
            best = value, replace(here.chosen, promised=value, is_proven=False), applied
        if time.perf_counter() > ends:
            break
    assert best is not None
    return best[1:]


def settle(of: Market, budgets: Sequence[float], seconds: float) -> list[Settled]:
    """A choice for each budget that copies of what it changes confirm, judged together in few copies."""
    ends = time.perf_counter() + seconds
    place = {way: j for j, way in enumerate(of.ways)}
    best: dict[float, Settled] = {}
    open_ = list(dict.fromkeys(budgets))
    for _ in range(ROUNDS):
        chosen = {}
        for number, budget in enumerate(open_):
            left = max(ends - time.perf_counter(), 0.0) / (len(open_) - number)
            chosen[budget] = choose(
                of.offers, of.ways, of.weight, budget, max(left, 0.1), of.lessons, of.shares
            )
        picks = {budget: frozenset(place[way] for way in pick.ways) for budget, pick in chosen.items()}
        effects = together(of, list(picks.values()))
        taught = len(of.lessons)
        left_open = []
        for (budget, pick), effect in zip(picks.items(), effects, strict=True):
            value = of.gap_of(effect.closes) - of.gap_of(effect.opens)
            if abs(value - chosen[budget].promised) < SAME and not otherwise(of, pick, effect):
                best[budget] = Settled(chosen[budget], effect)
                continue
            left_open.append(budget)
            if budget not in best or value > best[budget].chosen.promised:
                best[budget] = Settled(replace(chosen[budget], promised=value, is_proven=False), effect)
        if left_open:
            _learn(of, [picks[budget] for budget in left_open])
        open_ = left_open
        if not open_ or len(of.lessons) == taught or time.perf_counter() > ends:
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
    for pick, one in zip(picks, sets, strict=True):
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
        for lesson in of.of_club:
            if lesson.places <= pick:
                here = closed if lesson.is_closing else opened
                (here.add if lesson.holds else here.discard)(lesson.key)
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


def _learn(of: Market, picks: Sequence[Places]) -> None:
    """Of each set that came out otherwise: first what its pairs teach, then what stays of the whole set."""
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
    for pair in pairs:
        _teach(of, pair)
    for places, _ in strange:
        _teach(of, places)


def _bearing(of: Market, places: Places, found: Iterable[tuple[bool, Key]]) -> Places:
    """The ways of a set that bear on one of these findings."""
    return frozenset(j for j in places if any(of.bears_on((of.ways[j].kit_id,), key) for _, key in found))


def _teach(of: Market, places: Places) -> None:
    """Note what a judged set of ways does otherwise than is known."""
    effect = of.judged[places]
    for is_closing, key in sorted(otherwise(of, places, effect)):
        bearing = _bearing(of, places, [(is_closing, key)])
        came = key in (effect.closes if is_closing else effect.opens)
        of.lessons.append(Lesson(bearing if len(bearing) > 1 else places, key, is_closing, came))


def _learnt_of_club(of: Market, here: Settled, applied: Applied) -> bool:
    """Note what the whole club answers otherwise than the copies; whether there was anything."""
    place = {way: j for j, way in enumerate(of.ways)}
    chosen = frozenset(place[way] for way in here.chosen.ways)
    new = []
    for is_closing, came, promised in (
        (True, applied.closed, here.effect.closes),
        (False, applied.opened, here.effect.opens),
    ):
        for key in sorted(came ^ promised):
            bearing = _bearing(of, chosen, [(is_closing, key)]) or chosen
            new.append(Lesson(bearing, key, is_closing, key in came))
    of.lessons.extend(new)
    of.of_club.extend(new)
    return bool(new)


# --- the whole club ---


def _applied(of: Market, ways: Sequence[Way]) -> Applied:
    """The club judged with the ways applied."""
    changes = of.fitter.changes([(0, way.kit_id, way.uses) for way in ways])
    after = trials.whole(of.assessment, changes)
    found = trials.standing(after)
    closed, opened = of.not_met - found.keys(), found.not_met() - of.not_met
    return Applied(
        after, set(filter(of.counts, closed)), set(filter(of.counts, opened)), risen(of.before, found)
    )


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
