"""Who holds which post of an event, with which kit, from when to when: the best plan, proven, and what it lacks.

Hours are split into shifts. A column of the program is one person at one post for one or more shifts on end; people
sit in the leading seat, with a kit that can do the post, or in a further seat. In order, the plan leaves the fewest
hours open at critical posts, then at all posts, then in reserve; has the fewest limits; asks the fewest turns
of anyone beyond one, two …; and carries the least.
"""

from __future__ import annotations

import math
import time
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from itertools import pairwise
from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import sparse

from data import club, schema
from rules import facts
from rules.engine import HERE, Assessment, assess, judge
from rules.facts.posts import CARRIED
from rules.plans import posts as by_kit
from rules.plans.in_turn import Best, Program, minimise_in_turn

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

CAN, LIMITS, UNKNOWN, CANNOT = range(4)
OBJECTIVES = (
    "critical hours open", "hours open", "reserve hours open", "limits", "turns beyond the first", "carried kg",
)  # fmt: skip
PER_UNIT = (60.0, 60.0, 60.0, 1.0, 1.0, 10.0)
"""The program counts minutes and tenths of a kilogram."""
PRICES = {"charge": 2, "sign-off": 4, "borrow": 5, "move": 6, "mend": 8, "more people": 20}
"""How much a change asks for, to name the cheapest; common practice: words before work before money before people."""
DAY_MIN = 24 * 60
PEOPLE = {"net_control": 2}
"""Posts that are doubled whatever their operators say: a controller and a logger. Net-control training slides."""
HELPS = {"net_control": {"net_control", "logger"}}
"""Sign-offs that suit a further seat where another than the post's own will do."""


@dataclass(frozen=True)
class Terms:
    """What a plan asks of people.

    Attributes
    ----------
    shift_h : longest shift wanted, h; longer stretches count as a limit. Common practice: 6 to 8 h.
    most_h : most hours in any 24 h, h. Common practice of activation plans: 12 h.
    least_h : shortest shift worth the way, h; a shorter piece joins its neighbour.
    travel_min : minutes between two posts
    posts_per_reserve : one reserve station is held back for so many posts, at least one. Common practice.
    """

    shift_h: float = 8.0
    most_h: float = 12.0
    least_h: float = 2.0
    travel_min: int = 30
    posts_per_reserve: int = 10


@dataclass(frozen=True)
class Piece:
    """One shift of one post: `start` to `end` in minutes after the event's first opening."""

    post: int
    start: int
    end: int
    people: int

    @property
    def minutes(self) -> int:
        return self.end - self.start


@dataclass(frozen=True)
class Locked:
    """A row of the coordinator's that stays; times in minutes, places in the lists of the roster."""

    post: int
    member: int
    kit: int | None
    start: int
    end: int
    answer: int = CAN


@dataclass
class Roster:
    """An event as numbers: what `best` solves. Places in `pieces`, `members` and `kits` number everything.

    Attributes
    ----------
    is_critical : by post
    person : pieces x members; answer of the person in a further seat (CAN to CANNOT)
    lead : pieces x kits; answer of the kit with its owner in the leading seat
    charge : pieces x kits; share of the kit's charge that the shift takes
    carried : pieces x kits; tenths of a kilogram to be carried
    wants_two : by post; a second station is wanted
    in_reserve : by kit; fit to stand by with its owner
    stations : reserve stations that stand by for the whole event and are sent nowhere
    away : times at which a member is elsewhere for the club, as (member, start, end)
    """

    pieces: list[Piece]
    is_critical: list[bool]
    owner: Ints
    members: int
    person: Ints
    lead: Ints
    charge: Floats
    carried: Ints
    wants_two: list[bool]
    in_reserve: npt.NDArray[np.bool_]
    stations: int = 0
    terms: Terms = Terms()
    locked: list[Locked] = field(default_factory=list)
    away: list[tuple[int, int, int]] = field(default_factory=list)

    @property
    def reserve(self) -> list[tuple[int, int, int]]:
        """When reserve stations stand by: start, end, stations."""
        if not self.stations or not self.pieces:
            return []
        return [(min(p.start for p in self.pieces), max(p.end for p in self.pieces), self.stations)]


@dataclass
class _Columns:
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


def shifts(
    opens: list[int], closes: list[int], people: list[int], cuts: Mapping[int, Iterable[int]], terms: Terms
) -> list[Piece]:
    """Split posts into shifts with boundaries that all posts share.

    Parameters
    ----------
    opens, closes : minutes by post
    people : people wanted by post
    cuts : further boundaries of a post, minutes: where locked rows begin and end
    """
    begin, end = min(opens), max(closes)
    count = max(1, math.ceil((end - begin) / (60 * terms.shift_h)))
    edges = [begin + round(i * (end - begin) / count) for i in range(count + 1)]
    pieces = []
    for post, (open_, close) in enumerate(zip(opens, closes, strict=True)):
        inner = [edge for edge in edges if open_ < edge < close]
        bounds = [open_, *inner, close]
        least, most = 60 * terms.least_h, 60 * terms.most_h
        for edge in inner:
            here = bounds.index(edge)
            before, after = edge - bounds[here - 1], bounds[here + 1] - edge
            if min(before, after) < least and before + after <= most:
                bounds.remove(edge)
        bounds = sorted({*bounds, *(cut for cut in cuts.get(post, ()) if open_ < cut < close)})
        pieces += [Piece(post, a, b, people[post]) for a, b in pairwise(bounds)]
    return pieces


# --- the program ---


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


def _columns(roster: Roster) -> _Columns:
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
    names = list(_Columns.__dataclass_fields__)
    joined = {}
    for name in names:
        kind = float if name == "charge" else np.int64
        joined[name] = (
            np.concatenate([np.broadcast_to(p[name], len(p["member"])).astype(kind) for p in parts])
            if parts
            else np.zeros(0, kind)
        )
    return _free(_Columns(**joined), roster)


def _free(columns: _Columns, roster: Roster) -> _Columns:
    """Without the columns that meet something else the same person is held by, the way there counted."""
    keep = np.ones(len(columns.member), bool)
    taken = [(row.member, row.post, row.start, row.end) for row in roster.locked]
    taken += [(member, -2, start, end) for member, start, end in roster.away]
    for member, post, start, end in taken:
        way = np.where(columns.post == post, 0, roster.terms.travel_min)
        meets = (columns.start < end + way) & (columns.end + way > start)
        keep &= ~((columns.member == member) & meets)
    return _Columns(**{name: getattr(columns, name)[keep] for name in _Columns.__dataclass_fields__})


def _program(roster: Roster, columns: _Columns) -> Program:
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


def _first(columns: _Columns, size: int) -> npt.NDArray[np.bool_]:
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
    columns = _columns(roster)
    program = _program(roster, columns)
    found = minimise_in_turn(program, seconds)
    n = len(columns.member)
    taken = np.flatnonzero(found.x[:n] > 0.5)
    names = list(_Columns.__dataclass_fields__)
    chosen = [{name: getattr(columns, name)[at].item() for name in names} for at in taken]
    count = len(roster.pieces)
    slack = np.round(found.x[n : n + 2 * count + len(roster.reserve)], 6)
    return Seated(chosen, slack[:count], slack[count : 2 * count], slack[2 * count :], found)


# --- the event as numbers ---


@dataclass
class _Event:
    """What an assessment tells of one event, in the order of the roster's numbers."""

    name: str
    zero: datetime
    posts: pd.DataFrame
    members: pd.DataFrame
    kits: pd.DataFrame
    place: pd.Series

    def minute(self, at: datetime) -> int:
        return round((at - self.zero).total_seconds() / 60)

    def moment(self, minute: int) -> datetime:
        return self.zero + timedelta(minutes=minute)


class NoSuchEventError(ValueError):
    """An event that no file names, or that has no posts; the message says what to write."""


def _event(assessment: Assessment, event: str) -> _Event:
    con = assessment.con.cursor()
    known = [name for (name,) in con.execute("select event from event order by event").fetchall()]
    if event not in known:
        raise NoSuchEventError(
            f'"{event}" is not an event. Write one of: {", ".join(known)}.'
            if known
            else f'"{event}" is not an event: none is listed. Send events.csv and posts.csv.'
        )
    posts = con.execute("from post where event = ? order by post_id", [event]).df()
    if posts.empty:
        raise NoSuchEventError(f'"{event}" has no posts. Add them to posts.csv.')
    members = con.execute("from member order by member_id").df()
    kits = con.execute("from kit order by kit_id").df()
    place = con.execute("from event where event = ?", [event]).df().iloc[0]
    zero = posts["opens"].min().to_pydatetime()
    return _Event(event, zero, posts, members, kits, place)


EVENT_COLUMNS = {"post_id", "post_kit_id", "event_id", "assignment_id"}


def _trial(assessment: Assessment, event: _Event, pieces: list[Piece]) -> duckdb.DuckDBPyConnection:
    """A copy of the club in which every shift of the event is a post by itself and nobody is sent anywhere.

    Only the facts and rules that hang on a post are worked out again.
    """
    source = assessment.con.cursor()
    con = club.connect()
    try:
        con.execute((HERE / "facts.sql").read_text("utf-8"))
        con.execute((HERE / "subject.sql").read_text("utf-8"))
        tables = source.execute(
            "select table_name, list(column_name) from duckdb_columns() where schema_name = 'main' and not internal group by all"
        ).fetchall()
        ours = {name for (name,) in con.execute("select table_name from duckdb_tables()").fetchall()}
        fresh = set()
        for name, columns in tables:
            if name not in ours or name in club.REFERENCE_TABLES or name in ("judgement", "subject"):
                continue
            if EVENT_COLUMNS & set(columns) and name != "event":
                fresh.add(name)
                continue
            _copy(con, name, source.sql(f'from "{name}"').to_arrow_table())
        split = event.posts.iloc[[p.post for p in pieces]].reset_index(drop=True)
        split["post_id"] = range(len(pieces))
        split["opens"] = [event.moment(p.start) for p in pieces]
        split["closes"] = [event.moment(p.end) for p in pieces]
        split["shift_h"] = [p.minutes / 60 for p in pieces]
        split["operators"] = [p.people for p in pieces]
        _copy(con, "post", split)
        for step in facts.STEPS:
            if step.__name__ in fresh:
                for table, rows in step(con, assessment.policy, assessment.today).items():
                    _copy(con, table, rows)
        _copy(
            con,
            "judgement",
            source.sql("from judgement where subject_kind in ('item', 'kit', 'member')").to_arrow_table(),
        )
        for number, rule in enumerate(assessment.rules):
            if rule.subject == "post_kit":
                judge(con, rule, number, assessment.policy, assessment.today, keep_met=False)
    except BaseException:
        con.close()
        raise
    return con


def _copy(con: duckdb.DuckDBPyConnection, table: str, rows: Any) -> None:
    con.register("copied", rows)
    con.execute(f'insert into "{table}" by name select * from copied')
    con.unregister("copied")


def _words(text: Any) -> set[str]:
    return set(text.split()) if isinstance(text, str) else set()


@dataclass
class _Ability:
    """Answers of people and kits for every piece, with the rules and words behind them."""

    person: Ints
    lead: Ints
    charge: Floats
    carried: Ints
    in_reserve: npt.NDArray[np.bool_]
    blocking: dict[tuple[int, int], list[int]]
    lead_words: dict[tuple[int, int], list[tuple[int, str, str]]]
    person_words: dict[tuple[int, int], list[tuple[int, str, str]]]


def _ability(assessment: Assessment, event: _Event, pieces: list[Piece]) -> _Ability:
    """Judge every shift with every kit and every person."""
    con = _trial(assessment, event, pieces)
    try:
        judged = by_kit.answers(con)
        rows = con.execute(
            "select pk.post_kit_id, pk.post_id, pk.kit_id, pk.carried_kg, pk.need_h, r.runtime_h, r.is_on_mains "
            "from post_kit as pk left join runtime as r using (post_kit_id)"
        ).df()
        weights = dict(con.execute("select kit_id, weight_kg from holding").fetchall())
        dark = dict(
            con.execute(
                "select post_id, max(dark_h) from watch join post_kit using (post_kit_id) group by post_id"
            ).fetchall()
        )
    finally:
        con.close()
    rows = rows.merge(judged, on="post_kit_id")
    kit_at = {int(kit): at for at, kit in enumerate(event.kits["kit_id"])}
    kits = len(kit_at)
    lead = np.full((len(pieces), kits), CANNOT)
    charge = np.zeros((len(pieces), kits))
    carried = np.zeros((len(pieces), kits), np.int64)
    at = (rows["post_id"].to_numpy(int), rows["kit_id"].map(kit_at).to_numpy(int))
    lead[at] = rows["answer"].to_numpy(int)
    hours = rows["runtime_h"].to_numpy(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = rows["need_h"].to_numpy(float) / hours
    is_fed = rows["is_on_mains"].fillna(False).to_numpy(bool)
    charge[at] = np.where(is_fed | np.isnan(share), 0.0, np.minimum(share, 9.0))
    carry = {post for post, access in enumerate(event.posts["access"]) if access in CARRIED}
    for piece_no, piece in enumerate(pieces):
        if piece.post in carry:
            carried[piece_no] = [round(10 * (weights.get(kit) or 0.0)) for kit in event.kits["kit_id"]]
    blocking = {
        (int(piece), kit_at[int(kit)]): list(numbers)
        for piece, kit, numbers in zip(rows["post_id"], rows["kit_id"], rows["blocking_nos"], strict=True)
    }
    person, words = _people(event, pieces, dark)
    blocked = {
        kit
        for (kit,) in assessment.con.cursor()
        .execute(
            "select kit_id from kit join judgement on subject_kind = 'kit' and subject_id = kit_id "
            "where severity_no = 0 and ok is not true union "
            "select kit_id from item join judgement on subject_kind = 'item' and subject_id = item_id "
            "where severity_no = 0 and ok is not true"
        )
        .fetchall()
    }
    available = event.members.set_index("member_id")["is_available"]
    in_reserve = np.array(
        [
            kit not in blocked and bool(available[owner])
            for kit, owner in zip(event.kits["kit_id"], event.kits["member_id"], strict=True)
        ],
        bool,
    )
    able = _Ability(person, lead, charge, carried, in_reserve, blocking, {}, words)
    _leads(event, pieces, able)
    return able


def _people(
    event: _Event, pieces: list[Piece], dark: Mapping[int, float | None]
) -> tuple[Ints, dict[tuple[int, int], list[tuple[int, str, str]]]]:
    """Answer of each person at each piece, and why: (answer, what is wrong, kind of change).

    A further seat asks for the declared limits and, as a limit only, for the sign-off.
    """
    person = np.zeros((len(pieces), len(event.members)), np.int64)
    words: dict[tuple[int, int], list[tuple[int, str, str]]] = defaultdict(list)
    people = list(event.members.itertuples(index=False))
    asked: dict[tuple[int, bool], list[list[tuple[int, str, str]]]] = {}
    for number, piece in enumerate(pieces):
        is_dark = (dark.get(number) or 0) > 0
        key = (piece.post, is_dark)
        if key not in asked:
            post = event.posts.iloc[piece.post]
            asked[key] = [_limits(member, post, event.place, is_dark) for member in people]
        for at, found in enumerate(asked[key]):
            if found:
                person[number, at] = max(answer for answer, *_ in found)
                words[number, at] = found
    return person, words


def _limits(member: Any, post: pd.Series, place: pd.Series, is_dark: bool) -> list[tuple[int, str, str]]:
    found = []
    if not member.is_available:
        found.append((CANNOT, "is not available", "more people"))
    for value, limit, sign, what in (
        (
            post["walk_km"],
            member.walk_limit_km,
            1,
            "walks at most {limit:g} km, the post asks for {value:g} km",
        ),
        (place["temp_max_c"], member.heat_limit_c, 1, "works up to {limit:g} °C, {value:g} °C are forecast"),
        (
            place["temp_min_c"],
            member.cold_limit_c,
            -1,
            "works down to {limit:g} °C, {value:g} °C are forecast",
        ),
    ):
        if pd.notna(value) and pd.notna(limit) and sign * (value - limit) > 0:
            found.append((CANNOT, what.format(limit=limit, value=value), "more people"))
    if is_dark and pd.notna(member.night_ok) and not member.night_ok:
        found.append((CANNOT, "does not work in the dark", "more people"))
    role = post["role_needed"]
    if isinstance(role, str):
        if not isinstance(member.roles, str):
            found.append((UNKNOWN, f"sign-off for {role} is not known", "sign-off"))
        elif not _words(member.roles) & HELPS.get(role, {role}):
            found.append((LIMITS, f"is not signed off for {role}", "sign-off"))
    return found


def _leads(event: _Event, pieces: list[Piece], able: _Ability) -> None:
    """Whoever leads needs the post's own sign-off; put that into `able.lead`."""
    owner_at = {int(member): at for at, member in enumerate(event.members["member_id"])}
    owners = [owner_at[int(member)] for member in event.kits["member_id"]]
    people = list(event.members.itertuples(index=False))
    said = able.lead_words  # by post and member
    for number, piece in enumerate(pieces):
        post = event.posts.iloc[piece.post]
        for at, owner in enumerate(owners):
            key = (piece.post, owner)
            if key not in said:
                said[key] = _lead_limits(people[owner], post["role_needed"])
            for answer, *_ in said[key]:
                able.lead[number, at] = max(able.lead[number, at], answer)


def _lead_limits(member: Any, role: Any) -> list[tuple[int, str, str]]:
    if isinstance(role, str) and isinstance(member.roles, str) and role not in member.roles.split():
        return [(CANNOT, f"is not signed off for {role}", "sign-off")]
    return []


# --- the plan ---


@dataclass(frozen=True)
class Plan:
    """Who holds which post, with what is open and what would fill it.

    Attributes
    ----------
    rows : post, member, kit (missing where none is brought), from, to, answer, leads, is_locked
    reserve : member, kit, from, to
    uncovered : post, from, to, people_short, is_station_missing, is_critical, why, change, change_kind
    values, bounds : by name of OBJECTIVES: what the plan reaches and what no plan can better; hours, kg or a count
    is_proven : every value equals its bound
    seconds : of the solver; judge_seconds: of judging every shift before
    notes : what of the input could not be used
    """

    event: str
    rows: pd.DataFrame
    reserve: pd.DataFrame
    uncovered: pd.DataFrame
    values: dict[str, float]
    bounds: dict[str, float]
    is_proven: bool
    seconds: float
    judge_seconds: float
    notes: list[str]
    terms: Terms

    @cached_property
    def gap(self) -> dict[str, float]:
        """By objective, how far a better plan might still be; empty when the plan is proven."""
        short = {name: self.values[name] - self.bounds[name] for name in self.values}
        return {name: value for name, value in short.items() if value > 1e-9}


ROWS = ["post", "member", "kit", "from", "to", "answer", "leads", "is_locked"]
OPEN = [
    "post",
    "from",
    "to",
    "people_short",
    "is_station_missing",
    "is_critical",
    "why",
    "change",
    "change_kind",
]


def staff(
    assessment: Assessment,
    event: str,
    locked: pd.DataFrame | None = None,
    seconds: float = 10.0,
    terms: Terms | None = None,
) -> Plan:
    """The best staffing of an event; always a plan, with what stays open and why.

    Parameters
    ----------
    locked : rows that stay: post, member, and if told kit, from, to
    seconds : time for the solver; when it is up, the best plan so far with the gap

    Raises
    ------
    NoSuchEventError
        No file names the event, or it has no posts.
    """
    terms = terms or Terms()
    began = time.perf_counter()
    here = _event(assessment, event)
    kept, notes = _locked(here, locked)
    roster, able = _roster(assessment, here, kept, terms)
    notes += _clashes(here, roster)
    judged = time.perf_counter() - began
    seated = best(roster, seconds)
    found = seated.best
    values = dict(zip(OBJECTIVES, (v / u for v, u in zip(found.values, PER_UNIT, strict=True)), strict=True))
    bounds = dict(zip(OBJECTIVES, (b / u for b, u in zip(found.bounds, PER_UNIT, strict=True)), strict=True))
    return Plan(
        event, _rows(here, roster, seated), _reserve(here, seated), _uncovered(assessment, here, roster, able, seated),
        values, bounds, found.is_proven, found.seconds, judged, notes, terms,
    )  # fmt: skip


def _roster(
    assessment: Assessment, here: _Event, locked: list[Locked], terms: Terms
) -> tuple[Roster, _Ability]:
    """The event as numbers, with every shift judged."""
    opens = [here.minute(at) for at in here.posts["opens"]]
    closes = [here.minute(at) for at in here.posts["closes"]]
    people = [
        max(int(count), PEOPLE.get(kind, 1))
        for count, kind in zip(here.posts["operators"], here.posts["post_type"], strict=True)
    ]
    cuts: dict[int, list[int]] = defaultdict(list)
    for row in locked:
        cuts[row.post] += [row.start, row.end]
    pieces = shifts(opens, closes, people, cuts, terms)
    able = _ability(assessment, here, pieces)
    owner_at = {int(member): at for at, member in enumerate(here.members["member_id"])}
    owner = np.array([owner_at[int(member)] for member in here.kits["member_id"]], np.int64)
    stations = max(1, math.ceil(len(here.posts) / terms.posts_per_reserve))
    answered = []
    for row in locked:
        inside = [
            i
            for i, p in enumerate(pieces)
            if p.post == row.post and p.start >= row.start and p.end <= row.end
        ]
        answer = int(able.person[inside, row.member].max(initial=CAN))
        if row.kit is not None:
            answer = max(answer, int(able.lead[inside, row.kit].max(initial=CAN)))
        answered.append(Locked(row.post, row.member, row.kit, row.start, row.end, answer))
    roster = Roster(
        pieces, here.posts["is_critical"].astype(bool).tolist(), owner, len(here.members), able.person, able.lead,
        able.charge, able.carried, (here.posts["needs_two_ways"] | (here.posts["radios"] > 1)).astype(bool).tolist(),
        able.in_reserve, stations, terms, answered, _away(assessment, here),
    )  # fmt: skip
    return roster, able


def _away(assessment: Assessment, here: _Event) -> list[tuple[int, int, int]]:
    """When members are sent to other events."""
    at = {int(member): number for number, member in enumerate(here.members["member_id"])}
    rows = (
        assessment.con.cursor()
        .execute(
            "select member_id, assignment.starts, assignment.ends from assignment join event using (event_id) where event <> ?",
            [here.name],
        )
        .fetchall()
    )
    return [(at[member], here.minute(start), here.minute(end)) for member, start, end in rows]


def _locked(here: _Event, rows: pd.DataFrame | None) -> tuple[list[Locked], list[str]]:
    """Locked rows in the roster's numbers, and what is said of those that name nothing."""
    kept: list[Locked] = []
    notes: list[str] = []
    if rows is None:
        return kept, notes
    post_at = {name: at for at, name in enumerate(here.posts["post"])}
    member_at = {name: at for at, name in enumerate(here.members["member"])}
    kit_at = {names: at for at, names in enumerate(zip(here.kits["member"], here.kits["kit"], strict=True))}
    for row in rows.to_dict("records"):
        post, member, kit = row["post"], row["member"], row.get("kit")
        kit = None if pd.isna(kit) else kit
        if post not in post_at:
            notes.append(f'locked row: "{post}" is not a post of {here.name}. It is left out.')
        elif member not in member_at:
            notes.append(f'locked row of {post}: "{member}" is not a member. It is left out.')
        elif kit is not None and (member, kit) not in kit_at:
            notes.append(f'locked row of {post}: {member} has no kit "{kit}". It is left out.')
        else:
            at = post_at[post]
            opens, closes = here.posts["opens"][at], here.posts["closes"][at]
            start, end = row.get("from"), row.get("to")
            start, end = opens if pd.isna(start) else start, closes if pd.isna(end) else end
            if start >= closes or end <= opens or start >= end:
                notes.append(
                    f"locked row of {post}: {member} is there outside the hours of the post. It is left out."
                )
                continue
            kept.append(
                Locked(
                    at, member_at[member], None if kit is None else kit_at[member, kit],
                    here.minute(max(start, opens)), here.minute(min(end, closes)),
                )
            )  # fmt: skip
    return kept, notes


def _clashes(here: _Event, roster: Roster) -> list[str]:
    """Locked rows that contradict one another or that the person or kit cannot hold; they stay all the same."""
    notes = []
    for number, row in enumerate(roster.locked):
        member, post = here.members["member"][row.member], here.posts["post"][row.post]
        for other in roster.locked[:number]:
            if other.member == row.member and other.start < row.end and row.start < other.end:
                notes.append(
                    f"locked rows: {member} is at {post} and at {here.posts['post'][other.post]} at the same time."
                )
        if row.answer == CANNOT:
            notes.append(f"locked row: {member} cannot hold {post} as the rules stand.")
    return notes


def _rows(here: _Event, roster: Roster, seated: Seated) -> pd.DataFrame:
    found = []
    for row in roster.locked:
        found.append(
            (row.post, row.member, row.kit, row.start, row.end, row.answer, row.kit is not None, True)
        )
    for c in seated.chosen:
        if c["seat"] < 2:
            kit = c["kit"] if c["kit"] >= 0 else None
            found.append(
                (c["post"], c["member"], kit, c["start"], c["end"], c["answer"], c["seat"] == 0, False)
            )
    found.sort(key=lambda row: (row[0], row[3], not row[6], row[1]))
    told = [
        (
            here.posts["post"][post], here.members["member"][member], None if kit is None else here.kits["kit"][kit],
            here.moment(start), here.moment(end), by_kit.ANSWERS[answer], leads, is_locked,
        )
        for post, member, kit, start, end, answer, leads, is_locked in found
    ]  # fmt: skip
    return pd.DataFrame(told, columns=ROWS)


def _reserve(here: _Event, seated: Seated) -> pd.DataFrame:
    told = [
        (
            here.members["member"][c["member"]],
            here.kits["kit"][c["kit"]],
            here.moment(c["start"]),
            here.moment(c["end"]),
        )
        for c in seated.chosen
        if c["seat"] == 2
    ]
    return pd.DataFrame(told, columns=["member", "kit", "from", "to"]).sort_values(
        ["from", "member"], ignore_index=True
    )


# --- what is open, and what would fill it ---


@dataclass(frozen=True)
class _Change:
    price: int
    kind: str
    words: str
    member: int | None = None
    kit: int | None = None


def _uncovered(
    assessment: Assessment, here: _Event, roster: Roster, able: _Ability, seated: Seated
) -> pd.DataFrame:
    """Open seats, critical posts first, each with why and the cheapest change that would fill it.

    The plan is kept as it stands and the rules are relaxed for those who are free: what blocks them is priced, and
    nobody and no kit is named twice for the same time.
    """
    busy: list[tuple[int, int | None, int, int, int]] = [
        (row.member, row.kit, row.post, row.start, row.end) for row in roster.locked
    ]
    busy += [
        (c["member"], c["kit"] if c["kit"] >= 0 else None, c["post"], c["start"], c["end"])
        for c in seated.chosen
    ]
    lesser = [row for row in busy[len(roster.locked) :] if row[2] >= 0 and not roster.is_critical[row[2]]]
    busy += [(member, None, -2, start, end) for member, start, end in roster.away]
    seats = [
        (not roster.is_critical[piece.post], number, is_lead)
        for number, piece in enumerate(roster.pieces)
        for is_lead, count in ((True, seated.lead_open[number]), (False, seated.more_open[number]))
        for _ in range(round(count))
    ]
    told: dict[int, list[tuple[bool, str, _Change]]] = defaultdict(list)
    for _, number, is_lead in sorted(seats, key=lambda seat: (seat[0], seat[1], not seat[2])):
        piece = roster.pieces[number]
        free = [m for m in range(roster.members) if _is_free(m, piece, busy, roster.terms)]
        left = dict.fromkeys(free, "")
        if roster.is_critical[piece.post]:
            for member in range(roster.members):
                given_up = [row for row in lesser if row[0] == member and row in busy]
                if member not in left and given_up:
                    rest = [row for row in busy if row not in given_up]
                    if _is_free(member, piece, rest, roster.terms):
                        left[member] = " and ".join(
                            dict.fromkeys(here.posts["post"][row[2]] for row in given_up)
                        )
        options = _options(assessment, here, roster, able, number, is_lead, left, busy)
        change = min(options, key=lambda option: (option.price, option.words))
        if change.member is not None:
            if left[change.member]:
                busy = [row for row in busy if row[0] != change.member or row not in lesser]
            busy.append((change.member, change.kit, piece.post, piece.start, piece.end))
        # a further seat where nobody leads is open for that reason alone
        why = _reason(roster, able, number, is_lead) if is_lead or not seated.lead_open[number] else ""
        told[number].append((is_lead, why, change))
    rows = []
    for number, found in told.items():
        piece = roster.pieces[number]
        rows.append(
            (
                here.posts["post"][piece.post], here.moment(piece.start), here.moment(piece.end), len(found),
                any(is_lead for is_lead, *_ in found), roster.is_critical[piece.post],
                "; ".join(dict.fromkeys(why for _, why, _ in found if why)), "; ".join(dict.fromkeys(c.words for *_, c in found)),
                max((c for *_, c in found), key=lambda c: c.price).kind,
            )
        )  # fmt: skip
    return pd.DataFrame(rows, columns=OPEN)


def _is_free(
    member: int, piece: Piece, busy: list[tuple[int, int | None, int, int, int]], terms: Terms
) -> bool:
    """Whether a person could be at a piece: no overlap, time for the way, and hours left in every day around it."""
    own = [(post, start, end) for who, _, post, start, end in busy if who == member]
    for post, start, end in own:
        way = 0 if post == piece.post else terms.travel_min
        if start < piece.end + way and end + way > piece.start:
            return False
    spans = [(start, end) for post, start, end in own if post >= 0] + [(piece.start, piece.end)]
    for at, _ in spans:
        if sum(max(0, min(end, at + DAY_MIN) - max(start, at)) for start, end in spans) > 60 * terms.most_h:
            return False
    return True


def _options(
    assessment: Assessment, here: _Event, roster: Roster, able: _Ability, number: int, is_lead: bool,
    left: dict[int, str], busy: list[tuple[int, int | None, int, int, int]],
) -> list[_Change]:  # fmt: skip
    """Every change that would fill one seat with somebody who is free, and the last resort.

    `left` names the people, each with the lesser posts that they would have to leave for it ("" where none).
    """
    piece = roster.pieces[number]
    post = here.posts["post"][piece.post]
    out = {
        kit for _, kit, _, start, end in busy if kit is not None and start < piece.end and end > piece.start
    }
    drawn = roster.charge[number].copy()
    for _, kit, at, start, end in busy:
        if kit is not None:
            inside = [
                i for i, p in enumerate(roster.pieces) if p.post == at and start <= p.start and p.end <= end
            ]
            drawn[kit] += roster.charge[inside, kit].sum()
    kits_in = [
        kit
        for kit in range(len(roster.owner))
        if left.get(int(roster.owner[kit]))
        or (kit not in out and drawn[kit] <= max(1.0, roster.charge[number, kit]))
    ]
    sound = [
        kit
        for kit in kits_in
        if kit not in out and (number, kit) in able.blocking and not able.blocking[number, kit]
    ]
    lightest = min(sound, key=lambda kit: (roster.carried[number, kit], kit), default=None)
    found = [
        _Change(
            PRICES["more people"],
            "more people",
            f"find one more person for {post}: nobody is free who could take it",
        )
    ]
    for member, lesser in left.items():
        wrong = [word for word in able.person_words.get((number, member), []) if word[0] == CANNOT]
        if is_lead:
            wrong += [word for word in able.lead_words.get((piece.post, member), []) if word[0] == CANNOT]
        price = sum(PRICES[kind] for *_, kind in wrong) + (PRICES["move"] if lesser else 0)
        if price >= PRICES["more people"]:
            continue
        name = here.members["member"][member]
        what = [f"{name} {said}: sign off or pair" for _, said, _ in wrong]
        if lesser:
            what.append(f"send {name} to {post} and leave {lesser} open")
        kind = wrong[0][2] if wrong else ""
        if not is_lead:
            found.append(_Change(price, kind or "move", "; ".join(what) or f"send {name} to {post}", member))
            continue
        for kit in kits_in:
            if roster.owner[kit] != member or (number, kit) not in able.blocking:
                continue
            rules = [assessment.rules[no] for no in able.blocking[number, kit]]
            if wrong:
                rules = [rule for rule in rules if rule.family != "operator"]
            kinds = ["charge" if rule.family == "batteries" else "mend" for rule in rules]
            words = [*what, *(f"{name}'s {here.kits['kit'][kit]}: {rule.title.lower()}" for rule in rules)]
            total = price + sum(PRICES[word] for word in kinds)
            found.append(
                _Change(
                    total,
                    max([kind, *kinds], key=lambda word: PRICES.get(word, 0)) or "move",
                    "; ".join(words) or f"send {name} to {post}",
                    member,
                    kit,
                )
            )
        if lightest is not None and roster.owner[lightest] != member:
            lender, kit_name = here.kits["member"][lightest], here.kits["kit"][lightest]
            words = [*what, f"lend {lender}'s {kit_name} to {name} for {post}"]
            found.append(_Change(price + PRICES["borrow"], "borrow", "; ".join(words), member, lightest))
    return found


def _reason(roster: Roster, able: _Ability, number: int, is_lead: bool) -> str:
    """Why a seat is open, in numbers of people and kits."""
    if not is_lead:
        could = int((able.person[number] < CANNOT).sum())
        if could == 0:
            return "nobody could take a further seat"
        return f"people who could take a further seat: {could}; all are elsewhere, resting or on their way"
    fit = able.lead[number] < CANNOT
    fit &= np.maximum(able.lead[number], able.person[number][roster.owner]) < CANNOT if len(fit) else fit
    owners = set(roster.owner[fit].tolist())
    if not owners:
        sound = sum(1 for (piece, _), rules in able.blocking.items() if piece == number and not rules)
        return f"nobody could lead it with a kit of their own; kits that could do it in other hands: {sound}"
    return f"people who could lead it with their kit: {len(owners)}; all are elsewhere or resting, or the kit is used up"


# --- beside the coordinator's own ---


def gaps(posts: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """The times at which a post has too few people or no kit.

    Parameters
    ----------
    posts : post, opens, closes, people
    rows : post, member, from, to, has_station

    Returns
    -------
    post, from, to, people_short, is_station_missing; times on end are joined
    """
    found: list[list[Any]] = []
    for post in posts.to_dict("records"):
        own = rows[rows["post"] == post["post"]]
        edges = sorted(
            {
                post["opens"],
                post["closes"],
                *(t for t in [*own["from"], *own["to"]] if post["opens"] < t < post["closes"]),
            }
        )
        for start, end in pairwise(edges):
            here = own[(own["from"] <= start) & (own["to"] >= end)]
            short = max(0, int(post["people"]) - here["member"].nunique())
            is_missing = not here["has_station"].any()
            if short or is_missing:
                if (
                    found
                    and found[-1][0] == post["post"]
                    and found[-1][2] == start
                    and found[-1][3:] == [short, is_missing]
                ):
                    found[-1][2] = end
                else:
                    found.append([post["post"], start, end, short, is_missing])
    return pd.DataFrame(found, columns=["post", "from", "to", "people_short", "is_station_missing"])


def compare(plan: Plan, assessment: Assessment) -> pd.DataFrame:
    """The plan beside the coordinator's assignments: one row per measure, with both values and which is better."""
    here = _event(assessment, plan.event)
    told = (
        assessment.con.cursor()
        .execute(
            'select post.post, member.member, kit.kit, a.starts as "from", a.ends as "to" from assignment as a '
            "join post using (post_id) join member on member.member_id = a.member_id left join kit on kit.kit_id = a.kit_id "
            "where post.event = ? order by a.assignment_id",
            [plan.event],
        )
        .df()
    )
    kept, _ = _locked(here, told)
    roster, _ = _roster(assessment, here, kept, plan.terms)
    told = (
        told.iloc[0:0]
        if not kept
        else _rows(
            here, roster, Seated([], np.zeros(0), np.zeros(0), np.zeros(0), Best(np.zeros(0), (), (), 0.0))
        )
    )
    mine, theirs = _measures(here, plan.rows, plan.terms), _measures(here, told, plan.terms)
    return pd.DataFrame(
        [(name, mine[name], theirs[name]) for name in mine], columns=["measure", "plan", "coordinator"]
    )


def wanted(assessment: Assessment, event: str) -> pd.DataFrame:
    """The posts of an event with the people that a plan seeks for each: post, opens, closes, people, is_critical."""
    return _wanted(_event(assessment, event))


def _wanted(here: _Event) -> pd.DataFrame:
    posts = here.posts[["post", "opens", "closes", "is_critical"]].copy()
    posts["people"] = [
        max(int(count), PEOPLE.get(kind, 1))
        for count, kind in zip(here.posts["operators"], here.posts["post_type"], strict=True)
    ]
    return posts


def _measures(here: _Event, rows: pd.DataFrame, terms: Terms) -> dict[str, float]:
    posts = _wanted(here)
    able = rows[rows["answer"] != "cannot"]
    found = gaps(posts, able.assign(has_station=able["kit"].notna())).merge(
        posts[["post", "is_critical"]], on="post", how="left"
    )
    hours = (found["to"] - found["from"]).dt.total_seconds() / 3600 if len(found) else pd.Series(dtype=float)
    person_h = hours * found["people_short"]
    no_station = hours * found["is_station_missing"].astype(float)
    critical = found["is_critical"].astype(bool)
    worked = (
        ((rows["to"] - rows["from"]).dt.total_seconds() / 3600).groupby(rows["member"]).sum()
        if len(rows)
        else pd.Series(dtype=float)
    )
    return {
        "person-hours open at critical posts": float(person_h[critical].sum()),
        "person-hours open": float(person_h.sum()),
        "post-hours without a station": float(no_station.sum()),
        "posts with something open": float(found["post"].nunique()),
        "rows that cannot": float((rows["answer"] == "cannot").sum()),
        "rows not known": float((rows["answer"] == "not known").sum()),
        "rows with limits": float((rows["answer"] == "with limits").sum()),
        "people in two places": float(_overlaps(rows, terms)),
        "people": float(len(worked)),
        "most hours of one person": float(worked.max()) if len(worked) else 0.0,
    }


def _overlaps(rows: pd.DataFrame, terms: Terms) -> int:
    """People with two rows that overlap, the way between two posts counted."""
    found = set()
    for member, own in rows.groupby("member"):
        spans = own.sort_values("from")[["post", "from", "to"]].values.tolist()
        for (post, _, end), (other, start, _) in pairwise(spans):
            way = timedelta(minutes=0 if post == other else terms.travel_min)
            if start < end + way:
                found.add(member)
    return len(found)


def apply(plan: Plan, frames: Mapping[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """A copy of the frames in which the event's assignments are the plan's."""
    given = frames.get("assignments")
    if given is None:
        given = schema.empty("assignments")
    rows = plan.rows[["post", "member", "kit", "from", "to"]].copy()
    rows["event"] = plan.event
    rows["file"] = "plan"
    rows["line"] = range(1, len(rows) + 1)
    rows = rows.reindex(columns=given.columns).astype(given.dtypes.to_dict())
    others = given[given["event"] != plan.event]
    parts = [part for part in (others, rows) if len(part)]
    return {**frames, "assignments": pd.concat(parts, ignore_index=True) if parts else given.iloc[0:0]}


def rescore(plan: Plan, frames: Mapping[str, pd.DataFrame], assessment: Assessment) -> Assessment:
    """Judge a copy of the club with the plan put in, by the same rules, policy and day."""
    return assess(apply(plan, frames), assessment.policy, assessment.today, assessment.rules)
