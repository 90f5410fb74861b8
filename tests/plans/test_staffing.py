"""Plans of who goes where, in agreement with the rules that judge them; and what stays open."""

from __future__ import annotations

import itertools
import json
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from rules import engine
from rules.plans import posts, staffing
from tests import small_club
from tests.command_line import called
from tests.conftest import RACE, TRAIL
from tests.plans.club_of_two import HEAD, judged, of_two
from tests.small_club import EVENT, TODAY

COVERAGE = (
    "hours_without_anyone",
    "fewer_people_than_planned",
    "net_control_alone",
    "alone_at_a_remote_post",
)


@pytest.fixture(params=["race_plan", "trail_plan"])
def plan(request: pytest.FixtureRequest) -> staffing.Plan:
    """Each of two events of the invented club, planned."""
    found: staffing.Plan = request.getfixturevalue(request.param)
    return found


@pytest.fixture(scope="module")
def alone(
    race_plan: staffing.Plan,
    trail_plan: staffing.Plan,
    frames: dict[str, pd.DataFrame],
    assessment: engine.Assessment,
) -> engine.Assessment:
    """The club judged with the plans of two events, months apart, to be read only. Of all others nothing is told, for who
    is sent to two places there is blocked here too."""
    told = {**frames, "assignments": frames["assignments"].iloc[:0]}
    return staffing.rescore(trail_plan, staffing.apply(race_plan, told), assessment)


def unmet(judged: engine.Assessment, rules: tuple[str, ...], event: str) -> set[str | None]:
    """Posts (or members) of an event that do not meet one of the rules."""
    found = [f for f in judged.findings() if f.rule in rules and f.status == "not met"]
    return {f.post if f.post else f.member for f in found if f.event in (event, None)}


def blocked_rows(assessment: engine.Assessment, event: str) -> set[tuple[str, str | None]]:
    """Rules that block somebody, or their kit, at a post of an event that they are sent to, with the member."""
    found = assessment.findings("j.subject_kind = 'post_kit' and j.severity_no = 0 and not j.ok")
    return {(finding.rule, finding.member) for finding in found if finding.event == event}


EXERCISE = "High Sluice Exercise"


@pytest.fixture(scope="module")
def planned(
    race_plan: staffing.Plan, trail_plan: staffing.Plan, assessment: engine.Assessment
) -> dict[str, staffing.Plan]:
    """Three events of the invented club, months apart, planned."""
    exercise = staffing.staff(assessment, EXERCISE, seconds=300)
    return {plan.event: plan for plan in (race_plan, trail_plan, exercise)}


@pytest.fixture(scope="module")
def put_in(
    planned: dict[str, staffing.Plan], frames: dict[str, pd.DataFrame], assessment: engine.Assessment
) -> engine.Assessment:
    """The whole club judged with all three plans put in, to be read only."""
    told = staffing.apply(planned[TRAIL], staffing.apply(planned[RACE], frames))
    return staffing.rescore(planned[EXERCISE], told, assessment)


@pytest.mark.parametrize("event", [RACE, TRAIL, EXERCISE])
def test_every_post_that_is_not_ready_is_said(
    event: str, planned: dict[str, staffing.Plan], put_in: engine.Assessment
) -> None:
    """Nobody is blocked at their post, and nothing is kept quiet."""
    plan, scores = planned[event], put_in.scores()
    posts = scores[(scores["subject_kind"] == "post") & (scores["event"] == event)]
    said = {*plan.uncovered["post"], *plan.blocked["post"]}
    assert set(posts.loc[posts["verdict"] == "not ready", "post"]) == said
    asked = {*plan.asks["post"]} | said
    assert set(posts.loc[posts["verdict"] == "not known", "post"]) <= asked
    assert blocked_rows(put_in, event) == set()
    assert plan.blocked[["why", "fix"]].notna().all(axis=None)


def test_the_judged_gaps_are_those_that_the_plan_tells(plan: staffing.Plan, alone: engine.Assessment) -> None:
    assert plan.is_proven
    assert unmet(alone, COVERAGE, plan.event) == set(plan.uncovered["post"])
    assert unmet(alone, ("shift_over_twelve_hours", "no_reserve_station"), plan.event) == set()
    torn = ("in_two_places_at_once", "no_time_to_travel", "kit_promised_twice", "no_time_to_move_the_kit")
    assert unmet(alone, torn, plan.event) == set()
    hours = plan.uncovered["to"] - plan.uncovered["from"]
    person_h = (hours.dt.total_seconds() / 3600 * plan.uncovered["people_short"]).sum()
    assert person_h == pytest.approx(plan.values["hours open"])


def test_no_leading_kit_of_a_plan_is_judged_to_fail(plan: staffing.Plan, alone: engine.Assessment) -> None:
    answers = posts.post_by_kit(alone, plan.event)
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
    own = assessment.con.cursor().execute(
        'select post.post, member.member, kit.kit, a.starts as "from", a.ends as "to" from assignment as a '
        "join post using (post_id) join member on member.member_id = a.member_id join kit on kit.kit_id = a.kit_id "
        "where post.event = ? order by a.assignment_id limit 5", [EXERCISE],
    ).df()  # fmt: skip
    plan = staffing.staff(assessment, EXERCISE, locked=own, seconds=300)
    kept = plan.rows[plan.rows["is_locked"]][["post", "member", "kit", "from", "to"]]
    both = kept.merge(own, on=["post", "member", "kit", "from", "to"])
    assert len(kept) == len(both) == len(own)
    others = plan.rows[~plan.rows["is_locked"]]
    for row in own.to_dict("records"):
        clash = others[
            (others["member"] == row["member"]) & (others["from"] < row["to"]) & (others["to"] > row["from"])
        ]
        assert clash.empty


def test_who_is_locked_at_one_post_is_planned_at_no_other_meanwhile() -> None:
    told = "member,licence_class,licence_expires,roles,available\nQA1AA,general,2030-01-01,field net_control,yes\n"
    club = judged(of_two(told))
    free = staffing.staff(club, "Walk")
    assert "Base" in set(free.rows["post"])
    locked = pd.DataFrame([{"post": "Ford", "member": "QA1AA", "kit": None}])
    assert set(staffing.staff(club, "Walk", locked=locked).rows["post"]) == {"Ford"}


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
    assert len(table) == assessment.table("post_kit")["kit_id"].notna().sum()
    assert set(table["answer"]) == set(posts.ANSWERS)
    assert (table["reasons"].str.len().eq(0) == table["answer"].eq("can")).all()
    row = table[table["answer"] == "cannot"].iloc[0]
    said = posts.why(assessment, row["event"], row["post"], row["member"], row["kit"])
    assert len(said) >= len(row["reasons"]) and all(said)


def test_a_kit_that_is_sent_elsewhere_in_the_hours_of_a_post_is_said_to_be() -> None:
    """Itself, or by whoever else brings it; not by the hours of a place where clocks go otherwise, nor after its time."""
    late = {"opens": EVENT["starts"] + pd.Timedelta(hours=3), "closes": EVENT["ends"]}
    sent = {"event": "Ride", "post": "Ford", "to": EVENT["starts"] + pd.Timedelta(hours=3)}
    told = small_club.assess(
        inventory=[
            row for member, bag in (("QA1BC", "Box"), ("QA1BC", "Bag"), ("QB2CD", "Sack"), ("QC3DE", "Free"))
            for row in small_club.kit(member, bag, small_club.HANDHELD)
        ],
        events=[EVENT | {"utc_offset_h": 0.0}, EVENT | {"event": "Walk", "utc_offset_h": 10.0}],
        posts=[
            {"event": "Ride", "post": "Ford"}, {"event": "Ride", "post": "Mill"}, {"event": "Ride", "post": "Late", **late},
            {"event": "Walk", "post": "Hut"},
        ],
        assignments=[
            sent | {"member": "QA1BC", "kit": "Box"}, sent | {"member": "QA1BC", "kit": "Sack", "kit_owner": "QB2CD"},
        ],
    )  # fmt: skip
    told = posts.post_by_kit(told).dropna(subset="sent_to")
    found = set(told[["event", "post", "kit", "sent_to"]].itertuples(index=False, name=None))
    assert found == {("Ride", "Mill", kit, "Ride/Ford") for kit in ("Box", "Bag", "Sack")}


def test_what_is_not_known_is_not_told_as_what_stands_in_the_way(assessment: engine.Assessment) -> None:
    table = posts.post_by_kit(assessment)
    is_asked = table["reasons"].map(lambda reasons: [said.endswith(" (not known)") for said in reasons])
    assert is_asked[table["answer"] == "not known"].map(lambda asked: asked[0]).all()
    assert not is_asked[table["answer"] == "cannot"].map(lambda asked: asked[0]).any()
    assert is_asked[table["answer"] == "cannot"].map(any).any()
    assert not is_asked[table["answer"] == "with limits"].map(any).any()


def test_an_unknown_event_is_said(assessment: engine.Assessment) -> None:
    with pytest.raises(staffing.NoSuchEventError, match="Barley Ford"):
        staffing.staff(assessment, "Barley")


def test_an_event_that_nobody_can_hold_is_explained() -> None:
    told = of_two(HEAD + "QA1AA,general,field,no\n")
    plan = staffing.staff(judged(told), "Walk")
    assert plan.rows.empty and plan.reserve.empty and plan.is_proven
    assert set(plan.uncovered["post"]) == {"Base", "Ford"}
    assert plan.uncovered["change"].str.contains("one more person").all()


def test_a_seat_that_rests_on_an_unknown_names_the_answer_to_ask_for() -> None:
    told = of_two(
        "member,licence_class,licence_expires,roles,available\nQA1AA,general,2030-01-01,field,yes\n"
    )
    known = staffing.staff(judged(told), "Walk")
    open_ = staffing.staff(judged(of_two(HEAD + "QA1AA,general,field,yes\n")), "Walk")
    assert not known.asks["ask"].str.contains("licence runs out").any()
    held = open_.rows[open_.rows["answer"] == "not known"]
    seats = open_.asks.dropna(subset="member")  # the others are of posts as a whole
    assert len(held) and len(seats) == len(held)
    assert seats["member"].tolist() == ["QA1AA"]
    assert "licence runs out" in seats["ask"].iloc[0]


def test_net_control_is_doubled_and_the_change_named_fills_the_seat() -> None:
    before = of_two(HEAD + "QA1AA,general,field,yes\nQB2BB,general,field,yes\n")
    plan = staffing.staff(judged(before), "Walk")
    base = plan.uncovered.set_index("post")
    assert "Base" in base.index and base.loc["Base", "people_short"] == 2
    assert "QA1AA is not signed off for net control" in base.loc["Base", "change"]
    assert "leave Ford open" in base.loc["Base", "change"]
    assert base.loc["Base", "is_critical"]
    after = of_two(
        "member,licence_class,licence_expires,roles,available\n"
        "QA1AA,general,2030-01-01,field net_control,yes\nQB2BB,general,2030-01-01,field,yes\n"
    )
    filled = staffing.staff(judged(after), "Walk")
    assert "Base" not in set(filled.uncovered["post"])
    assert len(filled.rows[filled.rows["post"] == "Base"]) == 2
    second: dict[str, Any] = (
        filled.rows[(filled.rows["post"] == "Base") & ~filled.rows["leads"]].iloc[0].to_dict()
    )
    assert second["answer"] == "with limits"


def told_as_json(*arguments: object) -> dict[str, Any]:
    result = called(*arguments, "--json", "--today", TODAY)
    assert result.exit_code == 0, result.output
    told: dict[str, Any] = json.loads(result.stdout)
    return told


@pytest.mark.usefixtures("judged_once")
def test_the_commands_give_json(folder: Path) -> None:
    plan = told_as_json("staff", folder, RACE, "--keep")
    assert plan["is_proven"] and any(row["is_locked"] for row in plan["rows"])
    assert {row["post"] for row in told_as_json("posts", folder, RACE)["posts"]} >= {"Mile 1", "Net control"}
    assert {row["what"] for row in told_as_json("whatif", folder, RACE)["failures"]} >= {"person", "kit"}


@pytest.mark.usefixtures("judged_once")
def test_the_commands_print_tables_and_know_the_events(folder: Path) -> None:
    result = called("staff", folder, RACE, "--today", TODAY)
    assert (
        result.exit_code == 0 and "Who goes where?" in result.stdout and "no plan is better" in result.stdout
    )
    wrong = called("posts", folder, "Nowhere", "--today", TODAY)
    assert wrong.exit_code == 2 and RACE in wrong.output
