"""Staffing plans: best by brute force and by other solvers, and in agreement with the rules that judge them."""

from __future__ import annotations

import itertools
import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, linear_sum_assignment, milp
from typer.testing import CliRunner

from dashboard.command import app
from data import upload
from rules import engine
from rules.plans import in_turn, posts, staffing, whatif
from rules.plans.in_turn import Program, minimise_in_turn
from rules.plans.staffing import CAN, CANNOT, LIMITS, UNKNOWN, Locked, Piece, Roster, Terms
from tests.small_club import TODAY

RACE, TRAIL = "Barley Ford Half Marathon", "Gorse Hill Trail Run"
COVERAGE = ("hours_without_anyone", "fewer_people_than_planned", "net_control_alone")


# --- several objectives in turn ---


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


# --- a roster, against brute force ---


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
    stood = [(0, 1, 0, length), (1, 0, length, 2 * length)] if seed % 2 else []
    return Roster(
        pieces, [False, True], owner, members, person, lead, charge, carried, [bool(seed % 2), False], in_reserve,
        seed % 3 < 2, Terms(shift_h=8, travel_min=travel_min), locked, away, lent, ways,
        stood=stood,
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
    is_long = (work + duty_in > 6 * terms.most_h) | (work + day_in + ways > 6 * (terms.day_h - terms.ready_h))
    return bool((is_long & (work > 0)).any())


def weigh(roster: Roster, seats: dict[tuple[int, int], int], reserve: int | None) -> tuple[float, ...] | None:
    """The objectives of a choice of a member for seats (piece, 0 leading or 1 further); None when it breaks a rule."""
    terms, pieces = roster.terms, roster.pieces
    limits = carried = loans = moved = 0
    kits: dict[int, list[tuple[int, int, int]]] = (
        {reserve: [(-1, -(10**6), 10**6)]} if reserve is not None else {}
    )
    spans: dict[int, list[tuple[int, int, int]]] = {m: [] for m in range(roster.members)}
    drawn = np.zeros(roster.members)
    turns = np.zeros(roster.members)
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
            limits += roster.wants_two[post] and not has_kit
        if answer == CANNOT:
            return None
        limits += int(answer) + late
        if has_kit:
            carried += roster.carried[run[0], body]
            drawn[body] += charge
            kits.setdefault(body, []).append((post, start, end))
        moved += bool(roster.stood) and not any(
            (who, where) == (member, post) and start < until and end > since
            for who, where, since, until in roster.stood
        )
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
    return critical, total, waits, limits, loans, beyond, moved, int(carried)


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
        for reserve in [None, *waiting]:
            value = weigh(roster, seats, reserve)
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
    assert seated.best.values[3] == lead[post, member].sum()
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
    assert second == [(60, 432), (432, 900)]  # 36 minutes after the boundary join the shift before
    cut = staffing.shifts([0], [600], [1], {0: [200]}, Terms(shift_h=12))
    assert [(p.start, p.end) for p in cut] == [(0, 200), (200, 600)]


# --- the demo club ---


@pytest.fixture(scope="module")
def plans(assessment: engine.Assessment) -> dict[str, staffing.Plan]:
    return {event: staffing.staff(assessment, event, seconds=60) for event in (RACE, TRAIL)}


@pytest.fixture(params=[RACE, TRAIL])
def plan(request: pytest.FixtureRequest, plans: dict[str, staffing.Plan]) -> staffing.Plan:
    return plans[request.param]


def unmet(judged: engine.Assessment, rules: tuple[str, ...], event: str) -> set[str | None]:
    """Posts (or members) of an event that do not meet one of the rules."""
    found = [f for f in judged.findings() if f.rule in rules and f.status == "not met"]
    return {f.post if f.post else f.member for f in found if f.event in (event, None)}


def test_the_judged_gaps_are_those_that_the_plan_tells(
    plan: staffing.Plan, frames: dict[str, pd.DataFrame], assessment: engine.Assessment
) -> None:
    alone = frames["assignments"][frames["assignments"]["event"] == plan.event]
    judged = staffing.rescore(plan, {**frames, "assignments": alone}, assessment)
    assert plan.is_proven
    assert unmet(judged, COVERAGE, plan.event) == set(plan.uncovered["post"])
    assert unmet(judged, ("shift_over_twelve_hours", "no_reserve_station"), plan.event) == set()
    sent = set(plan.rows["member"])
    assert (
        unmet(judged, ("in_two_places_at_once", "no_time_to_travel", "kit_promised_twice"), plan.event) & sent
        == set()
    )
    hours = plan.uncovered["to"] - plan.uncovered["from"]
    person_h = (hours.dt.total_seconds() / 3600 * plan.uncovered["people_short"]).sum()
    assert person_h == pytest.approx(plan.values["hours open"])


def test_no_leading_kit_of_a_plan_is_judged_to_fail(
    plan: staffing.Plan, frames: dict[str, pd.DataFrame], assessment: engine.Assessment
) -> None:
    """Of all events but this one nothing is told, for who is sent to two places there is blocked here too."""
    alone = frames["assignments"][frames["assignments"]["event"] == plan.event]
    judged = staffing.rescore(plan, {**frames, "assignments": alone}, assessment)
    answers = posts.post_by_kit(judged, plan.event)
    leads = plan.rows[plan.rows["leads"]]
    leads = leads.assign(member=leads["kit_owner"].fillna(leads["member"]))
    sent = answers[answers["is_assigned"]].merge(leads, on=["post", "member", "kit"])
    assert len(sent) == len(leads) and set(sent["answer_x"]) <= {"can", "with limits", "not known"}


def test_a_plan_keeps_to_its_terms(plan: staffing.Plan) -> None:
    for _, own in plan.rows.groupby("member"):
        spans = own.sort_values("from")
        for before, after in itertools.pairwise(spans.to_dict("records")):
            assert after["from"] >= before["to"] + pd.Timedelta(minutes=plan.terms.travel_min)
        for at in spans["from"]:
            inside = (
                spans["to"].clip(upper=at + pd.Timedelta(hours=24)) - spans["from"].clip(lower=at)
            ).clip(lower=pd.Timedelta(0))
            assert inside.sum() <= pd.Timedelta(hours=plan.terms.most_h)
    assert not set(plan.reserve["member"]) & set(plan.rows["member"])


def test_every_gap_is_explained_and_nobody_is_named_for_two_at_once(plan: staffing.Plan) -> None:
    assert len(plan.uncovered)
    assert plan.uncovered["why"].str.len().gt(0).all() and plan.uncovered["change"].str.len().gt(0).all()
    is_critical = plan.uncovered["is_critical"].tolist()
    assert is_critical == sorted(is_critical, reverse=True)


def test_locked_rows_stay(assessment: engine.Assessment) -> None:
    event = TRAIL
    own = assessment.con.cursor().execute(
        'select post.post, member.member, kit.kit, a.starts as "from", a.ends as "to" from assignment as a '
        "join post using (post_id) join member on member.member_id = a.member_id join kit on kit.kit_id = a.kit_id "
        "where post.event = ? order by a.assignment_id limit 5", [event],
    ).df()  # fmt: skip
    plan = staffing.staff(assessment, event, locked=own, seconds=60)
    kept = plan.rows[plan.rows["is_locked"]][["post", "member", "kit", "from", "to"]]
    both = kept.merge(own, on=["post", "member", "kit", "from", "to"])
    assert len(kept) == len(both) == len(own)
    others = plan.rows[~plan.rows["is_locked"]]
    for row in own.to_dict("records"):
        clash = others[
            (others["member"] == row["member"]) & (others["from"] < row["to"]) & (others["to"] > row["from"])
        ]
        assert clash.empty


def test_a_locked_row_that_names_nothing_is_said(assessment: engine.Assessment) -> None:
    wrong = pd.DataFrame(
        [
            {"post": "Nowhere", "member": "QA1BCD", "kit": None},
            {"post": "Mile 1", "member": "QQ0QQQ", "kit": None},
            {"post": "Mile 1", "member": "QA1BCD", "kit": "No such kit"},
        ]
    )
    plan = staffing.staff(assessment, RACE, locked=wrong)
    assert len(plan.notes) == 3 and not plan.rows["is_locked"].any()
    assert "Nowhere" in plan.notes[0] and "QQ0QQQ" in plan.notes[1] and "No such kit" in plan.notes[2]


def test_the_coordinators_own_plan_stands_beside(plan: staffing.Plan, assessment: engine.Assessment) -> None:
    beside = staffing.compare(plan, assessment).set_index("measure")
    assert beside.loc["person-hours open", "plan"] == pytest.approx(plan.values["hours open"])
    assert beside.loc["person-hours open", "plan"] <= beside.loc["person-hours open", "coordinator"]
    assert beside.loc["people in two places", "plan"] == 0


def test_every_post_has_every_available_kit(assessment: engine.Assessment) -> None:
    table = posts.post_by_kit(assessment)
    assert len(table) == len(assessment.table("post_kit"))
    assert set(table["answer"]) == set(posts.ANSWERS)
    assert (table["reasons"].str.len().eq(0) == table["answer"].eq("can")).all()
    row = table[table["answer"] == "cannot"].iloc[0]
    said = posts.why(assessment, row["event"], row["post"], row["member"], row["kit"])
    assert len(said) >= len(row["reasons"]) and all(said)


def test_an_unknown_event_is_said(assessment: engine.Assessment) -> None:
    with pytest.raises(staffing.NoSuchEventError, match="Barley Ford"):
        staffing.staff(assessment, "Barley")


# --- a club of two ---

CLUB = {
    "inventory.csv": """member,kit,item,kind,quantity,capacity_ah,chemistry,rf_watts,bands,dc_plug,dc_plug_far,rf_plug,rf_plug_far,volts_min,volts_max,amps_tx,amps_rx,amps_idle,length_m,wire_awg,coax,charged,tested,tested_ah
QA1AA,Box,Mobile,mobile,1,,,50,2m 70cm,genderless_30,,so239,,11.7,15.8,10,0.6,0.5,,,,,,
QA1AA,Box,Battery,battery_lifepo4,1,50,lifepo4,,,genderless_30,,,,,,,,,,,,2027-02-20,2026-10-01,50
QA1AA,Box,Lead,dc_lead,1,,,,,genderless_30,genderless_30,,,,,,,,2,12,,,,
QA1AA,Box,Coax,coax,1,,,,,,,pl259,pl259,,,,,,8,,low_loss_240,,,
QA1AA,Box,Whip,mag_mount,1,,,,2m 70cm,,,so239,,,,,,,,,,,,
QA1AA,Box,Fuse,fuse,1,,,,,,,,,,,,,,,,,,,
""",
    "events.csv": "event,starts,ends\nWalk,2027-04-25T08:00,2027-04-25T13:00\n",
    "posts.csv": "event,post,post_type,operators\nWalk,Base,net_control,1\nWalk,Ford,aid_station,1\n",
}


def small_club(members: str) -> dict[str, pd.DataFrame]:
    told: dict[str, pd.DataFrame] = {}
    for name, text in {**CLUB, "members.csv": members}.items():
        read = upload.read(name, text.encode())
        assert not read.problems, read.problems
        assert read.frame is not None and read.stem is not None
        told[read.stem] = read.frame
    return told


def judged(told: dict[str, pd.DataFrame]) -> engine.Assessment:
    return engine.assess(told, today=TODAY)


HEAD = "member,licence_class,roles,available\n"


def test_an_event_that_nobody_can_hold_is_explained() -> None:
    told = small_club(HEAD + "QA1AA,general,field,no\n")
    plan = staffing.staff(judged(told), "Walk")
    assert plan.rows.empty and plan.reserve.empty and plan.is_proven
    assert set(plan.uncovered["post"]) == {"Base", "Ford"}
    assert plan.uncovered["change"].str.contains("one more person").all()


def test_a_seat_that_rests_on_an_unknown_names_the_answer_to_ask_for() -> None:
    told = small_club(
        "member,licence_class,licence_expires,roles,available\nQA1AA,general,2030-01-01,field,yes\n"
    )
    known = staffing.staff(judged(told), "Walk")
    open_ = staffing.staff(judged(small_club(HEAD + "QA1AA,general,field,yes\n")), "Walk")
    assert not known.asks["ask"].str.contains("licence runs out").any()
    held = open_.rows[open_.rows["answer"] == "not known"]
    assert len(held) and len(open_.asks) == len(held)
    assert open_.asks["member"].tolist() == ["QA1AA"]
    assert "licence runs out" in open_.asks["ask"].iloc[0]


def test_net_control_is_doubled_and_the_change_named_fills_the_seat() -> None:
    before = small_club(HEAD + "QA1AA,general,field,yes\nQB2BB,general,field,yes\n")
    plan = staffing.staff(judged(before), "Walk")
    base = plan.uncovered.set_index("post")
    assert "Base" in base.index and base.loc["Base", "people_short"] == 2
    assert "QA1AA is not signed off for net_control" in base.loc["Base", "change"]
    assert "leave Ford open" in base.loc["Base", "change"]
    assert base.loc["Base", "is_critical"]
    after = small_club(HEAD + "QA1AA,general,field net_control,yes\nQB2BB,general,field,yes\n")
    filled = staffing.staff(judged(after), "Walk")
    assert "Base" not in set(filled.uncovered["post"])
    assert len(filled.rows[filled.rows["post"] == "Base"]) == 2
    second: dict[str, Any] = (
        filled.rows[(filled.rows["post"] == "Base") & ~filled.rows["leads"]].iloc[0].to_dict()
    )
    assert second["answer"] == "with limits"


# --- what if ---


@pytest.fixture(scope="module")
def staffed(
    frames: dict[str, pd.DataFrame], assessment: engine.Assessment, plans: dict[str, staffing.Plan]
) -> tuple[dict[str, pd.DataFrame], engine.Assessment]:
    """The demo club with the plan for its half marathon put in."""
    return staffing.apply(plans[RACE], frames), staffing.rescore(plans[RACE], frames, assessment)


def verdicts(judged: engine.Assessment, event: str) -> dict[str, str]:
    scores = judged.scores()
    here = scores[(scores["subject_kind"] == "post") & (scores["event"] == event)]
    return dict(zip(here["post"], here["verdict"], strict=True))


def test_an_absent_member_leaves_their_post(
    staffed: tuple[dict[str, pd.DataFrame], engine.Assessment],
) -> None:
    told, before = staffed
    sent = told["assignments"]
    row = sent[(sent["event"] == RACE) & (sent["post"] == "Aid station 1")].iloc[0]
    found = whatif.what_if(told, [whatif.Change("absent", member=row["member"], event=RACE)], before=before)
    post = found.verdicts[found.verdicts["subject"] == f"{RACE}/Aid station 1"].iloc[0]
    assert (
        post["before"] in ("ready", "ready with limits") and post["after"] == "not ready" and post["is_worse"]
    )
    assert sent["member"].eq(row["member"]).any(), "the frames themselves are left alone"


def test_a_failed_kit_is_not_ready(staffed: tuple[dict[str, pd.DataFrame], engine.Assessment]) -> None:
    told, before = staffed
    change = whatif.Change("kit_failed", member="QB2HJL", kit="Ready station")
    found = whatif.what_if(told, [change], before=before).verdicts.set_index("subject")
    assert found.loc["QB2HJL/Ready station", "after"] == "not ready"
    assert found.loc["QB2HJL/Ready station", "is_worse"]


def test_hours_duty_and_temperature_reach_the_posts(
    frames: dict[str, pd.DataFrame], assessment: engine.Assessment
) -> None:
    changes = [
        whatif.Change("hours", 24, event=RACE),
        whatif.Change("duty", "busy", event=RACE, post="Mile 1"),
        whatif.Change("coldest", -12, event=RACE),
    ]
    after = engine.assess(whatif.changed(frames, changes), today=TODAY)
    event = after.table("event").set_index("event").loc[RACE]
    assert event["temp_min_c"] == -12 and event["ends"] - event["starts"] == pd.Timedelta(hours=24)
    was, now = (j.table("post").query("event == @RACE").set_index("post") for j in (assessment, after))
    assert now.loc["Mile 1", "duty"] == "busy" and now.loc["Mile 3", "duty"] == was.loc["Mile 3", "duty"]
    assert (now["closes"] - was["closes"] == pd.Timedelta(hours=24 - 7.25)).all()
    hours = [
        j.con.cursor().execute(
            "select sum(date_diff('minute', a.starts, a.ends)) from assignment as a join event using (event_id) "
            "where event = ?", [RACE],
        ).fetchone()
        for j in (assessment, after)
    ]  # fmt: skip
    assert hours[0] is not None and hours[1] is not None and hours[1][0] > 3 * hours[0][0]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (whatif.Change("hours", 5, event="Nowhere"), "Nowhere"),
        (whatif.Change("hours", "long", event=RACE), "not a number"),
        (whatif.Change("hours", 0.5, event=RACE), "before it opens"),
        (whatif.Change("duty", "lazy", event=RACE), "quiet"),
        (whatif.Change("absent", member="QQ0QQQ"), "QQ0QQQ"),
        (whatif.Change("kit_failed", member="QB2HJL"), "no member and kit"),
        (whatif.Change("item_failed", member="QB2HJL", kit="Ready station", item="Piano"), "Piano"),
        (whatif.Change("flood"), "Write one of"),
    ],
)
def test_a_change_that_names_nothing_is_said(
    frames: dict[str, pd.DataFrame], change: whatif.Change, says: str
) -> None:
    with pytest.raises(whatif.ChangeError, match=says):
        whatif.changed(frames, [change])


def test_single_failures_agree_with_judging_the_whole_club_again(
    staffed: tuple[dict[str, pd.DataFrame], engine.Assessment],
) -> None:
    told, before = staffed
    table = whatif.single_failures(told, RACE, today=TODAY)
    assert {"person", "kit", "battery"} <= set(table["what"])
    assert table["is_felt"].any() and not table["is_felt"].all()
    was = verdicts(before, RACE)
    rank = {word: place for place, word in enumerate(engine.VERDICTS)}
    for what in ("person", "kit"):
        for row in table[table["what"] == what].head(2).to_dict("records"):
            member, _, kit = row["name"].partition("/")
            change = (
                whatif.Change("absent", member=member, event=RACE)
                if what == "person"
                else whatif.Change("kit_failed", member=member, kit=kit)
            )
            now = verdicts(whatif.what_if(told, [change], before=before).after, RACE)
            assert set(row["posts_worse"]) == {post for post in was if rank[now[post]] < rank[was[post]]}


def test_staffing_before_and_after(frames: dict[str, pd.DataFrame], assessment: engine.Assessment) -> None:
    """Without everyone who is, or may be, signed off for it, net control has nobody to lead it, with any kit."""
    members = assessment.table("member")
    may_lead = members["roles"].isna() | members["roles"].str.contains("net_control")
    away = [whatif.Change("absent", member=member) for member in members.loc[may_lead, "member"]]
    what = whatif.what_if(frames, away, before=assessment)
    table = whatif.staffings(what, RACE, seconds=60).measures.set_index("objective")
    assert table.loc["critical hours open", "after"] >= table.loc["critical hours open", "before"] + 2 * 7.25


def test_who_falls_away_is_stood_in_for_and_as_many_others_as_may_be_stay(
    frames: dict[str, pd.DataFrame], assessment: engine.Assessment, plans: dict[str, staffing.Plan]
) -> None:
    away = plans[RACE].rows["member"].iloc[0]
    found = whatif.what_if(frames, [whatif.Change("absent", member=away)], before=assessment)
    staffed = whatif.staffings(found, RACE, seconds=60)
    assert staffed.measures.set_index("objective").loc["people moved"].tolist() == [0.0, 1.0]
    assert staffed.moves["stands"].tolist() == ["before", "after"]
    assert staffed.moves["member"].iloc[0] == away and staffed.moves["post"].nunique() == 1


# --- the commands ---


def call(*arguments: str) -> dict[str, Any]:
    result = CliRunner().invoke(app, [*arguments, "--json", "--today", str(TODAY)])
    assert result.exit_code == 0, result.output
    told: dict[str, Any] = json.loads(result.stdout)
    return told


def test_the_commands_give_json(folder: Path) -> None:
    plan = call("staff", str(folder), RACE, "--keep")
    assert plan["is_proven"] and any(row["is_locked"] for row in plan["rows"])
    assert {row["post"] for row in call("posts", str(folder), RACE)["posts"]} >= {"Mile 1", "Net control"}
    assert {row["what"] for row in call("whatif", str(folder), RACE)["failures"]} >= {"person", "kit"}


def test_the_commands_print_tables_and_know_the_events(folder: Path) -> None:
    result = CliRunner().invoke(app, ["staff", str(folder), RACE, "--today", str(TODAY)])
    assert (
        result.exit_code == 0 and "Who goes where?" in result.stdout and "no plan is better" in result.stdout
    )
    wrong = CliRunner().invoke(app, ["posts", str(folder), "Nowhere", "--today", str(TODAY)])
    assert wrong.exit_code == 2 and RACE in wrong.output
