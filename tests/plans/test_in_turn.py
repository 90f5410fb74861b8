"""Objectives in turn, against a solver that is given every column; and what solvers print."""

from __future__ import annotations

import os

import numpy as np
import pytest
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from rules.plans import in_turn
from rules.plans.in_turn import Program, minimise_in_turn
from rules.plans.quiet import quiet


def random_program(seed: int) -> Program:
    """A covering problem with slack, knapsack rows and three costs."""
    rng = np.random.default_rng(seed)
    seats, people, n = 8, 6, 40
    cover = sparse.csr_array((np.ones(n), (rng.integers(0, seats, n), np.arange(n))), shape=(seats, n))
    who = rng.integers(0, people, n)
    hours = sparse.csr_array((rng.integers(2, 6, n).astype(float), (who, np.arange(n))), shape=(people, n))
    slack = sparse.vstack([sparse.eye_array(seats), sparse.csr_array((people, seats))])
    rows = sparse.hstack([sparse.vstack([cover, hours]), slack]).tocsr()
    want = rng.integers(1, 3, seats).astype(float)
    low = np.concatenate([want, np.full(people, -np.inf)])
    high = np.concatenate([want, np.full(people, 7.0)])
    zeros = np.zeros(seats)
    objectives = [np.concatenate([np.zeros(n), rng.integers(1, 4, seats)])]
    objectives += [np.concatenate([rng.integers(0, top, n), zeros]).astype(float) for top in (3, 30)]
    is_whole = np.concatenate([np.ones(n, bool), np.zeros(seats, bool)])
    first = np.concatenate([rng.random(n) < 0.2, np.ones(seats, bool)])
    return Program(objectives, rows, low, high, is_whole, np.concatenate([np.zeros(n), want]), first)


@pytest.mark.parametrize("seed", range(25))
def test_objectives_in_turn_agree_with_the_solver_given_every_column(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(in_turn, "AT_ONCE", 0 if seed % 2 else 4000)
    program = random_program(seed)
    found = minimise_in_turn(program, 30.0)
    rules = [LinearConstraint(program.rows, program.low, program.high)]
    for value, cost in zip(found.values, program.objectives, strict=True):
        answer = milp(
            cost, constraints=rules, integrality=program.is_whole.astype(int), bounds=Bounds(0, np.inf),
            options={"mip_rel_gap": 0.0},
        )  # fmt: skip
        assert value == pytest.approx(answer.fun, abs=1e-6)
        rules.append(LinearConstraint(cost[None, :], -np.inf, answer.fun + 1e-6))
    assert found.is_proven
    activity = program.rows @ found.x
    assert (activity >= program.low - 1e-6).all() and (activity <= program.high + 1e-6).all()


def test_when_time_is_up_the_start_stands_and_nothing_is_called_proven() -> None:
    program = random_program(3)
    found = minimise_in_turn(program, 0.0)
    assert np.array_equal(found.x, program.start)
    assert not found.is_proven and found.bounds[0] == 0


def test_what_the_solver_prints_goes_nowhere(capfd: pytest.CaptureFixture[str]) -> None:
    """Two solvers at work at once: standard output comes back with the last, and nothing before it is seen."""
    with quiet():
        with quiet():
            os.write(1, b"noise")
        os.write(1, b"more noise")
    os.write(1, b"heard")
    assert capfd.readouterr().out == "heard"
