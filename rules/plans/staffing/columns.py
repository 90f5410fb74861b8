"""The columns of a roster: who could sit where, for one or more shifts on end, in which seat and with which kit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from rules.plans.staffing.roster import CAN, CANNOT, UNKNOWN, Floats, Ints, Roster

LENT_AT_ONCE, HANDS_OF_MANY = 25_000, 120
"""Columns of kits in other hands that the solver proves in time; of more, it is given so many pairs of hands."""


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
    is_lent: Ints


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
        is_out = ((charge > 1) & (last > first)) | _is_out(roster, piece.post, start, end)
        lead = np.where(is_out, CANNOT, np.maximum(lead, person[roster.owner]))
        late = int(last > first and end - start > long_min)
        gives = roster.given[span].sum(axis=0)
        common = {"post": piece.post, "first": first, "last": last, "start": start, "end": end}
        kit, others, lent = _brought(roster, lead, carried, charge, gives)
        every = np.concatenate([kit, others, lent])
        is_lent = np.isin(every, lent)
        parts.append(
            common | {
                "member": roster.owner[every], "kit": every, "seat": 0,
                "limits": np.where(is_lent, np.maximum(lead[every], UNKNOWN), lead[every]) + late,
                "carried": carried[every], "charge": charge[every], "answer": lead[every], "is_lent": is_lent,
            }
        )  # fmt: skip
        if piece.people > 1:
            brought = roster.beside if roster.beside.size else roster.lead
            brings = np.where(is_out, CANNOT, np.maximum(brought[span].max(axis=0), person[roster.owner]))
            own = np.full(roster.members, -1)
            if roster.wants_two[piece.post]:
                mine, *_ = _brought(roster, brings, carried, charge, gives)
                good = mine[brings[mine] <= person[roster.owner[mine]]]
                own[roster.owner[good]] = good
            able = np.flatnonzero(person < CANNOT)
            is_bare = own[able] < 0
            parts.append(
                common | {
                    "member": able, "kit": own[able], "seat": 1,
                    "limits": person[able] + late + (is_bare & roster.wants_two[piece.post]),
                    "carried": np.where(is_bare, 0, carried[own[able]]), "charge": np.where(is_bare, 0.0, charge[own[able]]),
                    "answer": person[able], "is_lent": 0,
                }
            )  # fmt: skip
            more = _given_beside(roster, brings, own, gives)
            parts.append(
                common | {
                    "member": roster.owner[more], "kit": more, "seat": 1, "limits": brings[more] + late, "carried": carried[more],
                    "charge": charge[more], "answer": brings[more], "is_lent": 0,
                }
            )  # fmt: skip
    for number, (start, end, _) in enumerate(roster.reserve):
        kits = np.flatnonzero(roster.in_reserve & ~_is_out(roster, -1, start, end))
        if not roster.lent:
            kits = kits[np.unique(roster.owner[kits], return_index=True)[1]]
        place = len(roster.pieces) + number
        parts.append(
            {
                "member": roster.owner[kits], "kit": kits, "post": -1, "seat": 2, "first": place, "last": place,
                "start": start, "end": end, "limits": 0, "carried": 0, "charge": 0.0, "answer": CAN,
                "is_lent": 0,
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


def few_lent(columns: Columns, roster: Roster) -> tuple[Columns, int]:
    """The columns with as many kits in other hands as the solver can do with, and how many are left out.

    Nobody has a column with a kit of another's where they have one of their own, so what is left out is of use to
    somebody. Each kit in turn gets one more pair of hands, those that hold the fewest kits so far, and of these those
    that could lead for the longest.
    """
    lent = np.flatnonzero(columns.is_lent)
    hands = np.unique(columns.kit[lent])
    if len(lent) <= LENT_AT_ONCE or len(hands) <= HANDS_OF_MANY:
        return columns, 0
    single = lent[columns.first[lent] == columns.last[lent]]
    minutes = np.bincount(columns.kit[single], (columns.end - columns.start)[single], len(roster.owner))
    waiting: dict[int, list[int]] = {}
    for hand in hands.tolist():
        waiting.setdefault(int(roster.body[hand]), []).append(hand)
    held = np.zeros(roster.members, np.int64)
    chosen: list[int] = []
    while len(chosen) < HANDS_OF_MANY:
        for body in list(waiting)[: HANDS_OF_MANY - len(chosen)]:
            hand = min(waiting[body], key=lambda h: (held[roster.owner[h]], -minutes[h], h))
            chosen.append(hand)
            held[roster.owner[hand]] += 1
            waiting[body].remove(hand)
            if not waiting[body]:
                del waiting[body]
    keep = (columns.is_lent == 0) | np.isin(columns.kit, chosen)
    return _those(columns, keep), len(hands) - len(chosen)


def _those(columns: Columns, keep: npt.NDArray[np.bool_]) -> Columns:
    return Columns(**{name: getattr(columns, name)[keep] for name in Columns.__dataclass_fields__})


def _is_out(roster: Roster, post: int, start: int, end: int) -> npt.NDArray[np.bool_]:
    """By kit, whether a locked row or another event holds it within a time and the way to the post and from it."""
    held = [
        (int(roster.body[row.kit]), row.post, row.start, row.end)
        for row in roster.locked
        if row.kit is not None
    ]
    held += [(kit, -2, left, back) for kit, left, back in roster.kits_away]
    gone = []
    for kit, at, left, back in held:
        way = 0 if at == post else roster.terms.travel_min
        if start < back + way and end + way > left:
            gone.append(kit)
    return np.isin(roster.body, gone)


def _given_beside(roster: Roster, brings: Ints, own: Ints, gives: Ints) -> Ints:
    """For each person the kit of theirs that gives most to what the post must have as a whole, where it gives more than
    the one that they bring to a further seat anyway.

    Parameters
    ----------
    brings, gives : by kit, the answer of its owner with it in a further seat, and what it gives to what is wanted
    own : by member, the kit that they bring anyway, -1 for none
    """
    given = np.where(own < 0, 0, gives[own])[roster.owner]
    more = np.flatnonzero(
        (gives > given) & (brings < CANNOT) & ~np.isin(np.arange(len(gives)), list(roster.lent))
    )
    order = more[np.lexsort((brings[more], -gives[more], roster.owner[more]))]
    _, at = np.unique(roster.owner[order], return_index=True)
    return order[at]


def _brought(
    roster: Roster, lead: Ints, carried: Ints, charge: Floats, gives: Ints
) -> tuple[Ints, Ints, Ints]:
    """The kits that may lead a stretch: each owner's best, their others where the best may be used up or lent
    or gives less, and lent ones.

    A kit is lent only to somebody who has none that could do it.
    """
    order = np.lexsort((carried, lead, roster.owner))
    order = order[lead[order] < CANNOT]
    is_lent = np.isin(order, list(roster.lent))
    own = order[~is_lent]
    owners, at = np.unique(roster.owner[own], return_index=True)
    best = own[at]
    is_sure = np.zeros(roster.members, bool)
    is_sure[owners] = (charge[best] == 0) & ~np.isin(best, list(roster.lent.values()))
    others = own[~np.isin(own, best)]
    given = np.zeros(roster.members, np.int64)
    given[owners] = gives[best]
    others = others[~is_sure[roster.owner[others]] | (gives[others] > given[roster.owner[others]])]
    lent = order[is_lent]
    return best, others, lent[~np.isin(roster.owner[lent], owners)]


def _free(columns: Columns, roster: Roster) -> Columns:
    """Without the columns that meet something else the same person is held by, the way there counted."""
    keep = np.ones(len(columns.member), bool)
    for row in roster.locked:
        apart = np.abs(roster.way_min(row.member, columns.post) - roster.way_min(row.member, row.post))
        way = np.where(columns.post == row.post, 0, np.maximum(apart, roster.terms.travel_min))
        keep &= ~((columns.member == row.member) & _meets(columns, row.start, row.end, way))
    for member, start, end, way_there in roster.away:
        way = way_there + np.maximum(roster.way_min(member, columns.post), roster.terms.travel_min)
        keep &= ~((columns.member == member) & _meets(columns, start, end, way))
    leaves, home = from_door_to_door(roster, columns)
    for member, days in roster.fixed.items():
        own = (columns.member == member) & (columns.seat < 2)
        for day in days:
            is_late = roster.is_too_long(day.leaves, day.end, columns.start, home)
            is_early = roster.is_too_long(leaves, columns.end, day.start, day.home)
            keep &= ~(own & (is_late | is_early))
    return _those(columns, keep)


def from_door_to_door(roster: Roster, columns: Columns) -> tuple[Ints, Ints]:
    """When the person of each column leaves home for it and is home from it, minutes."""
    way = np.zeros(len(columns.member), np.int64)
    if roster.ways.size:
        way = np.where(columns.post < 0, 0, roster.ways[columns.member, columns.post])
    return columns.start - way, columns.end + way


def _meets(columns: Columns, start: int, end: int, way: Ints) -> npt.NDArray[np.bool_]:
    """Which columns lie within a time and the way to it and from it."""
    return (columns.start < end + way) & (columns.end + way > start)
