"""Which ways of equipping kits close most for the money: an integer program, solved to proof or with its bound."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from rules.plans.offers import Offer
from rules.plans.trials import Key


@dataclass(frozen=True)
class Way:
    """One way of equipping one kit, as judged.

    group : of the ways of a kit in one group one is chosen at most; ways of different groups add up.
    uses : number of each offer, in pieces where it is shared, by offer number.
    closes, opens : findings that are not met before and met or not asked after; and the other way round.
    posts : posts that are not ready and can be held after this alone.
    """

    kit_id: int
    group: str
    uses: tuple[tuple[int, int], ...]
    closes: frozenset[Key]
    opens: frozenset[Key]
    is_ready: bool
    posts: frozenset[int]

    @property
    def place(self) -> tuple[int, str]:
        """Where only one way can be chosen."""
        return self.kit_id, self.group


@dataclass(frozen=True)
class Chosen:
    ways: tuple[Way, ...]
    promised: float
    bound: float
    is_proven: bool


@dataclass(frozen=True)
class Together:
    """What a finding counts more (or less, when negative) where all the ways at these places are chosen."""

    places: frozenset[int]
    key: Key
    more: float


def choose(
    book: Sequence[Offer], ways: Sequence[Way], weight: Mapping[int, float], budget_usd: float, seconds: float,
    together: Sequence[Together] = (),
) -> Chosen:  # fmt: skip
    """The ways that close most weighted gap within the budget; at most one for each kit and group.

    Maximise the weight of findings closed by any way chosen, less that of findings opened, subject to the money, to
    what is available and to whole assortments. Solved by HiGHS; proven, or stopped after `seconds` with the bound.
    Of plans that close as much, the second solve takes the cheapest.
    """
    if not ways:
        return Chosen((), 0.0, 0.0, True)
    program = _Program(book, ways, weight, budget_usd, together)
    started = time.perf_counter()
    first, is_proven, bound = program.solve(-program.gain, seconds)
    reached = float(program.gain @ first)
    left = seconds - (time.perf_counter() - started)
    if is_proven and left > 0.1:
        program.limit(program.gain, reached - 1e-6, np.inf)
        cheaper, _, _ = program.solve(program.money, left)
        first = cheaper if cheaper.any() or reached <= 1e-6 else first
    picked = tuple(way for way, value in zip(ways, first, strict=False) if value > 0.5)
    return Chosen(picked, reached, reached if is_proven else bound, is_proven)


class _Program:
    """Columns: a binary per way, an integer per assortment, then findings that several kits close or open, then sets."""

    def __init__(
        self, book: Sequence[Offer], ways: Sequence[Way], weight: Mapping[int, float], budget_usd: float,
        together: Sequence[Together],
    ) -> None:  # fmt: skip
        shared = [offer.number for offer in book if offer.is_shared]
        closers, openers = _by_key(ways, "closes"), _by_key(ways, "opens")
        several = [key for key, by in closers.items() if len({ways[j].place for j in by}) > 1]
        spoilt = [key for key, by in openers.items() if len({ways[j].place for j in by}) > 1]
        packs = {number: len(ways) + place for place, number in enumerate(shared)}
        size = len(ways) + len(shared)
        close_at = {key: size + place for place, key in enumerate(several)}
        open_at = {key: size + len(several) + place for place, key in enumerate(spoilt)}
        set_at = size + len(several) + len(spoilt)
        self.columns = set_at + len(together)
        self.rows: list[tuple[dict[int, float], float, float]] = []
        self.gain, self.money = np.zeros(self.columns), np.zeros(self.columns)
        self.high = np.ones(self.columns)
        self.whole = np.zeros(self.columns)
        self.whole[:size] = 1
        for j, way in enumerate(ways):
            self.gain[j] = sum(weight[key[0]] for key in way.closes if key not in close_at)
            self.gain[j] -= sum(weight[key[0]] for key in way.opens if key not in open_at)
            self.money[j] = sum(book[n].price_usd * count for n, count in way.uses if not book[n].is_shared)
        for number, at in packs.items():
            self.money[at] = book[number].price_usd
            self.high[at] = min(budget_usd // max(book[number].price_usd, 0.01), 1e6)
        for key, at in close_at.items():
            self.gain[at] = weight[key[0]]
            self.rows.append(({at: 1.0} | dict.fromkeys(closers[key], -1.0), -np.inf, 0.0))
        for key, at in open_at.items():
            self.gain[at] = -weight[key[0]]
            self.rows += [({at: -1.0, j: 1.0}, -np.inf, 0.0) for j in openers[key]]
        for place, joint in enumerate(together):
            at = set_at + place
            self.gain[at] = joint.more
            self.rows += [({at: 1.0, j: -1.0}, -np.inf, 0.0) for j in joint.places]
            self.rows.append(
                ({at: -1.0} | dict.fromkeys(joint.places, 1.0), -np.inf, len(joint.places) - 1.0)
            )
        of_kit: dict[tuple[int, str], list[int]] = {}
        taken: dict[int, dict[int, float]] = {}
        for j, way in enumerate(ways):
            of_kit.setdefault(way.place, []).append(j)
            for number, count in way.uses:
                taken.setdefault(number, {})[j] = float(count)
        self.rows += [(dict.fromkeys(js, 1.0), -np.inf, 1.0) for js in of_kit.values() if len(js) > 1]
        for number, by in taken.items():
            offer = book[number]
            if offer.is_shared:
                self.rows.append((by | {packs[number]: -float(offer.pieces)}, -np.inf, 0.0))
                if offer.available is not None:
                    self.high[packs[number]] = min(self.high[packs[number]], offer.available)
            elif offer.available is not None:
                self.rows.append((by, -np.inf, float(offer.available)))
        self.limit(self.money, -np.inf, budget_usd)

    def limit(self, values: np.ndarray[Any, Any], low: float, high: float) -> None:
        """Hold a sum over all columns between two values."""
        self.rows.append(({int(j): float(values[j]) for j in np.flatnonzero(values)}, low, high))

    def solve(self, costs: np.ndarray[Any, Any], seconds: float) -> tuple[np.ndarray[Any, Any], bool, float]:
        """The best column values found, whether that is proven, and the bound on what can be gained."""
        row = np.repeat(np.arange(len(self.rows)), [len(terms) for terms, _, _ in self.rows])
        column = np.array([j for terms, _, _ in self.rows for j in terms], dtype=np.int32)
        value = np.array([value for terms, _, _ in self.rows for value in terms.values()], dtype=float)
        matrix = coo_array((value, (row, column)), shape=(len(self.rows), self.columns)).tocsr()
        limits = LinearConstraint(matrix, [r[1] for r in self.rows], [r[2] for r in self.rows])
        found = milp(
            costs, integrality=self.whole, bounds=Bounds(0, self.high), constraints=limits,
            options={"time_limit": max(seconds, 0.05), "mip_rel_gap": 0.0},
        )  # fmt: skip
        bound = (
            -found.mip_dual_bound if found.mip_dual_bound is not None else float(np.maximum(-costs, 0).sum())
        )
        if found.x is None:
            return np.zeros(self.columns), False, bound
        return found.x, found.status == 0, bound


def _by_key(ways: Sequence[Way], name: str) -> dict[Key, list[int]]:
    found: dict[Key, list[int]] = {}
    for j, way in enumerate(ways):
        for key in getattr(way, name):
            found.setdefault(key, []).append(j)
    return found
