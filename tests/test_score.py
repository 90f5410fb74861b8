"""The asks of a member and what a change would do agree with judging the changed club again."""

from pathlib import Path

import pandas as pd
import pytest

from rules import engine, facts, score, verdicts
from rules.policy import Policy
from rules.rule import Rule
from tests import small_club
from tests.small_club import ANTENNA, BATTERY, COAX, LEAD, MOBILE, TODAY


def test_at_most_three_asks_of_different_rules(assessment: engine.Assessment) -> None:
    for member in assessment.table("member")["member"]:
        steps = score.next_steps(assessment, member)
        assert len(steps) <= 3
        assert len({step.rule for step in steps}) == len(steps)
        assert all(step.fix for step in steps)


def test_what_blocks_is_asked_first(assessment: engine.Assessment) -> None:
    scores = assessment.scores()
    kits = scores[(scores["subject_kind"] == "kit") & (scores["verdict"] == "not ready")]
    assert len(kits)
    for member in kits["member"].unique():
        assert score.next_steps(assessment, member)[0].severity == "blocks"


def test_the_kit_that_is_sent_to_a_post_is_asked_about_before_one_that_stays_at_home() -> None:
    home = small_club.kit("QA1BC", "a home", small_club.HANDHELD)
    sent = small_club.kit("QA1BC", "b sent", small_club.HANDHELD, small_club.PACK)
    where = {"event": "Ride", "post": "Ford"}
    post = {
        **where,
        "post_type": "aid_station",
        "opens": small_club.EVENT["starts"],
        "closes": small_club.EVENT["ends"],
    }
    assignment = {**where, "member": "QA1BC", "kit": "b sent"}
    files = {"inventory": home + sent, "events": [small_club.EVENT], "posts": [post]}
    kits = {
        name: {
            step.kit
            for step in score.next_steps(small_club.assess(**files, **rest), "QA1BC", count=20)
            if step.rule == "no_complete_station"
        }
        for name, rest in {"free": {}, "sent": {"assignments": [assignment]}}.items()
    }
    assert kits == {"free": {"a home"}, "sent": {"b sent"}}


def test_what_only_the_coordinator_can_mend_is_asked_of_no_member() -> None:
    """Sent to two places at once, and to one that is colder than the member bears; a limit that is not told is asked for."""
    sent = {"event": "Ride", "member": "QA1BC"}
    told = small_club.assess(
        members=[{"member": "QA1BC", "cold_limit_c": 5.0}],
        events=[small_club.EVENT | {"temp_min_c": 0.0, "temp_max_c": 40.0}],
        posts=[{"event": "Ride", "post": post} for post in ("Ford", "Mill")],
        assignments=[sent | {"post": post} for post in ("Ford", "Mill")],
    )
    found = {(one.rule, one.status) for one in told.findings("s.member = 'QA1BC'")}
    theirs = {("in_two_places_at_once", "not met"), ("too_cold_for_the_member", "not met")}
    assert theirs <= found and ("close_to_two_limits", "not known") in found
    steps = {(one.rule, one.status) for one in score.next_steps(told, "QA1BC", count=50)}
    assert not steps & theirs and ("close_to_two_limits", "not known") in steps


@pytest.mark.parametrize("kind", ["kit", "member", "post", "event"])
def test_the_verdict_before_any_change_is_the_scored_one(assessment: engine.Assessment, kind: str) -> None:
    scores = assessment.scores()
    for row in scores[scores["subject_kind"] == kind].head(25).itertuples():
        assert score.verdict(score.answers(assessment, kind, row.subject)) == row.verdict, row.subject


def test_points_promised_are_points_gained(
    frames: dict[str, pd.DataFrame], assessment: engine.Assessment
) -> None:
    """Writing down every charge date moves the low end of the score by what `changes` says."""
    before = assessment.scores().query("subject_kind == 'kit'").set_index("subject")
    kit = next(
        subject
        for subject in before.index
        if "left_twice_too_long" in set(score.changes(assessment, "kit", subject)["rule"])
    )
    promised = score.changes(assessment, "kit", kit).set_index("rule").loc["left_twice_too_long"]
    inventory = frames["inventory"].copy()
    inventory["charged"] = pd.Timestamp(TODAY)
    inventory["charged"] = inventory["charged"].astype(frames["inventory"]["charged"].dtype)
    others = {"short_of_its_own_hours", "not_charged_lately"}  # they ask for the date as well
    rules = tuple(rule for rule in assessment.rules if rule.name not in others)
    base = engine.assess(frames, today=TODAY, rules=rules).scores().set_index("subject").loc[kit]
    after = (
        engine.assess({**frames, "inventory": inventory}, today=TODAY, rules=rules)
        .scores()
        .set_index("subject")
        .loc[kit]
    )
    assert after["low"] > base["low"]
    assert promised["low_points"] == pytest.approx(after["low"] - base["low"], abs=1.5)


def test_an_answer_can_be_worse_than_its_question_and_the_readme_says_so() -> None:
    """A fuse that nobody measured limits; told to sit metres away it blocks, below the low end."""
    fuse = {"kind": "fuse_holder", "amps_rated": 30.0}
    things = (MOBILE, BATTERY, LEAD, ANTENNA, COAX)
    open_, told = (
        small_club.assess(inventory=small_club.kit("QA1BC", "Go box", *things, fuse | {"fuse_at_m": far}))
        for far in (None, 3.0)
    )
    found = score.unknowns(open_, "kit", "QA1BC/Go box", count=100).set_index("rule")
    assert found.loc["fuse_far_from_the_battery", "severity"] == "limits"
    assert "metres_of_wire_without_a_fuse" not in found.index
    blocked = score.changes(told, "kit", "QA1BC/Go box").set_index("rule")
    assert blocked.loc["metres_of_wire_without_a_fuse", "severity"] == "blocks"
    low, below = (club.scores().set_index("subject").loc["QA1BC/Go box", "low"] for club in (open_, told))
    assert below < low
    readme = (Path(__file__).parents[1] / "README.md").read_text("utf-8")
    assert "asked as what limits, and told to be metres it blocks" in readme


def test_mending_what_blocks_changes_the_verdict(assessment: engine.Assessment) -> None:
    scores = assessment.scores()
    blocked = scores[(scores["subject_kind"] == "kit") & (scores["verdict"] == "not ready")]["subject"].iloc[
        0
    ]
    table = score.changes(assessment, "kit", blocked)
    assert set(table["severity"]) <= set(verdicts.SEVERITIES)
    assert (table["low_points"] >= table["high_points"]).all()


def test_what_is_worth_asking_first_moves_the_verdict_most(assessment: engine.Assessment) -> None:
    """Each unknown is weighed alone: found in order, and found not; what it spans narrows the range of the score."""
    scores = assessment.scores()
    spans = 0
    for row in scores[scores["subject_kind"] == "kit"].itertuples():
        given = score.answers(assessment, "kit", row.subject)
        told = score.unknowns(assessment, "kit", row.subject, count=100)
        assert set(told["rule"]) == {assessment.rules[a.rule_no].name for a in given if a.ok is None}
        assert told["points"].sum() == pytest.approx(row.high - row.low, abs=0.1 * (len(told) + 1))
        if told.empty:
            continue
        moved = [
            verdicts.VERDICTS.index(one.verdict_if_met) - verdicts.VERDICTS.index(one.verdict_if_not)
            for one in told.itertuples()
        ]
        assert moved == sorted(moved, reverse=True) and min(moved) >= 0
        spans += moved[0] > 0
        first = told.iloc[0]
        for ok, verdict in ((True, first["verdict_if_met"]), (False, first["verdict_if_not"])):
            found = [
                a._replace(ok=ok) if a.ok is None and assessment.rules[a.rule_no].name == first["rule"] else a
                for a in given
            ]
            assert score.verdict(found) == verdict
        assert score.unknowns(assessment, "kit", row.subject)["rule"].tolist() == told["rule"].tolist()[:5]
    assert spans > 3


def test_ranges_are_the_weights_of_the_answers(assessment: engine.Assessment) -> None:
    """Of everything that is met, and of what is met or not known; the club: of its own answers and all its members'."""
    weight = [assessment.policy.weight[word] for word in verdicts.SEVERITIES]
    scores = assessment.scores()
    given = {
        (row.subject_kind, row.subject): score.answers(assessment, row.subject_kind, row.subject)
        for row in scores[~scores["subject_kind"].isin(["club"])]
        .groupby("subject_kind")
        .head(40)
        .itertuples()
    }
    members = scores[scores["subject_kind"] == "member"]["subject"]
    given["club", "club"] = score.answers(assessment, "club", "club") + [
        answer for member in members for answer in score.answers(assessment, "member", member)
    ]
    for row in scores[
        [key in given for key in zip(scores["subject_kind"], scores["subject"], strict=True)]
    ].itertuples():
        answers = given[row.subject_kind, row.subject]
        whole = sum(weight[answer.severity_no] for answer in answers)
        met = sum(weight[answer.severity_no] for answer in answers if answer.ok)
        unknown = sum(weight[answer.severity_no] for answer in answers if answer.ok is None)
        assert row.low == pytest.approx(100 * met / whole if whole else 100, abs=0.0501), row.subject
        assert row.high == pytest.approx(100 * (met + unknown) / whole if whole else 100, abs=0.0501), (
            row.subject
        )


@pytest.mark.parametrize(("severity", "verdict"), [("blocks", "not ready"), ("advice", "ready")])
def test_numbers_with_gaps_and_answers_on_what_is_not_there(severity: str, verdict: str) -> None:
    """As in copies of a club, and as a club's own rule may answer."""
    with facts.blank() as con:
        con.execute("insert into member (member_id, member) values (7, 'QA1BC')")
        con.execute("insert into kit (kit_id, member_id, kit) values (5, 7, 'Bag'), (9, 7, 'Box')")
        con.execute("insert into item (item_id, kit_id) values (3, 5), (2000000000, 9)")
        con.execute("insert into post (post_id, post) values (1, 'Gate')")
        con.execute("insert into assignment (post_id, member_id, kit_id) values (1, 8, 99)")
        sql = "select unnest([2, 3, 4, 2000000000, null]) as subject, subject = 3 as ok"
        told = dict.fromkeys(("title", "why", "not_met", "fix", "source"), "x")
        rule = Rule("odd", "packing", subject="item", severity=severity, sql=sql, **told)
        found = engine.judge_all(con, (rule,), Policy.standard(), TODAY)
        rows = found.con.execute("from score order by all").fetchall()
    assert rows == [
        ("item", 3, "ready", 100, 100),
        ("item", 2000000000, verdict, 0, 0),
        ("kit", 5, "ready", 100, 100),
        ("kit", 9, verdict, 0, 0),
        ("member", 7, "ready", 50, 50),
        ("post", 1, "ready", 100, 100),
        ("club", 0, "ready", 50, 50),
    ]


@pytest.mark.parametrize(("severity", "verdict"), [("blocks", "not ready"), ("limits", "not known")])
def test_a_member_of_whom_no_kit_is_told_is_never_ready(severity: str, verdict: str) -> None:
    """Nobody knows what they can bring, whatever is said of them, who may be sent with another's kit."""
    with facts.blank() as con:
        con.execute("insert into member (member_id, member) values (1, 'QA1BC'), (2, 'QB2CD'), (3, 'QC3DE')")
        con.execute("insert into kit (kit_id, member_id, kit) values (5, 2, 'Bag')")
        con.execute("insert into post (post_id, post) values (1, 'Gate')")
        con.execute("insert into assignment (post_id, member_id, kit_id) values (1, 1, 5)")
        told = dict.fromkeys(("title", "why", "not_met", "fix", "source"), "x")
        sql = "select unnest([1, 2]) as subject, subject = 2 as ok"
        rule = Rule("late", "operator", subject="member", severity=severity, sql=sql, **told)
        found = engine.judge_all(con, (rule,), Policy.standard(), TODAY)
        rows = found.con.execute("from score where subject_kind = 'member' order by all").fetchall()
    assert rows == [
        ("member", 1, verdict, 0, 100),
        ("member", 2, "ready", 100, 100),
        ("member", 3, "not known", 0, 100),
    ]


def test_kinds_of_subjects_are_numbered_as_they_are_stored(assessment: engine.Assessment) -> None:
    assert assessment.con.cursor().execute("select enum_range(null::subject_word)").fetchall() == [
        (list(verdicts.SUBJECTS),)
    ]


def test_a_verdict_is_numbered_as_it_is_shown() -> None:
    with facts.blank() as con:
        con.execute("insert into scored select 0, number, number, 0, 0 from range(4) as r(number)")
        shown = con.execute("select verdict from score order by subject_id").fetchall()
    assert [word for (word,) in shown] == list(verdicts.VERDICTS)


def test_what_is_said_of_a_person_today_bears_on_no_post_that_is_over() -> None:
    """A licence that ended since is told of the member; the post was held with one that was good that day."""

    def verdicts(first: str, last: str) -> tuple[str, bool]:
        when = {"starts": pd.Timestamp(f"{first} 06:00"), "ends": pd.Timestamp(f"{last} 12:00")}
        told = small_club.assess(
            members=[
                {"member": "QA1BC", "licence_class": "general", "licence_expires": pd.Timestamp("2027-02-20")}
            ],
            events=[{"event": "Ride", **when}],
            posts=[{"event": "Ride", "post": "Ford"}],
            assignments=[{"event": "Ride", "post": "Ford", "member": "QA1BC"}],
        )
        told_of = {one.subject_kind: one.status for one in told.findings() if one.rule.startswith("licence_")}
        over = told.con.execute(
            "select count(*) from bearing where subject_kind = 'post' and from_kind = 'member'"
        ).fetchall()
        assert told_of["member"] == "not met"
        return str(told_of.get("post", "met")), over == [(1,)]

    assert verdicts("2027-01-14", "2027-01-14") == ("met", False)
    assert verdicts("2027-04-14", "2027-04-14") == ("not met", True)
    assert verdicts("2027-02-28", "2027-03-01") == ("not met", True), "it ends on the day of the review"
