"""The integer program of a roster: who sits where, as columns and rows, solved objective by objective.

A column is one person at one post for one or more shifts on end; people sit in the leading seat, with a kit that can
do the post, or in a further seat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import sparse

from rules.plans.in_turn import Best, Program, minimise_in_turn
from rules.plans.staffing.roster import CAN, CANNOT, DAY_MIN, Floats, Ints, Roster


@dataclass
class Columns:
    """The columns of a roster, one entry each; seat 0 leads, 1 is a further seat, 2 the reserve."""

    member: Ints
    kit: Ints
    post: Ints
    seat: Ints
    first: Ints
    last: Ints
    start: Ints
    end: Ints
    limits: Ints
    carried: Ints
    charge: Floats
    answer: Ints


def _chains(roster: Roster) -> list[tuple[int, int]]:
    """First and last piece of every stretch that one person may hold."""
    found = []
    for first, piece in enumerate(roster.pieces):
        last = first
        while True:
            found.append((first, last))
            following = last + 1
            if following == len(roster.pieces) or roster.pieces[following].post != piece.post:
                break
            if roster.pieces[following].end - piece.start > 60 * roster.terms.most_h:
                break
            last = following
    return found


def columns_of(roster: Roster) -> Columns:
    """Every person at every stretch of a post that they and a kit can hold, in the leading or a further seat."""
    parts: list[dict[str, Any]] = []
    long_min = 60 * roster.terms.shift_h
    for first, last in _chains(roster):
        piece = roster.pieces[first]
        span = slice(first, last + 1)
        start, end = piece.start, roster.pieces[last].end
        lead = np.maximum.reduce(roster.lead[span])
        person = np.maximum.reduce(roster.person[span])
        charge = roster.charge[span].sum(axis=0)
        carried = roster.carried[first]
        lead = np.where((charge > 1) & (last > first), CANNOT, np.maximum(lead, person[roster.owner]))
        late = int(last > first and end - start > long_min)
        common = {"post": piece.post, "first": first, "last": last, "start": start, "end": end}
        order = np.lexsort((carried, lead, roster.owner))
        order = order[lead[order] < CANNOT]
        _, at = np.unique(roster.owner[order], return_index=True)
        kit = order[at]
        parts.append(
            common | {
                "member": roster.owner[kit], "kit": kit, "seat": 0, "limits": lead[kit] + late,
                "carried": carried[kit], "charge": charge[kit], "answer": lead[kit],
            }
        )  # fmt: skip
        if piece.people > 1:
            own = np.full(roster.members, -1)
            if roster.wants_two[piece.post]:
                good = kit[lead[kit] <= person[roster.owner[kit]]]
                own[roster.owner[good]] = good
            able = np.flatnonzero(person < CANNOT)
            is_bare = own[able] < 0
            parts.append(
                common | {
                    "member": able, "kit": own[able], "seat": 1,
                    "limits": person[able] + late + (is_bare & roster.wants_two[piece.post]),
                    "carried": np.where(is_bare, 0, carried[own[able]]), "charge": np.where(is_bare, 0.0, charge[own[able]]),
                    "answer": person[able],
                }
            )  # fmt: skip
    kits = np.flatnonzero(roster.in_reserve)
    _, at = np.unique(roster.owner[kits], return_index=True)
    for number, (start, end, _) in enumerate(roster.reserve):
        place = len(roster.pieces) + number
        parts.append(
            {
                "member": roster.owner[kits[at]], "kit": kits[at], "post": -1, "seat": 2, "first": place, "last": place,
                "start": start, "end": end, "limits": 0, "carried": 0, "charge": 0.0, "answer": CAN,
            }
        )  # fmt: skip
    names = list(Columns.__dataclass_fields__)
    joined = {}
    for name in names:
        kind = float if name == "charge" else np.int64
        joined[name] = (
            np.concatenate([np.broadcast_to(p[name], len(p["member"])).astype(kind) for p in parts])
            if parts
            else np.zeros(0, kind)
        )
    return _free(Columns(**joined), roster)


def _free(columns: Columns, roster: Roster) -> Columns:
    """Without the columns that meet something else the same person is held by, the way there counted."""
    keep = np.ones(len(columns.member), bool)
    taken = [(row.member, row.post, row.start, row.end) for row in roster.locked]
    taken += [(member, -2, start, end) for member, start, end in roster.away]
    for member, post, start, end in taken:
        way = np.where(columns.post == post, 0, roster.terms.travel_min)
        meets = (columns.start < end + way) & (columns.end + way > start)
        keep &= ~((columns.member == member) & meets)
    return Columns(**{name: getattr(columns, name)[keep] for name in Columns.__dataclass_fields__})


def program_of(roster: Roster, columns: Columns) -> Program:
    """The objectives and rows over the columns, then one slack for each seat row, then each member's turns beyond the first, second …"""
    terms, pieces = roster.terms, roster.pieces
    n = len(columns.member)
    want = np.array([p.people for p in pieces], float)
    has_lead = np.zeros(len(pieces), bool)
    for at, piece in enumerate(pieces):
        for row in roster.locked:
            if row.post == piece.post and row.start <= piece.start and row.end >= piece.end:
                want[at] -= 1
                has_lead[at] |= row.kit is not None and row.answer < CANNOT
    # a leading seat is open unless a locked row leads; what is left are further seats
    lead_want = np.where(has_lead, 0.0, 1.0)
    more_want = np.maximum(want - lead_want, 0.0)
    seat_rows = 2 * len(pieces) + len(roster.reserve)
    seat_want = np.concatenate([lead_want, more_want, [float(count) for *_, count in roster.reserve]])
    minutes = np.array(
        [p.minutes for p in pieces] * 2 + [end - start for start, end, _ in roster.reserve], float
    )
    length = columns.last - columns.first + 1
    each = np.repeat(np.arange(n), length)
    step = np.arange(length.sum()) - np.repeat(np.cumsum(length) - length, length)
    place = columns.first[each] + step
    seat_row = np.where(columns.seat[each] == 0, place, place + len(pieces))
    parts = [_matrix(seat_row, each, np.ones(len(each)), seat_rows, n)]
    lows, highs = [seat_want], [seat_want]

    def add(rows: Any, high: Floats) -> None:
        parts.append(rows)
        lows.append(np.full(len(high), -np.inf))
        highs.append(high)

    # at one place at a time: whoever is on the way at a start counts as there
    starts = sorted({*columns.start.tolist()})
    for at in starts:
        busy = np.flatnonzero((columns.start <= at) & (columns.end + terms.travel_min > at))
        add(_by(columns.member, busy, np.ones(len(busy)), roster.members, n), np.ones(roster.members))
    last = max((p.end for p in pieces), default=0)
    for at in starts:
        inside = np.clip(
            np.minimum(columns.end, at + DAY_MIN) - np.maximum(columns.start, at), 0, None
        ).astype(float)
        inside[columns.seat == 2] = 0.0
        used = np.zeros(roster.members)
        for row in roster.locked:
            used[row.member] += max(0, min(row.end, at + DAY_MIN) - max(row.start, at))
        some = np.flatnonzero(inside)
        left = np.maximum(60 * terms.most_h - used, 0.0)
        add(_by(columns.member, some, inside[some], roster.members, n), left)
        # any two that take more than half of it are one too many
        half = np.flatnonzero(inside > left[columns.member] / 2)
        add(_by(columns.member, half, np.ones(len(half)), roster.members, n), np.ones(roster.members))
        if at + DAY_MIN >= last:
            break
    # one charge for the whole event; on mains nothing is taken
    kits = len(roster.owner)
    took = np.zeros(kits)
    for row in roster.locked:
        if row.kit is not None:
            inside_row = [
                i
                for i, p in enumerate(pieces)
                if p.post == row.post and row.start <= p.start and row.end >= p.end
            ]
            took[row.kit] += roster.charge[inside_row, row.kit].sum()
    left = np.maximum(1.0 - took, 0.0)
    drawn = np.flatnonzero((columns.charge > 0) & (columns.kit >= 0))
    add(_by(columns.kit, drawn, np.minimum(columns.charge[drawn], 1.0), kits, n), left)
    half = drawn[columns.charge[drawn] > left[columns.kit[drawn]] / 2]
    add(_by(columns.kit, half, np.ones(len(half)), kits, n), np.ones(kits))
    # nobody sits in a further seat where nobody leads
    hangs = np.flatnonzero((lead_want > 0) & (more_want > 0))
    hangs_at = sum(part.shape[0] for part in parts)
    add(_matrix([], [], [], len(hangs), n), np.zeros(len(hangs)))
    turns = np.ceil((columns.end - columns.start) / (60 * terms.shift_h)) * (columns.seat < 2)
    before = np.zeros(roster.members)
    for row in roster.locked:
        before[row.member] += math.ceil((row.end - row.start) / (60 * terms.shift_h))
    days = math.ceil(max(last, 1) / DAY_MIN)
    most = before.max(initial=0.0) + days * math.ceil(terms.most_h / terms.shift_h)
    levels = range(1, int(most)) if len(starts) > 1 else range(0)
    each_turn = _by(columns.member, np.arange(n), turns, roster.members, n)
    for level in levels:
        add(each_turn, level - before)

    built = sparse.vstack(parts).tocsr()
    tail = len(levels) * roster.members
    seats = np.arange(seat_rows)
    hang_rows = hangs_at + np.arange(len(hangs))
    slack = _matrix(
        np.concatenate([seats, hang_rows, hang_rows]),
        np.concatenate([seats, hangs, len(pieces) + hangs]),
        np.concatenate([np.ones(seat_rows), more_want[hangs], -np.ones(len(hangs))]),
        built.shape[0],
        seat_rows,
    )
    beyond = _matrix(
        built.shape[0] - tail + np.arange(tail), np.arange(tail), -np.ones(tail), built.shape[0], tail
    )
    rows = sparse.hstack([built, slack, beyond]).tocsr()
    low, high = np.concatenate(lows), np.concatenate(highs)

    zeros = np.zeros(n)
    post_of = np.array([p.post for p in pieces] * 2 + [-1] * len(roster.reserve))
    is_critical = np.array([p >= 0 and roster.is_critical[p] for p in post_of], bool)
    is_post = post_of >= 0
    ends = np.zeros(tail)
    objectives = [
        np.concatenate([zeros, minutes * is_critical, ends]),
        np.concatenate([zeros, minutes * is_post, ends]),
        np.concatenate([zeros, minutes * ~is_post, ends]),
        np.concatenate([columns.limits, np.zeros(seat_rows), ends]),
        np.concatenate([zeros, np.zeros(seat_rows), np.ones(tail)]),
        np.concatenate([columns.carried, np.zeros(seat_rows), ends]),
    ]
    start = np.concatenate([zeros, seat_want, np.maximum(-high[len(high) - tail :], 0.0) if tail else ends])
    usable = np.bincount(rows.indices, minlength=rows.shape[1]) > 0
    return Program(
        [np.asarray(o, float) for o in objectives], rows, low, high,
        np.concatenate([np.ones(n, bool), np.zeros(seat_rows + tail, bool)]), start, _first(columns, rows.shape[1]) & usable,
    )  # fmt: skip


def _first(columns: Columns, size: int) -> npt.NDArray[np.bool_]:
    """The columns to begin with: for each stretch the ten people with the fewest limits, spread over the members."""
    first = np.ones(size, bool)
    n = len(columns.member)
    first[:n] = False
    spread = (columns.member * 7919 + columns.first * 104729) % 10007
    order = np.lexsort((spread, columns.limits, columns.seat, columns.last, columns.first))
    key = np.stack([columns.first, columns.last, columns.seat])[:, order]
    is_new = np.ones(n, bool)
    is_new[1:] = (key[:, 1:] != key[:, :-1]).any(axis=0)
    began = np.maximum.accumulate(np.where(is_new, np.arange(n), 0))
    first[:n][order] = np.arange(n) - began < 10
    return first


def _matrix(rows: Any, cols: Any, values: Any, height: int, width: int) -> sparse.csr_array:
    return sparse.csr_array((values, (rows, cols)), shape=(height, width))


def _by(group: Ints, chosen: Any, values: Floats, height: int, width: int) -> sparse.csr_array:
    """One row for each group, with the values of the chosen columns."""
    return _matrix(group[chosen], chosen, values, height, width)


@dataclass(frozen=True)
class Seated:
    """A solved roster: the chosen columns, what is open in each seat row, and the solver's word."""

    chosen: list[dict[str, Any]]
    lead_open: Floats
    more_open: Floats
    reserve_open: Floats
    best: Best


def best(roster: Roster, seconds: float) -> Seated:
    """Solve a roster to the proven optimum, or as far as the time allows."""
    columns = columns_of(roster)
    program = program_of(roster, columns)
    found = minimise_in_turn(program, seconds)
    n = len(columns.member)
    taken = np.flatnonzero(found.x[:n] > 0.5)
    names = list(Columns.__dataclass_fields__)
    chosen = [{name: getattr(columns, name)[at].item() for name in names} for at in taken]
    count = len(roster.pieces)
    slack = np.round(found.x[n : n + 2 * count + len(roster.reserve)], 6)
    return Seated(chosen, slack[:count], slack[count : 2 * count], slack[2 * count :], found)
