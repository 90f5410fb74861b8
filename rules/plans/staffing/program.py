"""The integer program of a roster: who sits where, as columns and rows, solved objective by objective.

A column is one person at one post for one or more shifts on end; people sit in the leading seat, with a kit that can
do the post, or in a further seat.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import sparse

from rules.plans.in_turn import Best, Program, minimise_in_turn
from rules.plans.staffing.columns import Columns, columns_of, few_lent, from_door_to_door
from rules.plans.staffing.roster import CANNOT, DAY_MIN, Floats, Ints, Locked, Piece, Roster, inside_min


@dataclass(frozen=True)
class _Seats:
    """The seat rows: the leading seat of every piece, then its further seats, then the reserve.

    Attributes
    ----------
    lead, more : by piece; people wanted in the leading seat and in further seats, beside the locked rows
    want, minutes, post : by seat row; people wanted, how long, and where (-1 in reserve)
    """

    lead: Floats
    more: Floats
    want: Floats
    minutes: Floats
    post: Ints


def _holds(row: Locked, piece: Piece) -> bool:
    """Whether a locked row sits at its post for the whole of a piece."""
    return row.post == piece.post and row.start <= piece.start and row.end >= piece.end


def _seats_of(roster: Roster) -> _Seats:
    """A leading seat is open unless a locked row leads; what is left are further seats."""
    pieces = roster.pieces
    people = np.array([p.people for p in pieces], float)
    has_lead = np.zeros(len(pieces), bool)
    for at, piece in enumerate(pieces):
        for row in roster.locked:
            if _holds(row, piece):
                people[at] -= 1
                has_lead[at] |= row.kit is not None and row.answer < CANNOT
    lead = np.where(has_lead, 0.0, 1.0)
    more = np.maximum(people - lead, 0.0)
    return _Seats(
        lead,
        more,
        np.concatenate([lead, more, [float(count) for *_, count in roster.reserve]]),
        np.array([p.minutes for p in pieces] * 2 + [end - start for start, end, _ in roster.reserve], float),
        np.array([p.post for p in pieces] * 2 + [-1] * len(roster.reserve), np.int64),
    )


class _Rows:
    """The rows over the columns of a roster, in the order in which they are added."""

    def __init__(self, columns: Columns) -> None:
        self.width = len(columns.member)
        self.parts: list[sparse.csr_array] = []
        self.lows: list[Floats] = []
        self.highs: list[Floats] = []

    @property
    def height(self) -> int:
        return sum(part.shape[0] for part in self.parts)

    def add(self, part: sparse.csr_array, low: Floats, high: Floats) -> None:
        """Hold every row of a part between two values."""
        self.parts.append(part)
        self.lows.append(low)
        self.highs.append(high)

    def at_most(self, group: Ints, chosen: Any, values: Floats, high: Floats) -> None:
        """Hold the sum of the values of the chosen columns, group by group, to `high`."""
        part = _matrix(group[chosen], chosen, values, len(high), self.width)
        self.add(part, np.full(len(high), -np.inf), high)

    def share(self, group: Ints, chosen: Ints, values: Floats, left: Floats) -> None:
        """Hold each group to what it has left; any two that take more than half of it are one too many."""
        self.at_most(group, chosen, values, left)
        is_half = values > left[group[chosen]] / 2
        self.at_most(group, chosen[is_half], np.ones(is_half.sum()), np.ones(len(left)))


def program_of(roster: Roster, columns: Columns) -> Program:
    """The objectives and rows over the columns, then one slack for each seat row, each member's turns beyond
    the first, second …, and what each want is short of."""
    seats, rows = _seats_of(roster), _Rows(columns)
    starts = sorted({*columns.start.tolist()})
    _fill_the_seats(rows, columns, seats)
    _be_at_one_place(rows, roster, columns, starts)
    _rest(rows, roster, columns, starts)
    _be_home(rows, roster, columns)
    _charge_once(rows, roster, columns)
    _lend_once(rows, roster, columns, starts)
    led_first = rows.height
    led = _led(rows, seats)
    wants_first = rows.height
    wanted = _have_what_is_wanted(rows, roster, columns)
    tail = _take_turns(rows, roster, columns) if len(starts) > 1 else 0

    height, high = rows.height, np.concatenate(rows.highs)
    place = np.array([want.piece for want in roster.wants], np.int64)
    want_rows = wants_first + np.arange(len(place))
    matrix = sparse.hstack(
        [
            sparse.vstack(rows.parts).tocsr(),
            _slack(seats, led, led_first, height)
            + _matrix(want_rows, place, wanted, height, len(seats.want)),
            _beyond(tail, height),
            _matrix(want_rows, np.arange(len(place)), np.ones(len(place)), height, len(place)),
        ]
    ).tocsr()
    short = wanted * (1.0 - seats.lead[place])
    start = np.concatenate([np.zeros(rows.width), seats.want, np.maximum(-high[height - tail :], 0.0), short])
    is_whole = np.arange(len(start)) < rows.width
    usable = np.bincount(matrix.indices, minlength=len(start)) > 0
    return Program(
        _objectives(roster, columns, seats, tail, place), matrix, np.concatenate(rows.lows), high, is_whole, start,
        _first(columns, len(start)) & usable,
    )  # fmt: skip


def _fill_the_seats(rows: _Rows, columns: Columns, seats: _Seats) -> None:
    """Every seat row has as many people as are wanted; slack makes up for those who are not there."""
    length = columns.last - columns.first + 1
    each = np.repeat(np.arange(rows.width), length)
    step = np.arange(length.sum()) - np.repeat(np.cumsum(length) - length, length)
    place = columns.first[each] + step
    seat_row = np.where(columns.seat[each] == 0, place, place + len(seats.lead))
    part = _matrix(seat_row, each, np.ones(len(each)), len(seats.want), rows.width)
    rows.add(part, seats.want, seats.want)


def _be_at_one_place(rows: _Rows, roster: Roster, columns: Columns, starts: list[int]) -> None:
    """Nobody is at two places at once; whoever is on the way at a start counts as there."""
    for at in starts:
        busy = np.flatnonzero((columns.start <= at) & (columns.end + roster.apart_min[columns.member] > at))
        rows.at_most(columns.member, busy, np.ones(len(busy)), np.ones(roster.members))


def _rest(rows: _Rows, roster: Roster, columns: Columns, starts: list[int]) -> None:
    """Nobody works longer in any 24 hours than the terms, other events and the ways allow; standing by is no work.

    Most hours are worked in some 24 that begin with a turn, here or elsewhere.
    """
    begin, last = min(starts, default=0), _end(roster)
    until = max([last, *(end + way for _, _, end, way in roster.away)])
    for at in sorted(at for at in {*starts, *roster.turns} if begin - DAY_MIN < at < last):
        inside = inside_min(columns.start, columns.end, at).astype(float)
        inside[columns.seat == 2] = 0.0
        used = np.zeros(roster.members)
        for row in roster.locked:
            used[row.member] += inside_min(row.start, row.end, at)
        some = np.flatnonzero(inside)
        rows.share(columns.member, some, inside[some], np.maximum(roster.left_min(at) - used, 0.0))
        if at + DAY_MIN >= until:
            break


def _be_home(rows: _Rows, roster: Roster, columns: Columns) -> None:
    """The turns of one day, the ways to the first and from the last with them, are not longer than the terms allow.

    Held are two that follow each other without a rest, and three of which the second ties the others together.
    """
    leaves, home = from_door_to_door(roster, columns)
    fixed = [day for days in roster.fixed.values() for day in days]
    first, last = min(leaves, default=0), max(home, default=0)
    if max([last, *(d.home for d in fixed)]) - min([first, *(d.leaves for d in fixed)]) <= roster.longest_min:
        return
    sets: list[Ints] = []
    most: list[float] = []
    for member in np.unique(columns.member):
        own = np.flatnonzero((columns.member == member) & (columns.seat < 2))
        turns = _Turns(
            *np.concatenate(
                [
                    np.stack([own, leaves[own], columns.start[own], columns.end[own], home[own]], axis=1),
                    np.array([(-1, *day) for day in roster.fixed.get(member, [])], np.int64).reshape(-1, 5),
                ]
            ).T
        )
        for together in _too_long(roster, turns):
            free = [chosen[chosen >= 0] for chosen in together]
            # of turns at one time there is one at most, and one that stands is there in any case
            if any(map(len, free)):
                sets.append(np.concatenate(free))
                most.append(sum(len(chosen) > 0 for chosen in free) - 1.0)
    if sets:
        row = np.repeat(np.arange(len(sets)), [len(chosen) for chosen in sets])
        chosen = np.concatenate(sets)
        part = _matrix(row, chosen, np.ones(len(chosen)), len(sets), rows.width)
        rows.add(part, np.full(len(sets), -np.inf), np.array(most))


@dataclass(frozen=True)
class _Turns:
    """Turns that one person may have, one entry each: its column, -1 where it stands in any case, and as in `Turn`."""

    column: Ints
    leaves: Ints
    start: Ints
    end: Ints
    home: Ints


def _too_long(roster: Roster, turns: _Turns) -> Iterator[tuple[Ints, ...]]:
    """Columns of two or three turns that would make one day too long: any of the first with any of the second and third."""
    first = np.stack([turns.leaves, turns.end], axis=1)
    for left, end in np.unique(first, axis=0):
        is_first = (first == (left, end)).all(axis=1)
        early = turns.column[is_first]
        is_late = turns.home - left > roster.longest_min
        goes_on = roster.goes_on(end, turns.start)
        for at in np.unique(turns.start[goes_on & is_late]):
            yield early, turns.column[goes_on & is_late & (turns.start <= at) & (turns.end > at)]
        far = is_late & (turns.start >= end) & ~goes_on
        for at in np.unique(turns.start[far]):
            is_last = far & (turns.start == at)
            # whoever would work too long within 24 hours is held by that already
            duty = inside_min(turns.start, turns.end, turns.start[is_first].min())
            left_min = 60 * roster.terms.most_h - duty[is_first].min() - duty[is_last].min()
            ties = goes_on & roster.goes_on(turns.end, at) & (duty <= left_min)
            for on in np.unique(turns.start[ties]):
                yield (
                    early,
                    turns.column[ties & (turns.start <= on) & (turns.end > on)],
                    turns.column[is_last],
                )


def _charge_once(rows: _Rows, roster: Roster, columns: Columns) -> None:
    """A kit has one charge for the whole event; on mains nothing is taken."""
    took = np.zeros(len(roster.owner))
    for row in roster.locked:
        if row.kit is not None:
            held = [at for at, piece in enumerate(roster.pieces) if _holds(row, piece)]
            took[roster.body[row.kit]] += roster.charge[held, row.kit].sum()
    drawn = np.flatnonzero((columns.charge > 0) & (columns.kit >= 0))
    rows.share(
        roster.body[columns.kit], drawn, np.minimum(columns.charge[drawn], 1.0), np.maximum(1.0 - took, 0.0)
    )


def _lend_once(rows: _Rows, roster: Roster, columns: Columns, starts: list[int]) -> None:
    """A kit that is lent is at one post at a time, the way between two counted, and does not stand by meanwhile."""
    everyone = np.zeros(rows.width, np.int64)
    for kit in sorted(set(roster.lent.values())):
        mine = np.flatnonzero((columns.kit >= 0) & (roster.body[columns.kit] == kit))
        post, start, end = columns.post[mine], columns.start[mine], columns.end[mine]
        together = {tuple(mine[(start <= at) & (end > at)].tolist()) for at in starts}
        for left, gone in sorted({*zip(post.tolist(), end.tolist(), strict=True)}):
            is_gone = (post == left) & (end == gone)
            soon = (post != left) & (start >= gone) & (start < gone + roster.terms.travel_min)
            together |= {
                tuple(mine[is_gone | (soon & (post == other))].tolist()) for other in set(post[soon].tolist())
            }
        for chosen in sorted(together):
            if len(chosen) > 1:
                rows.at_most(everyone, np.array(chosen), np.ones(len(chosen)), np.ones(1))


def _led(rows: _Rows, seats: _Seats) -> Ints:
    """Nobody sits in a further seat where nobody leads: a row of slack alone for each such piece, by its place."""
    pieces = np.flatnonzero((seats.lead > 0) & (seats.more > 0))
    none = np.zeros(0, np.int64)
    rows.at_most(none, none, np.zeros(0), np.zeros(len(pieces)))
    return pieces


def _have_what_is_wanted(rows: _Rows, roster: Roster, columns: Columns) -> Floats:
    """The kits at a piece have together what is wanted there, or nobody leads it: by want, how much beside locked kits."""
    left = np.zeros(len(roster.wants))
    which: list[Ints] = []
    values: list[Floats] = []
    for number, want in enumerate(roster.wants):
        piece = roster.pieces[want.piece]
        locked = sum(
            int(want.gives[row.kit]) for row in roster.locked if row.kit is not None and _holds(row, piece)
        )
        left[number] = max(want.least - locked, 0)
        is_there = (
            (columns.first <= want.piece)
            & (columns.last >= want.piece)
            & (columns.seat < 2)
            & (columns.kit >= 0)
        )
        at = np.flatnonzero(is_there)
        given = np.minimum(want.gives[columns.kit[at]], left[number])
        which.append(at[given > 0])
        values.append(given[given > 0])
    row = np.repeat(np.arange(len(which)), [len(at) for at in which])
    none = np.zeros(0, np.int64)
    part = _matrix(
        row, np.concatenate([none, *which]), np.concatenate([none, *values]), len(which), rows.width
    )
    rows.add(part, left, np.full(len(which), np.inf))
    return left


def _take_turns(rows: _Rows, roster: Roster, columns: Columns) -> int:
    """Count each member's turns beyond the first, second …; the number of rows added."""
    shift_min = 60 * roster.terms.shift_h
    turns = np.ceil((columns.end - columns.start) / shift_min) * (columns.seat < 2)
    before = np.zeros(roster.members)
    for row in roster.locked:
        before[row.member] += math.ceil((row.end - row.start) / shift_min)
    days = math.ceil(max(_end(roster), 1) / DAY_MIN)
    most = before.max(initial=0.0) + days * math.ceil(roster.terms.most_h / roster.terms.shift_h)
    levels = range(1, int(most))
    for level in levels:
        rows.at_most(columns.member, np.arange(rows.width), turns, level - before)
    return len(levels) * roster.members


def _slack(seats: _Seats, led: Ints, led_first: int, height: int) -> sparse.csr_array:
    """Columns of open seats; where the leading seat stays open, so do all further seats of the piece."""
    seat, led_row = np.arange(len(seats.want)), led_first + np.arange(len(led))
    return _matrix(
        np.concatenate([seat, led_row, led_row]),
        np.concatenate([seat, led, len(seats.lead) + led]),
        np.concatenate([np.ones(len(seat)), seats.more[led], -np.ones(len(led))]),
        height,
        len(seat),
    )


def _beyond(tail: int, height: int) -> sparse.csr_array:
    """Columns of turns beyond the allowed number, one for each of the last rows."""
    return _matrix(height - tail + np.arange(tail), np.arange(tail), -np.ones(tail), height, tail)


def _objectives(roster: Roster, columns: Columns, seats: _Seats, tail: int, wanted: Ints) -> list[Floats]:
    """In the order of OBJECTIVES, over columns, slack of seats, turns beyond, and what is short of the wants at pieces."""
    is_post = seats.post >= 0
    is_critical = np.array([post >= 0 and roster.is_critical[post] for post in seats.post], bool)
    moved = _moved(roster, columns)
    minutes = np.array([piece.minutes for piece in roster.pieces], float)[wanted]
    nobody, no_seat, no_turn, none = (
        np.zeros(size) for size in (len(columns.member), len(seats.want), tail, len(wanted))
    )
    parts: list[tuple[Any, ...]] = [
        (nobody, seats.minutes * is_critical, no_turn, none),
        (nobody, seats.minutes * is_post, no_turn, none),
        (nobody, no_seat, no_turn, minutes),
        (nobody, seats.minutes * ~is_post, no_turn, none),
        (columns.limits, no_seat, no_turn, none),
        (columns.is_lent, no_seat, no_turn, none),
        (nobody, no_seat, np.ones(tail), none),
        (moved, no_seat, no_turn, none),
        (_moved(roster, columns, with_kits=True) - moved, no_seat, no_turn, none),
        (columns.carried, no_seat, no_turn, none),
    ]
    return [np.concatenate(part).astype(float) for part in parts]


def _moved(roster: Roster, columns: Columns, with_kits: bool = False) -> Ints:
    """1 for the columns that send somebody to a post where they do not stand meanwhile in the plan to stay near to.

    With kits also for those that send somebody to stand there with another.
    """
    is_new = (columns.seat < 2) & bool(roster.stood)
    bodies = np.append(roster.body, -1)[columns.kit]
    for member, post, start, end, kit in roster.stood:
        is_it = (columns.member == member) & (columns.post == post)
        if with_kits:
            is_it &= bodies == kit
        is_new &= ~(is_it & (columns.start < end) & (columns.end > start))
    return is_new.astype(np.int64)


def _end(roster: Roster) -> int:
    """When the last piece ends, minutes; 0 without any."""
    return max((piece.end for piece in roster.pieces), default=0)


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


@dataclass(frozen=True)
class Seated:
    """A solved roster: the chosen columns (kit None where none is brought), what is open in each seat row, and the solver's word."""

    chosen: list[dict[str, Any]]
    lead_open: Floats
    more_open: Floats
    best: Best
    left: int = 0
    """Kits in other hands that somebody could have used and the solver was not given."""


def best(roster: Roster, seconds: float) -> Seated:
    """Solve a roster to the proven optimum, or as far as the time allows."""
    columns, left = few_lent(columns_of(roster), roster)
    program = program_of(roster, columns)
    found = minimise_in_turn(program, seconds)
    n = len(columns.member)
    taken = np.flatnonzero(found.x[:n] > 0.5)
    names = list(Columns.__dataclass_fields__)
    chosen = [{name: getattr(columns, name)[at].item() for name in names} for at in taken]
    for row in chosen:
        row["kit"] = row["kit"] if row["kit"] >= 0 else None
    count = len(roster.pieces)
    slack = np.round(found.x[n : n + 2 * count], 6)
    return Seated(chosen, slack[:count], slack[count:], found, left)
