"""Who holds which post of an event, with which kit, from when to when: the best plan, proven, and what it lacks.

Hours are split into shifts. A column of the program is one person at one post for one or more shifts on end; people sit in
the leading seat, with a kit that can do the post, or in a further seat. The plan is the best in this order (OBJECTIVES):

1. the fewest hours open at critical posts, then at all posts;
2. the fewest hours in which a post is short of gear that it must have as a whole (a second way on the air, a satellite
   messenger, first aid beside traffic);
3. the fewest hours open in the reserve;
4. the fewest limits, then the fewest kits lent;
5. the fewest turns of anyone beyond one, two …;
6. the fewest people moved from where another plan has them, then the fewest who bring another kit than there;
7. the least carried.

A kit that its owner lends, or that is the club's, goes only to somebody who has none that could hold the post, and counts as
much as an answer that is not known. At last the plan is put into a copy of the club and judged there, and tells what still
blocks.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from rules.engine import Assessment
from rules.plans import posts as by_kit
from rules.plans.staffing import promise
from rules.plans.staffing.ability import Ability, ability, judged_of, owners_of
from rules.plans.staffing.changes import asks, uncovered
from rules.plans.staffing.event import Event, read_event
from rules.plans.staffing.program import Seated, best
from rules.plans.staffing.roster import (
    CAN,
    CANNOT,
    OBJECTIVES,
    PER_UNIT,
    Ints,
    Locked,
    Piece,
    Roster,
    Terms,
    inside_min,
    shifts,
    within,
)

ROWS = ["post", "member", "kit", "kit_owner", "from", "to", "travel_h", "answer", "leads", "is_locked"]


@dataclass(frozen=True)
class Plan:
    """Who holds which post, with what is open and what would fill it.

    Attributes
    ----------
    rows : post, member, kit (missing where none is brought), kit_owner (whose it is where another lends it), from, to,
        travel_h (hours from home, where told), answer, leads, is_locked
    reserve : member, kit, from, to
    asks : post, member, kit, kit_owner, ask; seats that rest on something not known, and what to find out; without a member, posts as
        a whole
    blocked : post, member and kit (where it is theirs and not the whole post's), title, why, fix; what the rules say still
        blocks a post when the plan is put in, and is not open seats
    uncovered : post, from, to, people_short, is_station_missing, is_critical, why, change, change_kind
    values, bounds : by name of OBJECTIVES: what the plan reaches and what no plan can better, of those with the kits in
        other hands that were tried; hours, kg or a count
    is_proven : every value equals its bound, and every kit that may be lent was tried in every hand
    seconds : of the solver
    notes : what of the input could not be used
    """

    event: str
    rows: pd.DataFrame
    reserve: pd.DataFrame
    uncovered: pd.DataFrame
    asks: pd.DataFrame
    blocked: pd.DataFrame
    values: dict[str, float]
    bounds: dict[str, float]
    is_proven: bool
    seconds: float
    notes: list[str]
    terms: Terms

    @cached_property
    def gap(self) -> dict[str, float]:
        """By objective, how far a better plan might still be; empty when the plan is proven."""
        short = {name: self.values[name] - self.bounds[name] for name in self.values}
        return {name: value for name, value in short.items() if value > 1e-9}


def terms_of(assessment: Assessment) -> Terms:
    """What the rules ask of people as the club's policy has them; common practice where a rule is not looked at."""
    param = {rule.name: rule.param for rule in assessment.rules}

    def asked(rule: str, name: str, usual: float) -> float:
        if rule not in param:
            return usual
        return float(assessment.policy.value(rule, name, param[rule][name].value))

    usual, day = Terms(), "long_day_from_door_to_door"
    most_h = min(
        asked(rule, "most_h", usual.most_h)
        for rule in ("shift_over_twelve_hours", "over_twelve_hours_in_a_day")
    )
    return Terms(
        shift_h=min(usual.shift_h, most_h),
        most_h=most_h,
        least_h=min(usual.least_h, most_h),
        travel_min=math.ceil(asked("no_time_to_travel", "least_min", usual.travel_min)),
        day_h=asked(day, "most_h", usual.day_h),
        ready_h=asked(day, "ready_h", usual.ready_h),
        rest_h=asked(day, "rest_h", usual.rest_h),
        posts_per_reserve=math.floor(asked("no_reserve_station", "posts_each", usual.posts_per_reserve)),
    )


def staff(
    assessment: Assessment,
    event: str,
    locked: pd.DataFrame | None = None,
    seconds: float = 10.0,
    terms: Terms | None = None,
    absent: Collection[str] = (),
    near: pd.DataFrame | None = None,
) -> Plan:
    """The best staffing of an event; always a plan, with what stays open and why.

    Parameters
    ----------
    locked : rows that stay: post, member, and if told kit, kit_owner, from, to
    absent : members who do not come
    near : rows of another plan of the event; of plans as good, the one that moves the fewest people from their posts there
    seconds : time for the solver; when it is up, the best plan so far with the gap
    terms : what is asked of people; unless given, what the rules ask (`terms_of`)

    Raises
    ------
    NoSuchEventError
        No file names the event, or it has no posts.
    """
    terms = terms or terms_of(assessment)
    here = read_event(assessment, event)
    here.members.loc[here.members["member"].isin(list(absent)), "is_available"] = False
    kept, notes = read_locked(here, locked)
    roster, able = roster_of(assessment, here, kept, terms)
    if near is not None:
        roster.stood = _stood(here, near)
    notes += _clashes(here, roster) + _kit_clashes(here, roster)
    if able.judged.left:
        notes.append(
            "Kits that may be lent, and were not tried in other hands because there are so many: "
            f"{able.judged.left}."
        )
    seated = best(roster, seconds)
    found = seated.best
    if seated.left:
        notes.append(
            f"Kits that may be lent are tried in the hands of some people only: of all pairs, {seated.left} are left out, "
            "as there are so many."
        )
    is_proven = found.is_proven and not seated.left and not able.judged.left
    values = dict(zip(OBJECTIVES, (v / u for v, u in zip(found.values, PER_UNIT, strict=True)), strict=True))
    bounds = dict(zip(OBJECTIVES, (b / u for b, u in zip(found.bounds, PER_UNIT, strict=True)), strict=True))
    rows, open_ = told_rows(here, roster, seated), uncovered(assessment, here, roster, able, seated)
    blocked, of_posts = promise.judged(assessment, here, rows, open_)
    of_seats = asks(assessment, here, roster, able, seated)
    return Plan(
        event, rows, _reserve(here, seated), open_, pd.concat([of_seats, of_posts], ignore_index=True), blocked,
        values, bounds, is_proven, found.seconds, notes, terms,
    )  # fmt: skip


def people_wanted(posts: pd.DataFrame) -> list[int]:
    """How many people each post takes at a time; net control, and a post that is remote or without cell cover, at least two."""
    is_cut_off = posts["is_remote"] | posts["has_cell_cover"].eq(False).fillna(False).astype(bool)
    is_paired = posts["post_type"].eq("net_control") | is_cut_off
    return [
        max(int(count), 2 if two else 1) for count, two in zip(posts["operators"], is_paired, strict=True)
    ]


def roster_of(
    assessment: Assessment, here: Event, locked: list[Locked], terms: Terms
) -> tuple[Roster, Ability]:
    """The event as numbers, with every shift judged."""
    opens = [here.minute(at) for at in here.posts["opens"]]
    closes = [here.minute(at) for at in here.posts["closes"]]
    people = people_wanted(here.posts)
    cuts: dict[int, list[int]] = defaultdict(list)
    for row in locked:
        cuts[row.post] += [row.start, row.end]
    pieces = [  # of two moments that the clocks show alike the first, as only that can be written
        Piece(p.post, here.minute(here.moment(p.start)), here.minute(here.moment(p.end)), p.people)
        for p in shifts(opens, closes, people, cuts, terms)
    ]
    own = owners_of(here, [])
    told = [(row.kit, row.member) for row in locked if row.kit is not None and own[row.kit] != row.member]
    judged = judged_of(assessment, here, pieces, told)
    bare = {at for row in locked if row.kit is None for at in within(pieces, row.post, row.start, row.end)}
    able, lent = ability(assessment, here, pieces, judged, bare), judged.lent
    at_hand = {pair: len(own) + number for number, pair in enumerate(lent)}
    stations = max(1, math.ceil(len(here.posts) / terms.posts_per_reserve))
    answered = []
    for row in locked:
        inside = within(pieces, row.post, row.start, row.end)
        answer = int(able.person[inside, row.member].max(initial=CAN))
        kit = row.kit
        if kit is not None:
            kit = at_hand.get((kit, row.member), kit)
            answer = max(answer, int(able.lead[inside, kit].max(initial=CAN)))
        answered.append(Locked(row.post, row.member, kit, row.start, row.end, answer))
    away, kits_away = _elsewhere(assessment, here)
    roster = Roster(
        pieces, here.posts["is_critical"].astype(bool).tolist(), np.array(owners_of(here, lent), np.int64),
        len(here.members), able.person, able.lead, able.charge, able.carried,
        (here.posts["needs_two_ways"] | (here.posts["radios"] > 1)).astype(bool).tolist(),
        able.in_reserve, stations, terms, answered, away,
        {len(own) + number: kit for number, (kit, _) in enumerate(lent)}, _ways(assessment, here), kits_away,
        wants=able.wants, beside=able.beside,
    )  # fmt: skip
    return roster, able


def _stood(here: Event, rows: pd.DataFrame) -> list[tuple[int, int, int, int, int]]:
    """Where people stand in another plan of the event, and with which kit, in the roster's numbers."""
    owner = rows["kit_owner"].fillna(rows["member"])
    kits = [here.kit_at.get(names, -1) for names in zip(owner, rows["kit"], strict=True)]
    told = zip(rows["member"], rows["post"], rows["from"], rows["to"], kits, strict=True)
    return [
        (here.member_at[member], here.post_at[post], here.minute(start), here.minute(end), kit)
        for member, post, start, end, kit in told
        if member in here.member_at and post in here.post_at
    ]


def _elsewhere(
    assessment: Assessment, here: Event
) -> tuple[list[tuple[int, int, int, int]], list[tuple[int, int, int]]]:
    """When members are sent to other events, and how far; when kits are there, or on the way there and home."""
    rows = assessment.tuples(
        "select member_id, kit_id, a.starts, a.ends, cast(round(60 * coalesce(travel_h, 0)) as integer) "
        "from assignment_utc as a join event using (event_id) where event <> ?",
        [here.name],
    )
    spans = [
        (member, kit, here.minute_utc(start), here.minute_utc(end), way)
        for member, kit, start, end, way in rows
    ]
    return (
        [(here.member_at[member], start, end, way) for member, _, start, end, way in spans],
        [(here.kit_at[kit], start - way, end + way) for _, kit, start, end, way in spans if kit is not None],
    )


def _ways(assessment: Assessment, here: Event) -> Ints:
    """Minutes from each member's home to each post of the event, as told for it, else the longest told for the event."""
    ways = np.zeros((len(here.members), len(here.posts)), np.int64)
    rows = assessment.tuples(
        "select member_id, post_id, max(travel_h) from assignment join event using (event_id) "
        "where event = ? and travel_h is not null group by 1, 2",
        [here.name],
    )
    for member, _, hours in rows:
        own = ways[here.member_at[member]]
        np.maximum(own, round(60 * hours), out=own)
    for member, post, hours in rows:
        ways[here.member_at[member], here.post_at[post]] = round(60 * hours)
    return ways


def read_locked(here: Event, rows: pd.DataFrame | None) -> tuple[list[Locked], list[str]]:
    """Locked rows in the roster's numbers, and what is said of those that name nothing."""
    kept: list[Locked] = []
    notes: list[str] = []
    if rows is None:
        return kept, notes
    for row in rows.to_dict("records"):
        post, member, kit = row["post"], row["member"], row.get("kit")
        kit = None if pd.isna(kit) else kit
        owner = row.get("kit_owner")
        owner = member if pd.isna(owner) else owner
        if post not in here.post_at:
            notes.append(f'locked row: "{post}" is not a post of {here.name}. It is left out.')
        elif member not in here.member_at:
            notes.append(f'locked row of {post}: "{member}" is not a member. It is left out.')
        elif kit is not None and (owner, kit) not in here.kit_at:
            notes.append(f'locked row of {post}: {owner} has no kit "{kit}". It is left out.')
        else:
            at = here.post_at[post]
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
                    at, here.member_at[member], None if kit is None else here.kit_at[owner, kit],
                    here.minute(max(start, opens)), here.minute(min(end, closes)),
                )
            )  # fmt: skip
    return kept, notes


def _clashes(here: Event, roster: Roster) -> list[str]:
    """Locked rows that contradict one another or that the person or kit cannot hold, and ways too long; they stay."""
    notes = []
    for number, row in enumerate(roster.locked):
        member, post = here.members["member"][row.member], here.posts["post"][row.post]
        for other in roster.locked[:number]:
            gap = max(row.start - other.end, other.start - row.end)
            way = abs(int(roster.way_min(row.member, row.post) - roster.way_min(row.member, other.post)))
            if other.member != row.member or gap >= (0 if row.post == other.post else way):
                continue
            both = f"{member} is at {post} and at {here.posts['post'][other.post]}"
            notes.append(
                f"locked rows: {both} at the same time."
                if gap < 0
                else f"locked rows: {both} with {gap} min between them; the way takes {way} min or more."
            )
        if row.answer == CANNOT:
            notes.append(f"locked row: {member} cannot hold {post} as the rules stand.")
        if any(
            who == row.member and row.start < end and start < row.end for who, start, end, _ in roster.away
        ):
            notes.append(f"locked row of {post}: {member} is at another event at that time.")
    return notes + _long_days(here, roster)


def _long_days(here: Event, roster: Roster) -> list[str]:
    """People whose locked rows, with their hours at other events, are more than 24 hours should hold; they stay."""
    notes = []
    for member in sorted({row.member for row in roster.locked}):
        own = [(row.start, row.end) for row in roster.locked if row.member == member]
        away = [(start, end) for who, start, end, _ in roster.away if who == member]
        turns: list[tuple[int, int]] = []
        for start, end in sorted(own + away):  # what lies within another turn is not counted twice
            since = max([start, *(until for _, until in turns)])
            turns.append((since, max(since, end)))
        worked = max(sum(inside_min(start, end, at) for start, end in turns) for at, _ in turns)
        if worked > 60 * roster.terms.most_h:
            where = "here and at other events" if away else "here"
            notes.append(
                f"locked rows: {here.members['member'][member]} is on duty {where} for {worked / 60:g} h of some 24; "
                f"{roster.terms.most_h:g} h is the most."
            )
    return notes


def _kit_clashes(here: Event, roster: Roster) -> list[str]:
    """Locked rows with one kit in two hands, or with a kit that is elsewhere or is not to be lent; they stay."""
    notes = []
    held = [row for row in roster.locked if row.kit is not None]
    says_no = {*here.kits.index[here.kits["may_be_lent"].eq(False).fillna(False).astype(bool)]}
    for number, row in enumerate(held):
        body = int(roster.body[row.kit])
        whose = f"{here.kits['member'][body]}'s {here.kits['kit'][body]}"
        post = here.posts["post"][row.post]
        notes += [
            f"locked rows: {whose} is at {post} and at {here.posts['post'][other.post]} at the same time."
            for other in held[:number]
            if roster.body[other.kit] == body
            and other.member != row.member
            and other.post != row.post
            and row.start < other.end
            and other.start < row.end
        ]
        if any(kit == body and row.start < end and start < row.end for kit, start, end in roster.kits_away):
            notes.append(f"locked row of {post}: {whose} is at another event at that time.")
        times = here.moment(row.start), here.moment(row.end)
        if row.kit in roster.lent and body in says_no and not here.has_leave(body, row.member, *times):
            notes.append(f"locked row of {post}: {whose} is not to be lent, says its owner.")
    return notes


def told_rows(here: Event, roster: Roster, seated: Seated) -> pd.DataFrame:
    """The plan as rows of assignments.csv, with what else is known of each."""
    found = []
    for row in roster.locked:
        found.append(
            (row.post, row.member, row.kit, row.start, row.end, row.answer, row.kit is not None, True)
        )
    for c in seated.chosen:
        if c["seat"] < 2:
            found.append(
                (c["post"], c["member"], c["kit"], c["start"], c["end"], c["answer"], c["seat"] == 0, False)
            )
    found.sort(key=lambda row: (row[0], row[3], not row[6], row[1]))
    told = []
    for post, member, kit, start, end, answer, leads, is_locked in found:
        body = None if kit is None else int(roster.body[kit])
        lender = here.kits["member"][body] if body is not None and kit in roster.lent else None
        way = int(roster.way_min(member, post))
        told.append(
            (
                here.posts["post"][post], here.members["member"][member], None if body is None else here.kits["kit"][body],
                lender, here.moment(start), here.moment(end), way / 60 if way else None,
                by_kit.ANSWERS[answer], leads, is_locked,
            )
        )  # fmt: skip
    return pd.DataFrame(told, columns=ROWS).astype({"travel_h": float})


def _reserve(here: Event, seated: Seated) -> pd.DataFrame:
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
