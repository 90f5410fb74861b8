"""The best roster, by brute force, by other solvers and as published."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from rules.plans import in_turn, staffing
from rules.plans.staffing import CAN, CANNOT, LIMITS, UNKNOWN, Locked, Piece, Roster, Terms, Want
from rules.plans.staffing.roster import Turn


def random_roster(seed: int) -> Roster:
    """Two posts of two shifts, one with two people, and three members with one kit each."""
    rng = np.random.default_rng(seed)
    length = int(rng.choice([240, 300, 420]))
    pieces = [
        Piece(post, at * length, (at + 1) * length, people)
        for post, people in ((0, 2), (1, 1))
        for at in (0, 1)
    ]
    members = 3
    answer = [CAN, LIMITS, UNKNOWN, CANNOT]
    person = rng.choice(answer, (4, members), p=[0.6, 0.2, 0.1, 0.1])
    lead = rng.choice(answer, (4, members), p=[0.4, 0.2, 0.1, 0.3])
    carried = np.repeat(rng.integers(0, 99, (2, members)), 2, axis=0)
    charge = rng.choice([0.0, 0.4, 0.7], (4, members))
    locked = [Locked(1, 2, 2, 0, length)] if seed % 5 == 4 else []
    owner, lent, in_reserve = np.arange(members), {}, rng.random(members) < 0.7
    travel_min, away = int(rng.choice([0, 30])), [(1, -60, length - 20, 0)] if seed % 4 == 3 else []
    ways = np.zeros((0, 0), np.int64)
    if seed % 3 == 1:  # the first member's kit may be lent to the others, who have less of their own
        owner, lent = np.array([0, 1, 2, 1, 2]), {3: 0, 4: 0}
        lead[:, 1:] = np.where(rng.random((4, 2)) < 0.6, CANNOT, lead[:, 1:])
        lead = np.hstack([lead, rng.choice(answer, (4, 2), p=[0.5, 0.2, 0.1, 0.2])])
        carried, charge = carried[:, [0, 1, 2, 0, 0]], np.hstack([charge, charge[:, [0, 0]]])
        in_reserve = np.append(in_reserve, [False, False])
    if seed % 8 == 2:  # hours at another event before this one, with a way home of 40 min
        away = [(0, -400, -100, 40), (1, -700, -500, 0)]
    if seed % 3 == 2:
        ways = np.array([[0, 0], [200, 30], [60, 60]])
    wants = []
    if seed % 3 == 0:  # two shifts want something that the kits there have together
        travel_min = 30
        wants = [
            Want(piece, least, rng.integers(0, least + 1, members))
            for piece, least in ((0, 2), (1, 1), (3, 1))
        ]
    stood = [(0, 1, 0, length, 0), (1, 0, length, 2 * length, 0)] if seed % 2 else []
    return Roster(
        pieces, [False, True], owner, members, person, lead, charge, carried, [bool(seed % 2), False], in_reserve,
        seed % 3 < 2, Terms(shift_h=8, travel_min=travel_min), locked, away, lent, ways,
        stood=stood, wants=wants,
    )  # fmt: skip


def stretches(roster: Roster, seats: dict[tuple[int, int], int]) -> Iterator[tuple[int, int, list[int]]]:
    """The stretches of a choice (member, seat, pieces): shifts on end in one seat of one post are one."""
    for member in set(seats.values()):
        for seat in (0, 1):
            own = sorted(piece for (piece, s), m in seats.items() if m == member and s == seat)
            run: list[int] = []
            for piece in own:
                is_next = (
                    run and piece == run[-1] + 1 and roster.pieces[piece].post == roster.pieces[run[-1]].post
                )
                if run and not is_next:
                    yield member, seat, run
                    run = []
                run.append(piece)
            if run:
                yield member, seat, run


def is_overworked(roster: Roster, member: int, own: list[tuple[int, int, int]]) -> bool:
    """Whether a member's spans here (post, start, end) are too long for some 24 hours, ten minutes by ten minutes."""
    terms, day_long, zero = roster.terms, 144, 200
    here, duty, day = (np.zeros(600, int) for _ in range(3))
    for _, start, end in own:
        here[zero + start // 10 : zero + end // 10] += 1
    for _, start, end, way in (span for span in roster.away if span[0] == member):
        duty[zero + start // 10 : zero + end // 10] += 1
        day[zero + (start - way) // 10 : zero + (end + way) // 10] += 1
    work, duty_in, day_in = (
        total[day_long:] - total[:-day_long] for total in map(np.cumsum, (here, duty, day))
    )
    ways = 2 * roster.ways[member].max() / 10 if roster.ways.size else 0
    turns = [(start - way, start, end, end + way, 0) for who, start, end, way in roster.away if who == member]
    turns += [
        (row.start - way, row.start, row.end, row.end + way, 0)
        for row in roster.locked
        if row.member == member
        for way in [int(roster.way_min(member, row.post))]
    ]
    for post, start, end in own:
        way = int(roster.way_min(member, post))
        turns.append((start - way, start, end, end + way, 1))
    for some in itertools.chain(*(itertools.combinations(turns, size) for size in range(2, len(turns) + 1))):
        day = sorted(some, key=lambda turn: turn[1])
        pauses = [after[1] - before[2] for before, after in itertools.pairwise(day)]
        is_one_day = all(0 <= pause < 60 * terms.rest_h for pause in pauses)
        is_late = day[-1][3] - day[0][0] > 60 * (terms.day_h - terms.ready_h)
        if is_one_day and is_late and any(is_here for *_, is_here in day):
            return True
    is_long = (work + duty_in > 6 * terms.most_h) | (work + day_in + ways > 6 * (terms.day_h - terms.ready_h))
    return bool((is_long & (work > 0)).any())


def weigh(
    roster: Roster, seats: dict[tuple[int, int], int], reserve: int | None, bring: tuple[int, ...] = ()
) -> tuple[float, ...] | None:
    """The objectives of a choice of a member for seats (piece, 0 leading or 1 further); None when it breaks a rule.

    `bring`: members who bring their kit to a further seat too, where it gives something that is wanted there.
    """
    terms, pieces = roster.terms, roster.pieces
    limits = carried = loans = moved = others = 0
    kits: dict[int, list[tuple[int, int, int]]] = (
        {reserve: [(-1, -(10**6), 10**6)]} if reserve is not None else {}
    )
    spans: dict[int, list[tuple[int, int, int]]] = {m: [] for m in range(roster.members)}
    drawn = np.zeros(roster.members)
    turns = np.zeros(roster.members)
    given = [
        sum(int(want.gives[row.kit]) for row in roster.locked if _is_at(row, pieces[want.piece]))
        for want in roster.wants
    ]
    for member, start, end, there in roster.away:
        spans[member].append((-2, start - there, end + there))
    for row in roster.locked:
        spans[row.member].append((row.post, row.start, row.end))
        turns[row.member] += math.ceil((row.end - row.start) / (60 * terms.shift_h))
        drawn[row.kit] += roster.charge[
            [p.post == row.post and p.start == row.start for p in pieces], row.kit
        ].sum()
        kits.setdefault(row.kit, []).append((row.post, row.start, row.end))
    for (piece, seat), _ in seats.items():
        if seat == 1 and (piece, 0) not in seats:
            return None
    for member, seat, run in stretches(roster, seats):
        post, start, end = pieces[run[0]].post, pieces[run[0]].start, pieces[run[-1]].end
        person = roster.person[run, member].max()
        charge = roster.charge[run, member].sum()
        is_used_up = len(run) > 1 and charge > 1
        with_kit = CANNOT if is_used_up else max(roster.lead[run, member].max(), person)
        body = member
        late = len(run) > 1 and end - start > 60 * terms.shift_h
        if seat == 0:
            for kit, it in roster.lent.items():
                if with_kit == CANNOT and roster.owner[kit] == member:
                    charge, body = roster.charge[run, kit].sum(), it
                    lent = max(roster.lead[run, kit].max(), person)
                    with_kit = (
                        CANNOT if (len(run) > 1 and charge > 1) or lent == CANNOT else max(lent, UNKNOWN)
                    )
                    loans += 1
            answer, has_kit = with_kit, True
        else:
            has_kit = roster.wants_two[post] and with_kit <= person and with_kit < CANNOT
            answer = person
            gives = any(want.piece in run and want.gives[member] for want in roster.wants)
            if member in bring and not has_kit and gives and max(with_kit, person) < CANNOT:
                has_kit, answer = True, max(with_kit, person)
            limits += roster.wants_two[post] and not has_kit
        if answer == CANNOT:
            return None
        limits += int(answer) + late
        if has_kit:
            carried += roster.carried[run[0], body]
            drawn[body] += charge
            kits.setdefault(body, []).append((post, start, end))
            for number, want in enumerate(roster.wants):
                given[number] += int(want.gives[body]) if want.piece in run else 0
        with_kit_of = [
            kit
            for who, where, since, until, kit in roster.stood
            if (who, where) == (member, post) and start < until and end > since
        ]
        moved += bool(roster.stood) and not with_kit_of
        others += bool(with_kit_of) and (body if has_kit else -1) not in with_kit_of
        turns[member] += math.ceil((end - start) / (60 * terms.shift_h))
        spans[member].append((post, start, end))
    if (drawn > 1 + 1e-9).any():
        return None
    for body, times in kits.items():
        for (post, start, end), (other, start_2, end_2) in itertools.combinations(times, 2):
            way = 0 if post == other else terms.travel_min
            is_one = body not in roster.lent.values() and -1 not in (
                post,
                other,
            )  # held together by its owner
            if not is_one and start < end_2 + way and start_2 < end + way:
                return None
    for member, own in spans.items():
        if reserve == member and own:
            return None
        own.sort(key=lambda span: span[1])
        for (post, _, end), (other, start, _) in itertools.pairwise(own):
            locked_here = any(row.member == member for row in roster.locked)
            apart = roster.apart_min[member]
            if post == -2 or other == -2:
                apart = max(terms.travel_min, roster.way_min(member, max(post, other)))
            way = 0 if post == other and locked_here else apart
            if start < end + way:
                return None
        if is_overworked(roster, member, [span for span in own if span[0] >= 0]):
            return None
    critical = total = 0
    short = sum(
        pieces[want.piece].minutes * max(0, want.least - have)
        for want, have in zip(roster.wants, given, strict=True)
        if (want.piece, 0) in seats or any(_is_at(row, pieces[want.piece]) for row in roster.locked)
    )
    for number, piece in enumerate(pieces):
        is_held = any(
            r.post == piece.post and r.start <= piece.start and r.end >= piece.end for r in roster.locked
        )
        filled = is_held + ((number, 0) in seats) + ((number, 1) in seats)
        total += (piece.people - filled) * piece.minutes
        critical += (piece.people - filled) * piece.minutes * roster.is_critical[piece.post]
    waits = (max(p.end for p in pieces) - min(p.start for p in pieces)) * (
        roster.stations - (reserve is not None)
    )
    beyond = sum(max(0.0, turns[m] - level) for m in range(roster.members) for level in range(1, 9))
    return critical, total, short, waits, limits, loans, beyond, moved, others, int(carried)


def _is_at(row: Locked, piece: Piece) -> bool:
    return row.post == piece.post and row.start <= piece.start and row.end >= piece.end


def brute(roster: Roster) -> tuple[float, ...]:
    """The best objectives over every choice of people for seats."""
    places = []
    for number, piece in enumerate(roster.pieces):
        is_held = any(
            r.post == piece.post and r.start <= piece.start and r.end >= piece.end for r in roster.locked
        )
        if not is_held:
            places.append((number, 0))
        if piece.people - is_held > (not is_held):
            places.append((number, 1))
    everyone: list[int | None] = [None, *range(roster.members)]
    waiting = [m for m in range(roster.members) if roster.in_reserve[m]] if roster.stations else []
    found = []
    for choice in itertools.product(everyone, repeat=len(places)):
        seats = {place: member for place, member in zip(places, choice, strict=True) if member is not None}
        if any(seats.get((piece, 0)) == member for (piece, seat), member in seats.items() if seat == 1):
            continue
        beside = sorted({member for (_, seat), member in seats.items() if seat == 1 and roster.wants})
        brings = itertools.chain(*(itertools.combinations(beside, size) for size in range(len(beside) + 1)))
        for bring, reserve in itertools.product(brings, [None, *waiting]):
            value = weigh(roster, seats, reserve, bring)
            if value is not None:
                found.append(value)
    return min(found)


@pytest.mark.parametrize("seed", range(20))
def test_best_roster_by_brute_force(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(in_turn, "AT_ONCE", 0)
    roster = random_roster(seed)
    seated = staffing.best(roster, 30.0)
    assert seated.best.is_proven
    assert seated.best.values == pytest.approx(brute(roster), abs=1e-6)


@pytest.mark.parametrize("seed", range(24))
def test_best_roster_of_a_day_of_three_turns_by_brute_force(seed: int) -> None:
    """Posts that open one after another for two people, of whom one may be on duty elsewhere or in a locked row."""
    rng = np.random.default_rng(seed)
    pieces, at = [], 0
    for post in range(3 + seed % 2):
        length = int(rng.choice([60, 120, 180]))
        pieces.append(Piece(post, at, at + length, 1))
        at += length + int(rng.choice([270, 330, 350, 400]))
    posts = len(pieces)
    ways = rng.choice([0, 30, 60], (2, posts)) if seed % 3 else np.zeros((0, 0), np.int64)
    locked = [Locked(1, 0, 0, pieces[1].start, pieces[1].end)] if seed % 4 == 1 else []
    away = [(0, -400, -340, 30), (0, pieces[1].start - 60, pieces[1].start - 40, 0)] if seed % 4 == 2 else []
    if seed % 4 == 3:
        away = [(0, -400, -340, 30), (0, pieces[0].end + 320, pieces[0].end + 380, 30)]
        pieces = pieces[:1] + [
            replace(piece, start=piece.start + 400, end=piece.end + 400) for piece in pieces[1:]
        ]
    lead = np.stack([np.zeros(posts, int), rng.choice([LIMITS, CANNOT], posts, p=[0.2, 0.8])], axis=1)
    roster = Roster(
        pieces, [True] * posts, np.arange(2), 2, np.zeros((posts, 2), int), lead,
        np.zeros((posts, 2)), np.zeros((posts, 2), int), [False] * posts, np.zeros(2, bool), 0, Terms(shift_h=3), locked, away, {}, ways,
    )  # fmt: skip
    seated = staffing.best(roster, 30.0)
    assert seated.best.is_proven
    assert seated.best.values == pytest.approx(brute(roster), abs=1e-6)


def test_turns_without_a_rest_between_them_are_one_day() -> None:
    """Six hours end a day; one is home from the turn that ends last."""
    turns = [
        Turn(-20, 0, 300, 320),
        Turn(640, 659, 700, 740),
        Turn(60, 90, 120, 150),
        Turn(1000, 1060, 1100, 1130),
    ]
    roster = random_roster(0)
    assert roster.days(turns) == [Turn(-20, 0, 700, 740), Turn(1000, 1060, 1100, 1130)]
    assert roster.days(turns[:1] + turns[2:3]) == turns[:1]
    away = [(1, 0, 300, 20), (1, 659, 700, 40), (0, 1060, 1100, 30)]
    assert replace(roster, away=away).fixed == {
        1: [Turn(-20, 0, 700, 740)],
        0: [Turn(1030, 1060, 1100, 1130)],
    }


@pytest.mark.parametrize("seed", range(5))
def test_one_shift_is_the_assignment_problem(seed: int) -> None:
    """Against scipy's linear_sum_assignment: limits first, then weight; a seat nobody fills costs most."""
    rng = np.random.default_rng(seed)
    count, members = 20, 26
    pieces = [Piece(post, 0, 300, 1) for post in range(count)]
    lead = rng.choice([CAN, LIMITS, UNKNOWN, CANNOT], (count, members), p=[0.1, 0.2, 0.2, 0.5])
    lead[:3] = CANNOT
    carried = np.broadcast_to(rng.integers(0, 200, members), (count, members)) + rng.integers(
        0, 50, (count, members)
    )
    roster = Roster(
        pieces, [False] * count, np.arange(members), members, np.zeros((count, members), int), lead,
        np.zeros((count, members)), carried, [False] * count, np.zeros(members, bool),
    )  # fmt: skip
    seated = staffing.best(roster, 30.0)
    cost = np.where(lead == CANNOT, 1e9, lead * 1e5 + carried)
    post, member = linear_sum_assignment(np.hstack([cost, np.full((count, count), 1e8)]))
    is_real = member < members
    post, member = post[is_real], member[is_real]
    assert seated.best.is_proven
    assert seated.best.values[1] == 300 * (count - len(post))
    assert seated.best.values[4] == lead[post, member].sum()
    assert seated.best.values[-1] == carried[post, member].sum()


def test_a_published_assignment_problem() -> None:
    """Four workers, four tasks: the least total cost is 265, worker by worker at 70, 55, 95 and 45.

    Source: page on the linear sum assignment solver of the guide of an open-source optimisation suite (costs), and the
    test of that page's example in a binding to the suite (optimum and assignment).
    """
    cost = np.array([[90, 76, 75, 70], [35, 85, 55, 65], [125, 95, 90, 105], [45, 110, 95, 115]])
    pieces = [Piece(post, 0, 300, 1) for post in range(4)]
    nothing = np.zeros((4, 4), np.int64)
    roster = Roster(
        pieces, [False] * 4, np.arange(4), 4, nothing, nothing, np.zeros((4, 4)), cost.T, [False] * 4, np.zeros(4, bool)
    )  # fmt: skip
    seated = staffing.best(roster, 10.0)
    assert seated.best.is_proven and seated.best.values[-1] == 265
    assert {c["member"]: c["post"] for c in seated.chosen} == {0: 3, 1: 2, 2: 1, 3: 0}
    assert [cost[c["member"], c["post"]] for c in sorted(seated.chosen, key=lambda c: c["member"])] == [
        70,
        55,
        95,
        45,
    ]


def test_shifts_share_their_boundaries_and_no_stump_is_left() -> None:
    pieces = staffing.shifts([0, 60], [36 * 60, 15 * 60], [2, 1], {}, Terms())
    first = [(p.start, p.end) for p in pieces if p.post == 0]
    second = [(p.start, p.end) for p in pieces if p.post == 1]
    assert first == [(0, 432), (432, 864), (864, 1296), (1296, 1728), (1728, 2160)]
    # 36 minutes after the boundary join the shift before; one person alone may stay for 12 of the 14 h
    assert second == [(60, 432), (432, 780), (780, 900)]
    cut = staffing.shifts([0], [600], [1], {0: [200]}, Terms(shift_h=12))
    assert [(p.start, p.end) for p in cut] == [(0, 200), (200, 600)]
