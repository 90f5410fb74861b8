"""Staff 60 posts in 3 shifts with 300 members to the proven optimum.

Run with `uv run python tests/bench/bench_staffing.py`. Abilities, limits and weights are drawn at random with a fixed
seed. Prints the solver's seconds (of the clock, and of the processor) beside the same program given whole to the same
solver; nothing is gated on them.
"""

from __future__ import annotations

import time

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from rules.plans import staffing
from rules.plans.in_turn import Program
from rules.plans.staffing import CAN, CANNOT, LIMITS, UNKNOWN, Piece, Roster, Terms, program

POSTS, SHIFTS, MEMBERS, SHIFT_MIN = 60, 3, 300, 480


def roster(able_share: float, seed: int = 1, members: int = MEMBERS, lent: int = 0) -> Roster:
    """Random abilities: each member's kit can hold a share of the posts; one post in ten takes two people.

    Parameters
    ----------
    lent : kits that may be lent, each to 60 other members, all of whom can then hold what its owner can
    """
    rng = np.random.default_rng(seed)
    people = np.where(np.arange(POSTS) % 10 == 0, 2, 1)
    pieces = [
        Piece(post, at * SHIFT_MIN, (at + 1) * SHIFT_MIN, int(people[post]))
        for post in range(POSTS)
        for at in range(SHIFTS)
    ]
    rest = 1 - able_share
    share = [able_share * 0.5, able_share * 0.35, able_share * 0.15, rest]
    lead = np.repeat(rng.choice([CAN, LIMITS, UNKNOWN, CANNOT], (POSTS, members), p=share), SHIFTS, axis=0)
    person = np.repeat(rng.choice([CAN, LIMITS, CANNOT], (POSTS, members), p=[0.7, 0.2, 0.1]), SHIFTS, axis=0)
    on_foot = rng.random(POSTS) < 0.3
    carried = np.repeat(on_foot[:, None] * rng.integers(20, 150, members)[None, :], SHIFTS, axis=0)
    kits = np.concatenate([np.arange(members), np.repeat(np.arange(lent), 60)])
    owner = np.concatenate(
        [np.arange(members), *(rng.choice(np.arange(lent, members), 60, replace=False) for _ in range(lent))]
    )
    in_reserve = np.append(rng.random(members) < 0.6, np.zeros(60 * lent, bool))
    return Roster(
        pieces, (np.arange(POSTS) % 10 == 0).tolist(), owner, members, person, lead[:, kits],
        np.full((len(pieces), len(kits)), 0.7), carried[:, kits], (people > 1).tolist(), in_reserve, POSTS // 10, Terms(),
        lent={members + at: int(kit) for at, kit in enumerate(kits[members:])},
    )  # fmt: skip


def whole(program: Program, seconds: float) -> float:
    """Seconds of the solver given every column, one objective after the other."""
    began = time.perf_counter()
    rules = [LinearConstraint(program.rows, program.low, program.high)]
    for cost in program.objectives:
        left = seconds - (time.perf_counter() - began)
        if left <= 0:
            break
        answer = milp(
            cost, constraints=rules, integrality=program.is_whole.astype(int), bounds=Bounds(0, np.inf),
            options={"mip_rel_gap": 0.0, "time_limit": left},
        )  # fmt: skip
        if answer.x is None:
            break
        rules.append(LinearConstraint(cost[None, :], -np.inf, answer.fun + 1e-6))
    return time.perf_counter() - began


def main() -> None:
    """Print one line per case."""
    cases = (
        (0.3, MEMBERS, 0),
        (0.6, MEMBERS, 0),
        (0.9, MEMBERS, 0),
        (0.3, 190, 0),
        (0.3, MEMBERS, 10),
        (0.3, 150, 10),
    )
    for able_share, members, lent in cases:
        case = roster(able_share, members=members, lent=lent)
        columns = program.columns_of(case)
        began = time.process_time()
        seated = staffing.best(case, 60.0)
        busy = time.process_time() - began
        plain = whole(program.program_of(case, columns), 60.0)
        print(
            f"{POSTS} posts x {SHIFTS} shifts x {members} members, {able_share:.0%} able, {lent} kits to lend: "
            f"{len(columns.member):,} columns, {seated.best.seconds:.2f} s ({busy:.2f} s of the processor), "
            f"{'proven' if seated.best.is_proven else 'not proven'}, values {seated.best.values}; "
            f"every column at once {plain:.1f} s"
        )


if __name__ == "__main__":
    main()
