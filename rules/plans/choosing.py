"""Which ways of equipping kits close most for the money: an integer program, solved to proof or with its bound."""

from __future__ import annotations

import math
import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from rules.plans.offers import Offer
from rules.plans.quiet import quiet
from rules.plans.shares import NONE, Counts, Share
from rules.plans.trials import Key

NO_POSTS: Mapping[int, frozenset[Key]] = {}
Uses = tuple[tuple[int, int], ...]
"""Number of each offer, in pieces where it is shared, by offer number."""


@dataclass(frozen=True)
class Way:
    """One way of equipping one kit, as judged.

    group : of the ways of a kit in one group one is chosen at most; ways of different groups add up.
    closes, opens : findings that are not met before and met or not asked after; and the other way round.
    risen : kits and posts (kind, number) that are not ready and can be used after this alone.
    plugs : how many more things the club then has that count for a share of it, by the rule's number.
    """

    kit_id: int
    group: str
    uses: Uses
    closes: frozenset[Key]
    opens: frozenset[Key]
    risen: frozenset[tuple[str, int]] = frozenset()
    plugs: tuple[tuple[int, Counts], ...] = ()

    @property
    def place(self) -> tuple[int, str]:
        """Where only one way can be chosen."""
        return self.kit_id, self.group

    @property
    def posts(self) -> frozenset[int]:
        """Posts that can be held after this alone."""
        return frozenset(number for kind, number in self.risen if kind == "post")


@dataclass(frozen=True)
class Chosen:
    ways: tuple[Way, ...]
    promised: float
    bound: float
    is_proven: bool


@dataclass(frozen=True)
class Lesson:
    """What was judged of ways together: whether a finding is closed (or opened) where all at these places are chosen."""

    places: frozenset[int]
    key: Key
    is_closing: bool
    holds: bool


def holds(chosen: frozenset[int], causes: Iterable[int], lessons: Sequence[Lesson]) -> bool:
    """Whether a finding is closed (or opened) by what is chosen, as far as is known.

    It is if one of the ways does so alone, or a set that was judged to, unless a set that holds these, all of it
    chosen, was judged not to.
    """
    judged = [lesson for lesson in lessons if lesson.places <= chosen]
    sets = [
        *(frozenset((j,)) for j in causes if j in chosen),
        *(lesson.places for lesson in judged if lesson.holds),
    ]
    return any(not any(places <= lesson.places for lesson in judged if not lesson.holds) for places in sets)


def choose(
    book: Sequence[Offer], ways: Sequence[Way], weight: Mapping[int, float], budget_usd: float, seconds: float,
    lessons: Sequence[Lesson] = (), shares: Sequence[Share] = (), blocked: Mapping[int, frozenset[Key]] = NO_POSTS,
) -> Chosen:  # fmt: skip
    """The ways that close most weighted gap within the budget; one for each kit and group.

    Of those that close as much, the ones that open most posts, and of these the cheapest. A post of `blocked` counts where
    one of the ways opens it alone, or where they close all that is not met and blocks it, if that is told.

    Maximise the weight of findings closed by any way chosen, less that of findings opened, subject to the money, to
    what is available and to whole assortments; `lessons` and the club's `shares` count for what is chosen together.
    Solved by HiGHS; proven, or stopped after `seconds` with the bound. A second solve then opens the most and spends
    the least.
    """
    if not ways:
        return Chosen((), 0.0, 0.0, True)
    program = _Program(book, ways, weight, budget_usd, lessons, shares, blocked)
    ends = time.perf_counter() + seconds
    found, is_proven, bound = program.solve(-program.gain, seconds)
    reached = float(program.gain @ found)
    if is_proven and (left := ends - time.perf_counter()) > 0:
        program.keep(reached)
        better, _, _ = program.solve(program.money - program.worth_a_post * program.opened, left)
        found = better if float(program.gain @ better) >= reached - 1e-6 else found
    picked = [way for way, value in zip(ways, found, strict=False) if value > 0.5]
    return Chosen(needed(picked, shares), reached, reached if is_proven else max(bound, reached), is_proven)


def needed(ways: Sequence[Way], shares: Sequence[Share]) -> tuple[Way, ...]:
    """The ways without those that close nothing and that no share of the club needs, the least helpful left out first."""
    kept = list(ways)
    for way in sorted(
        (way for way in ways if not way.closes), key=lambda way: sum(c[1] for _, c in way.plugs)
    ):
        rest = [one for one in kept if one is not way]
        if all(share.answer(more(rest, share)) == share.answer(more(kept, share)) for share in shares):
            kept = rest
    return tuple(kept)


def more(ways: Iterable[Way], share: Share) -> Counts:
    """What the club counts more for a share after these ways."""
    parts = [dict(way.plugs).get(share.rule_no, NONE) for way in ways]
    return (sum(part[0] for part in parts), sum(part[1] for part in parts), sum(part[2] for part in parts))


class _Program:
    """Columns: a binary per way, an integer per assortment, then what several ways decide together."""

    def __init__(
        self, book: Sequence[Offer], ways: Sequence[Way], weight: Mapping[int, float], budget_usd: float,
        lessons: Sequence[Lesson], shares: Sequence[Share], blocked: Mapping[int, frozenset[Key]],
    ) -> None:  # fmt: skip
        self.book, self.ways, self.weight, self.budget_usd = book, ways, weight, budget_usd
        self.gain: Any = []
        self.money: Any = []
        self.high: list[float] = []
        self.rows: list[tuple[dict[int, float], float, float]] = []
        taught = {j for lesson in lessons for j in lesson.places}
        useless = dominated(book, ways, taught)
        for j, way in enumerate(ways):
            self._column(0.0, self._price(way), j not in useless)
        self._stock()
        self._findings(lessons)
        for share in shares:
            self._share(share)
        posts = self._posts(blocked)
        self.gain, self.money = np.array(self.gain), np.array(self.money)
        self.opened = np.isin(np.arange(len(self.high)), posts).astype(float)
        self.worth_a_post = min(budget_usd, float(self.money @ np.array(self.high))) + 1.0
        self._limit(self.money, budget_usd)

    def _price(self, way: Way) -> float:
        return sum(self.book[n].price_usd * count for n, count in way.uses if not self.book[n].is_shared)

    def _column(self, gain: float = 0.0, money: float = 0.0, high: float = 1.0) -> int:
        """Another column; all are whole numbers, also where the others make them so."""
        self.gain.append(gain)
        self.money.append(money)
        self.high.append(float(high))
        return len(self.high) - 1

    def _row(self, terms: Mapping[int, float], low: float, high: float) -> None:
        self.rows.append((dict(terms), low, high))

    def _limit(self, values: Any, high: float) -> None:
        self._row({int(j): float(values[j]) for j in np.flatnonzero(values)}, -np.inf, high)

    def _stock(self) -> None:
        """One way for each kit and group, what is available, and whole assortments of what is shared."""
        of_place: dict[tuple[int, str], list[int]] = {}
        taken: dict[int, dict[int, float]] = {}
        for j, way in enumerate(self.ways):
            of_place.setdefault(way.place, []).append(j)
            for number, count in way.uses:
                taken.setdefault(number, {})[j] = float(count)
        for js in of_place.values():
            if len(js) > 1:
                self._row(dict.fromkeys(js, 1.0), -np.inf, 1.0)
        for number, by in taken.items():
            offer = self.book[number]
            if offer.is_shared:
                most = min(
                    math.ceil(sum(by.values()) / offer.pieces), self.budget_usd // max(offer.price_usd, 0.01)
                )
                pack = self._column(0.0, offer.price_usd, min(most, offer.available or most))
                self._row(by | {pack: -float(offer.pieces)}, -np.inf, 0.0)
            elif offer.available is not None:
                self._row(by, -np.inf, float(offer.available))

    def _findings(self, lessons: Sequence[Lesson]) -> None:
        """What each finding counts: in the way's own column where one place decides it, else in one of its own."""
        taught: dict[tuple[bool, Key], list[Lesson]] = {}
        for lesson in lessons:
            taught.setdefault((lesson.is_closing, lesson.key), []).append(lesson)
        for is_closing, by in ((True, _by_key(self.ways, "closes")), (False, _by_key(self.ways, "opens"))):
            more = [key for side, key in taught if side == is_closing and key not in by]
            for key in [*by, *more]:
                causes, known = by.get(key, []), taught.get((is_closing, key), [])
                worth = self.weight[key[0]] if is_closing else -self.weight[key[0]]
                if not known and len({self.ways[j].place for j in causes}) == 1:
                    for j in causes:
                        self.gain[j] += worth
                elif is_closing:
                    self._closed(worth, causes, known)
                else:
                    self._opened(worth, causes, known)

    def _closed(self, worth: float, causes: Sequence[int], known: Sequence[Lesson]) -> None:
        """At most one where a cause is chosen that no set around it undoes."""
        at = self._column(worth)
        terms = {at: 1.0}
        undone = [lesson.places for lesson in known if not lesson.holds]
        for places in [*(frozenset((j,)) for j in causes), *(one.places for one in known if one.holds)]:
            around = [one for one in undone if places <= one]
            if len(places) == 1 and not around:
                terms[min(places)] = -1.0
                continue
            cause = self._column()
            terms[cause] = -1.0
            for j in places:
                self._row({cause: 1.0, j: -1.0}, -np.inf, 0.0)
            for one in around:
                self._row({cause: 1.0} | dict.fromkeys(one, 1.0), -np.inf, float(len(one)))
        self._row(terms, -np.inf, 0.0)

    def _opened(self, worth: float, causes: Sequence[int], known: Sequence[Lesson]) -> None:
        """At least one where a cause is chosen that no set around it undoes."""
        at = self._column(worth)
        undo = {}
        for lesson in known:
            if not lesson.holds:
                undo[lesson.places] = self._column()
                for j in lesson.places:
                    self._row({undo[lesson.places]: 1.0, j: -1.0}, -np.inf, 0.0)
        for places in [*(frozenset((j,)) for j in causes), *(one.places for one in known if one.holds)]:
            around = {column: -1.0 for one, column in undo.items() if places <= one}
            self._row({at: -1.0} | dict.fromkeys(places, 1.0) | around, -np.inf, len(places) - 1.0)

    def _share(self, share: Share) -> None:
        """A share that is reached counts for it; one that is lost counts against it."""
        is_short = share.answer() is False
        moved = share.surely if is_short else share.possibly
        moves = {j: moved(dict(way.plugs).get(share.rule_no, NONE)) for j, way in enumerate(self.ways)}
        moves = {j: value for j, value in moves.items() if value}
        away = sum(-value for value in moves.values() if value < 0)
        if is_short and moves:
            short = -share.surely(share.counts)
            at = self._column(self.weight[share.rule_no])
            self._row(moves | {at: -(short + away)}, -away - 1e-9, np.inf)
        elif away:
            at = self._column(-self.weight[share.rule_no])
            self._row(moves | {at: away}, -share.possibly(share.counts) - 1e-9, np.inf)

    def _posts(self, blocked: Mapping[int, frozenset[Key]]) -> list[int]:
        """A column for each post that can be opened: by a way alone, or by ways that close all that blocks it."""
        closing = _by_key(self.ways, "closes")
        alone: dict[int, list[int]] = {}
        for j, way in enumerate(self.ways):
            for post in way.posts & blocked.keys():
                alone.setdefault(post, []).append(j)
        found = []
        for post, keys in blocked.items():
            causes = dict.fromkeys(alone.get(post, ()), -1.0)
            if keys and all(key in closing for key in keys):
                together = self._column()
                causes[together] = -1.0
                for key in keys:
                    self._row(dict.fromkeys(closing[key], -1.0) | {together: 1.0}, -np.inf, 0.0)
            if causes:
                found.append(self._column())
                self._row(causes | {found[-1]: 1.0}, -np.inf, 0.0)
        return found

    def keep(self, gain: float) -> None:
        """From here on gain at least so much."""
        self._row({int(j): float(self.gain[j]) for j in np.flatnonzero(self.gain)}, gain - 1e-6, np.inf)

    def solve(self, costs: np.ndarray[Any, Any], seconds: float) -> tuple[np.ndarray[Any, Any], bool, float]:
        """The column values of least cost found, whether that is proven, and the bound on minus the cost."""
        row = np.repeat(np.arange(len(self.rows)), [len(terms) for terms, _, _ in self.rows])
        column = np.array([j for terms, _, _ in self.rows for j in terms], dtype=np.int32)
        value = np.array([value for terms, _, _ in self.rows for value in terms.values()], dtype=float)
        matrix = coo_array((value, (row, column)), shape=(len(self.rows), len(self.high))).tocsr()
        limits = LinearConstraint(matrix, [r[1] for r in self.rows], [r[2] for r in self.rows])
        with quiet():
            found = milp(
                costs, integrality=np.ones(len(self.high)), bounds=Bounds(0, np.array(self.high)), constraints=limits,
                options={"time_limit": max(seconds, 0.05), "mip_rel_gap": 0.0},
            )  # fmt: skip
        bound = float(np.maximum(-costs, 0) @ np.array(self.high))
        if found.mip_dual_bound is not None:
            bound = min(bound, -found.mip_dual_bound)
        if found.x is None:
            return np.zeros(len(self.high)), False, bound
        return np.round(found.x), found.status == 0, bound


def dominated(book: Sequence[Offer], ways: Sequence[Way], kept: Iterable[int] = ()) -> set[int]:
    """Ways that need not be looked at: at their place another closes as much, opens no more findings and no fewer posts, and
    costs no more.
    """

    def is_free(way: Way) -> bool:  # to be had for every kit at its price
        return all(book[n].available is None for n, _ in way.uses)

    def is_shared(way: Way) -> bool:
        return any(book[n].is_shared for n, _ in way.uses)

    def price(way: Way) -> float:
        return sum(book[n].price_usd * count for n, count in way.uses)

    of_place: dict[tuple[int, str], list[int]] = {}
    for j, way in enumerate(ways):
        of_place.setdefault(way.place, []).append(j)
    found: set[int] = set()
    keep = set(kept)
    for js in of_place.values():
        ranked = sorted((j for j in js if not is_shared(ways[j])), key=lambda j: (price(ways[j]), j))
        for place, j in enumerate(ranked):
            worse = (
                one
                for one in ranked[place + 1 :]
                if is_free(ways[j])
                and ways[one].closes <= ways[j].closes
                and ways[one].opens >= ways[j].opens
                and ways[one].plugs == ways[j].plugs
                and ways[one].posts <= ways[j].posts
            )
            if j not in found and j not in keep:
                found.update(set(worse) - keep)
    return found


def _by_key(ways: Sequence[Way], name: str) -> dict[Key, list[int]]:
    found: dict[Key, list[int]] = {}
    for j, way in enumerate(ways):
        for key in getattr(way, name):
            found.setdefault(key, []).append(j)
    return found
