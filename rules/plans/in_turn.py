"""Several objectives in turn, each to its proven optimum, over more columns than one would hand to a solver.

Only the columns that pay are handed over: a linear relaxation over few columns prices all others, those that could
improve it join, and so on until none can. Its value bounds the objective from below for all columns. Where the
relaxation is not whole, a mixed-integer program over the columns whose reduced cost is within the gap is exact: a
column with a larger one is in no better solution (reduced-cost fixing; Wolsey, Integer Programming, ch. 7).
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

WHOLE = 1e-6
"""How far from a whole number a value may lie and still be one; the tolerance of the solver."""
AT_ONCE = 4000
"""Up to so many columns are handed over from the beginning."""
JOIN_AT_ONCE = 1500
"""Columns that join in one round of pricing, the best first."""


@dataclass(frozen=True)
class Best:
    """The best solution found: its value and lower bound for each objective, and whether all are proven."""

    x: Floats
    values: tuple[float, ...]
    bounds: tuple[float, ...]
    seconds: float

    @property
    def is_proven(self) -> bool:
        """Every objective's value equals its bound."""
        return all(value - bound < WHOLE for value, bound in zip(self.values, self.bounds, strict=True))


@dataclass
class Program:
    """Minimise `objectives` in turn over whole x >= 0 with low <= rows @ x <= high.

    Attributes
    ----------
    objectives : each of n whole coefficients >= 0
    rows : m x n; every column must be bounded by them
    is_whole : n; variables that must be whole (the others are whole at an optimum)
    start : n; a solution to begin with
    first : n; columns handed to the solver from the beginning
    """

    objectives: Sequence[Floats]
    rows: sparse.csr_array
    low: Floats
    high: Floats
    is_whole: Bools
    start: Floats
    first: Bools


def minimise_in_turn(program: Program, seconds: float) -> Best:
    """Solve; when time is up, the best solution so far with the bounds known by then (0 where none is)."""
    began = time.perf_counter()
    deadline = began + seconds
    rows, low, high = program.rows.tocsc(), program.low, program.high
    x, used = program.start.copy(), program.first | (program.start > 0)
    alive = np.ones(len(x), bool)
    values: list[float] = []
    bounds: list[float] = []
    if len(x) <= AT_ONCE:
        used[:] = True
    for cost in program.objectives:
        stage = _minimise(cost, rows, low, high, program.is_whole, x, alive, used, deadline)
        x, used = stage.x, stage.used
        value = float(np.round(cost @ x, 6))
        values.append(value)
        bounds.append(min(stage.bound, value))
        if value == 0:
            alive &= cost == 0
        else:
            if bounds[-1] == value:
                alive &= stage.reduced <= value - stage.relaxed + WHOLE
            rows = sparse.vstack([rows, sparse.csr_array(cost[None, :])]).tocsc()
            low, high = np.append(low, -np.inf), np.append(high, value)
    return Best(x, tuple(values), tuple(bounds), time.perf_counter() - began)


class _Stage(NamedTuple):
    """One objective solved: x, its bound, the relaxation's value and reduced costs (0 where not known), columns in use."""

    x: Floats
    bound: float
    relaxed: float
    reduced: Floats
    used: Bools


def _minimise(
    cost: Floats, rows: Any, low: Floats, high: Floats, is_whole: Bools, x: Floats, alive: Bools, used: Bools,
    deadline: float,
) -> _Stage:  # fmt: skip
    """One objective over the columns that are alive, from the solution x."""
    nothing = _Stage(x, 0.0, 0.0, np.zeros(len(x)), used)
    if float(cost @ x) == 0:
        return nothing
    used = used | (x > 0)
    while True:
        left = deadline - time.perf_counter()
        here = np.flatnonzero(used & alive)
        answer = _relax(cost[here], rows[:, here], low, high, left) if left > 0 else None
        if answer is None:
            return nothing
        value, part, duals = answer
        reduced = cost - rows.T @ duals
        better = np.flatnonzero((reduced < -WHOLE) & alive & ~used)
        if len(better) == 0:
            break
        used[better[np.argsort(reduced[better])[:JOIN_AT_ONCE]]] = True
    bound = max(0.0, math.ceil(value - 1e-4))
    rounded = np.where(is_whole[here], np.round(part), part)
    if np.abs(rounded - part).max(initial=0.0) < WHOLE:
        x = np.zeros(len(x))
        x[here] = rounded
        return _Stage(x, bound, value, reduced, used)
    is_complete = False
    while not is_complete and float(cost @ x) - bound > WHOLE and time.perf_counter() < deadline:
        x = _whole(cost, rows, low, high, is_whole, x, used & alive, deadline)
        if float(cost @ x) - bound <= WHOLE:  # proven by the bound: no further column is needed
            break
        wanted = alive & (reduced <= float(cost @ x) - value + WHOLE)
        is_complete = not (wanted & ~used).any()
        used = used | wanted
    if is_complete and time.perf_counter() < deadline:
        bound = float(np.round(cost @ x, 6))
    return _Stage(x, bound, value, reduced, used)


def _relax(
    cost: Floats, rows: Any, low: Floats, high: Floats, left: float
) -> tuple[float, Floats, Floats] | None:
    """The linear relaxation: value, x and one dual for each row; None when time is up."""
    is_equal = low == high
    is_above = ~is_equal & np.isfinite(low)
    is_below = ~is_equal & np.isfinite(high)
    tall = rows.tocsr()
    answer = linprog(
        cost,
        A_ub=sparse.vstack([tall[is_below], -tall[is_above]]),
        b_ub=np.concatenate([high[is_below], -low[is_above]]),
        A_eq=tall[is_equal],
        b_eq=low[is_equal],
        method="highs",
        options={"time_limit": max(left, 0.01)},
    )
    if answer.status != 0:
        return None
    duals = np.zeros(len(low))
    duals[is_equal] = answer.eqlin.marginals
    under = answer.ineqlin.marginals
    duals[is_below] += under[: is_below.sum()]
    duals[is_above] -= under[is_below.sum() :]
    return float(answer.fun), answer.x, duals


def _whole(
    cost: Floats, rows: Any, low: Floats, high: Floats, is_whole: Bools, x: Floats, used: Bools, deadline: float
) -> Floats:  # fmt: skip
    """The best whole solution over the columns in use; x itself when none better is found in time."""
    here = np.flatnonzero(used)
    answer = milp(
        cost[here],
        constraints=LinearConstraint(rows[:, here], low, high),
        integrality=is_whole[here].astype(int),
        bounds=Bounds(0, np.inf),
        options={"mip_rel_gap": 0.0, "time_limit": max(deadline - time.perf_counter(), 0.01)},
    )
    if answer.x is None or answer.fun >= float(cost @ x) - WHOLE:
        return x
    found = np.zeros(len(x))
    found[here] = np.where(is_whole[here], np.round(answer.x), answer.x)
    return found
