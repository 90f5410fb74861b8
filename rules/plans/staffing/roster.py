"""An event as numbers: what people and kits can do in every shift of every post."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

CAN, LIMITS, UNKNOWN, CANNOT = range(4)
OBJECTIVES = (
    "critical hours open", "hours open", "hours short of gear", "reserve hours open", "limits", "kits lent",
    "turns beyond the first", "people moved", "other kits brought", "carried kg",
)  # fmt: skip
PER_UNIT = (60.0, 60.0, 60.0, 60.0, 1.0, 1.0, 1.0, 1.0, 1.0, 10.0)
"""The program counts minutes and tenths of a kilogram."""
DAY_MIN = 24 * 60


@dataclass(frozen=True)
class Terms:
    """What a plan asks of people.

    Attributes
    ----------
    shift_h : longest shift wanted, h; longer stretches count as a limit. Common practice: 6 to 8 h.
    most_h : most hours in any 24 h, h. Common practice of activation plans: 12 h.
    least_h : shortest shift worth the way, h; a shorter piece joins its neighbour.
    travel_min : minutes between two posts, where no longer way is told
    day_h : most hours from getting up to being home, h; `ready_h` of them before leaving. Common practice: 16 h and 1 h.
    rest_h : a shorter time between two turns ends no day, h. Common practice.
    posts_per_reserve : one reserve station is held back for so many posts, at least one. Common practice.
    """

    shift_h: float = 8.0
    most_h: float = 12.0
    least_h: float = 2.0
    travel_min: int = 30
    day_h: float = 16.0
    ready_h: float = 1.0
    rest_h: float = 6.0
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


class Turn(NamedTuple):
    """A turn of one person, or several with no rest between: when they leave home, start, end and are home, minutes."""

    leaves: int
    start: int
    end: int
    home: int


@dataclass(frozen=True)
class Locked:
    """A row of the coordinator's that stays; times in minutes, places in the lists of the roster."""

    post: int
    member: int
    kit: int | None
    start: int
    end: int
    answer: int = CAN


@dataclass(frozen=True)
class Want:
    """Something that the kits at a piece must have together, beside what each must: so much of it, of what each kit gives."""

    piece: int
    least: int
    gives: Ints


@dataclass
class Roster:
    """An event as numbers: what `best` solves. Places in `pieces`, `members` and `kits` number everything.

    Attributes
    ----------
    is_critical : by post
    person : pieces x members; answer of the person in a further seat (CAN to CANNOT)
    lead : pieces x kits; answer of the kit with its owner in the leading seat
    beside : pieces x kits; answer of the kit with its owner in a further seat; as in the leading one unless given
    charge : pieces x kits; share of the kit's charge that the shift takes
    carried : pieces x kits; tenths of a kilogram to be carried
    wants_two : by post; a second station is wanted
    in_reserve : by kit; fit to stand by with its owner
    stations : reserve stations that stand by for the whole event and are sent nowhere
    away : when a member is on duty elsewhere for the club, and the minutes from home there, as (member, start, end, way)
    lent : by kit in another member's hands: the kit that it is. It stands in `owner` with that other member.
    ways : members x posts; minutes from home, one way; 0 where not told. Without rows: nobody told any.
    kits_away : times at which a kit is elsewhere for the club, whoever brings it, as (kit, start, end)
    stood : where people stand in another plan to stay near to, as (member, post, start, end, kit), -1 without a kit;
        empty: there is none
    wants : what the kits at a piece must have together
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
    away: list[tuple[int, int, int, int]] = field(default_factory=list)
    lent: dict[int, int] = field(default_factory=dict)
    ways: Ints = field(default_factory=lambda: np.zeros((0, 0), np.int64))
    kits_away: list[tuple[int, int, int]] = field(default_factory=list)
    stood: list[tuple[int, int, int, int, int]] = field(default_factory=list)
    wants: list[Want] = field(default_factory=list)
    beside: Ints = field(default_factory=lambda: np.zeros((0, 0), np.int64))

    @cached_property
    def body(self) -> Ints:
        """By kit, the thing itself: for one in another's hands, the kit that it is."""
        return np.array([self.lent.get(kit, kit) for kit in range(len(self.owner))], np.int64)

    @cached_property
    def given(self) -> Ints:
        """Pieces x kits: what a kit gives to all that is wanted there."""
        given = np.zeros((len(self.pieces), len(self.owner)), np.int64)
        for want in self.wants:
            given[want.piece] += want.gives
        return given

    @cached_property
    def apart_min(self) -> Ints:
        """By member, minutes that lie between any two of their posts: the way, at least as far as one is nearer home."""
        apart = np.full(self.members, self.terms.travel_min, np.int64)
        if self.ways.size:
            np.maximum(apart, self.ways.max(axis=1) - self.ways.min(axis=1), out=apart)
        return apart

    @property
    def turns(self) -> set[int]:
        """When locked rows begin, and turns at other events, the way there counted and not."""
        own = {row.start for row in self.locked}
        return own | {at for _, start, _, way in self.away for at in (start - way, start)}

    def left_min(self, at: int) -> Floats:
        """By member, minutes of work that the 24 hours from a minute on leave for this event.

        What they do at other events is taken from the most hours of the terms; it and the ways, here from the farthest
        post, from the longest day.
        """
        if at not in self._left:
            self._left[at] = self._left_min(at)
        return self._left[at]

    @cached_property
    def _left(self) -> dict[int, Floats]:
        return {}

    def _left_min(self, at: int) -> Floats:
        duty, day = np.zeros(self.members), np.zeros(self.members)
        for member, start, end, way in self.away:
            duty[member] += inside_min(start, end, at)
            day[member] += inside_min(start - way, end + way, at)
        if self.ways.size:
            day += 2.0 * self.ways.max(axis=1)
        most, longest = 60.0 * self.terms.most_h, 60.0 * (self.terms.day_h - self.terms.ready_h)
        left: Floats = np.maximum(np.minimum(most - duty, longest - day), 0.0)
        return left

    def is_too_long(self, leaves: Any, ends: Any, starts: Any, home: Any) -> Any:
        """Whether a later turn is of the same day as an earlier one, and ends it too late; all in minutes.

        Parameters
        ----------
        leaves, ends : when one leaves home for the earlier turn, and when that ends
        starts, home : when the later turn starts, and when one is home from it
        """
        return self.goes_on(ends, starts) & (home - leaves > self.longest_min)

    def goes_on(self, ends: Any, starts: Any) -> Any:
        """Whether a turn that starts at a minute is of the same day as one that ends before."""
        return (starts >= ends) & (starts < ends + 60 * self.terms.rest_h)

    @property
    def longest_min(self) -> float:
        """The longest from leaving home to being home again, minutes."""
        return 60 * (self.terms.day_h - self.terms.ready_h)

    def days(self, turns: Iterable[Turn]) -> list[Turn]:
        """The turns of one person with no rest between them as one each."""
        found: list[Turn] = []
        for turn in sorted(turns, key=lambda turn: (turn.start, turn.end)):
            day = found[-1] if found else None
            if day and turn.start < day.end + 60 * self.terms.rest_h:
                last = max(day, turn, key=lambda one: one.end)
                found[-1] = Turn(day.leaves, day.start, last.end, last.home)
            else:
                found.append(turn)
        return found

    @cached_property
    def fixed(self) -> dict[int, list[Turn]]:
        """By member, their days at other events and in locked rows."""
        turns: dict[int, list[Turn]] = {}
        for row in self.locked:
            way = int(self.way_min(row.member, row.post))
            turns.setdefault(row.member, []).append(Turn(row.start - way, row.start, row.end, row.end + way))
        for member, start, end, way in self.away:
            turns.setdefault(member, []).append(Turn(start - way, start, end, end + way))
        return {member: self.days(own) for member, own in turns.items()}

    def way_min(self, member: int, posts: Any) -> Any:
        """Minutes from a member's home to posts, one way; 0 where not told, and to no post (-1)."""
        known = (
            self.ways[member]
            if self.ways.size
            else np.zeros(max((p.post for p in self.pieces), default=0) + 1, np.int64)
        )
        return np.append(known, 0)[posts]

    @property
    def reserve(self) -> list[tuple[int, int, int]]:
        """When reserve stations stand by: start, end, stations."""
        if not self.stations or not self.pieces:
            return []
        return [(min(p.start for p in self.pieces), max(p.end for p in self.pieces), self.stations)]


def within(pieces: Sequence[Piece], post: int, start: int, end: int) -> list[int]:
    """The places of the pieces of a post that lie within a time (minutes)."""
    return [
        number
        for number, piece in enumerate(pieces)
        if piece.post == post and start <= piece.start and piece.end <= end
    ]


def inside_min(start: Any, end: Any, at: int) -> Any:
    """Minutes of a time that lie within the 24 hours from a minute on."""
    return np.clip(np.minimum(end, at + DAY_MIN) - np.maximum(start, at), 0, None)


def shifts(
    opens: list[int], closes: list[int], people: list[int], cuts: Mapping[int, Iterable[int]], terms: Terms
) -> list[Piece]:
    """Split posts into shifts with boundaries that all posts share, and where one person's most hours end on a post of two.

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
        alone = round(open_ + most)
        if most < close - open_ <= 120 * terms.shift_h and all(abs(at - alone) >= least for at in bounds):
            bounds.append(alone)  # one person who has the post to themselves holds it for as long as they may
        bounds = sorted({*bounds, *(cut for cut in cuts.get(post, ()) if open_ < cut < close)})
        pieces += [Piece(post, a, b, people[post]) for a, b in pairwise(bounds)]
    return pieces
