"""Changes tried on copies: without one, they answer as the club does."""

from __future__ import annotations

import pandas as pd
import pytest

from rules import engine
from rules.plans import trials
from rules.rule import Rule, load_rules
from tests import small_club
from tests.small_club import ANTENNA, BATTERY, COAX, EVENT, FUSE, HANDHELD, LEAD, MOBILE


def test_a_trial_without_a_change_answers_as_the_club_does(assessment: engine.Assessment) -> None:
    """Every kit of the invented club with its posts and those sent there, each in its own trial."""
    kits = assessment.table("kit")["kit_id"]
    tried = pd.DataFrame({"trial": range(1, len(kits) + 1), "kit_id": kits})
    answers = trials.judge(assessment, tried, trials.Changes())
    kit_of_item = assessment.table("item").set_index("item_id")["kit_id"]

    sent = assessment.table("assignment").dropna(subset=["kit_id"])[["post_id", "kit_id"]].drop_duplicates()

    def of_posts(open_: pd.DataFrame) -> pd.DataFrame:
        return open_[open_["subject_kind"] == "post"].merge(sent, left_on="a", right_on="post_id")

    def own(open_: pd.DataFrame) -> pd.DataFrame:
        open_ = open_[~open_["subject_kind"].isin(["post", "club"])]
        kinds = open_["subject_kind"]
        of_item = open_["a"].map(kit_of_item)
        return open_.assign(
            kit_id=open_["b"].where(kinds == "post_kit", open_["a"].where(kinds == "kit", of_item))
        )

    columns = [*trials.KEY, "is_not_met"]
    stood = own(trials.standing(assessment).open)[columns]
    found = own(answers.open).merge(tried, on=["trial", "kit_id"])[columns]
    assert len(stood) > 500
    there = of_posts(trials.standing(assessment).open)
    seen = of_posts(answers.open).merge(tried, on=["trial", "kit_id"])
    assert len(there) and set(there["rule_no"]) <= set(trials.mended(assessment))
    of_post = ["kit_id", *columns]
    pd.testing.assert_frame_equal(
        there.sort_values(of_post, ignore_index=True)[of_post],
        seen.sort_values(of_post, ignore_index=True)[of_post],
        check_dtype=False,
    )
    pd.testing.assert_frame_equal(
        stood.sort_values(columns, ignore_index=True),
        found.sort_values(columns, ignore_index=True),
        check_dtype=False,
    )
    others = trials.standing(assessment).open.query("subject_kind == 'post_kit'")
    others = (
        others.drop(columns="trial").merge(sent, left_on="a", right_on="post_id").merge(tried, on="kit_id")
    )
    seen = answers.open.query("subject_kind == 'post_kit'")
    assert (seen["b"] != seen["trial"].map(tried.set_index("trial")["kit_id"])).any()
    pd.testing.assert_frame_equal(
        others.sort_values(["trial", *columns], ignore_index=True)[["trial", *columns]],
        seen.sort_values(["trial", *columns], ignore_index=True)[["trial", *columns]],
        check_dtype=False,
    )
    before = trials.standing(assessment).verdicts.set_index(["subject_kind", "a"])["verdict"].to_dict()
    told = answers.verdicts.merge(tried, on="trial")
    told = told[(told["subject_kind"] == "post") | (told["a"] == told["kit_id"])]
    assert {"post", "kit"} == set(told["subject_kind"])
    for row in told.to_dict("records"):
        assert row["verdict"] == before[row["subject_kind"], row["a"]]


def test_a_rule_of_the_club_s_own_may_ask_where_else_a_kit_is() -> None:
    """Two kits at a post, each in its own trial; who is there with them is not told to be at two posts at once."""
    rule = Rule(
        "sent_twice", "coverage", "Kit sent twice", "post_kit", "limits", "w", "n", "f", "s",
        "select post_kit_id as subject, (select count(*) from assignment as a where a.kit_id = pk.kit_id) = 1 as ok from post_kit as pk",
    )  # fmt: skip
    assessment = engine.assess(
        {
            "inventory": small_club.frame(
                "inventory",
                [row for m in ("QA1BC", "QB2CD", "QC3DE") for row in small_club.kit(m, "Bag", HANDHELD)],
            ),
            "events": small_club.frame("events", [EVENT]),
            "posts": small_club.frame("posts", [{"event": "Ride", "post": "Ford"}]),
            "assignments": small_club.frame(
                "assignments",
                [
                    {"event": "Ride", "post": "Ford", "member": m, "kit": "Bag"}
                    for m in ("QA1BC", "QB2CD", "QC3DE")
                ],
            ),
        },
        today=small_club.TODAY,
        rules=(rule,),
    )
    tried = pd.DataFrame({"trial": [1, 2, 3], "kit_id": [1, 2, 3]})
    assert trials.standing(assessment).open.empty
    assert trials.judge(assessment, tried, trials.Changes()).open.empty


def test_a_trial_knows_what_is_on_loan() -> None:
    away = {"item": "club radio 1", "borrower": "QC3DE", "out": pd.Timestamp("2027-02-01")}
    rows = {
        "inventory": small_club.kit("QA1BC", "Bag", HANDHELD | {"item": "Club radio 1", "owner": "club"}),
        "events": [EVENT],
        "posts": [{"event": "Ride", "post": "Ford"}],
        "assignments": [{"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Bag"}],
        "loans": [away | {"due": pd.Timestamp("2029-02-01")}],
    }
    assessment = engine.assess(
        {stem: small_club.frame(stem, told) for stem, told in rows.items()},
        today=small_club.TODAY,
        rules=tuple(rule for rule in load_rules() if rule.name == "gear_on_loan_elsewhere"),
    )
    answers = trials.judge(assessment, pd.DataFrame({"trial": [1], "kit_id": [1]}), trials.Changes())
    assert answers.not_met() == trials.standing(assessment).not_met() != set()


def test_a_trial_knows_that_a_kit_beside_goes_on_to_another_post() -> None:
    """Two kits at a post; who brings the one that lasts longer lends it to another event on the same charge."""
    late = EVENT["ends"] + pd.Timedelta(hours=1)
    place = {"duty": "busy", "mains": False}
    sent = (
        ("Ride", "Ford", "QA1BC", None),
        ("Ride", "Ford", "QB2CD", None),
        ("Walk", "Mill", "QC3DE", "QB2CD"),
    )
    rows = {
        "inventory": [
            row
            for member, ah in (("QA1BC", 8.0), ("QB2CD", 16.0))
            for row in small_club.kit(
                member, "Bag", MOBILE, BATTERY | {"capacity_ah": ah, "amps_rated": 40.0}, LEAD | {"amps_rated": 30.0}, FUSE, COAX, ANTENNA
            )
        ],
        "events": [
            EVENT | {"temp_min_c": 10.0},
            {"event": "Walk", "temp_min_c": 10.0, "starts": late, "ends": late + pd.Timedelta(hours=9)},
        ],
        "posts": [place | {"event": "Ride", "post": "Ford"}, place | {"event": "Walk", "post": "Mill"}],
        "assignments": [
            {"event": event, "post": post, "member": member, "kit": "Bag", "kit_owner": owner}
            for event, post, member, owner in sent
        ],
    }  # fmt: skip
    assessment = engine.assess(
        {stem: small_club.frame(stem, told) for stem, told in rows.items()},
        today=small_club.TODAY,
        rules=tuple(rule for rule in load_rules() if rule.name == "runs_out_before_the_shift_ends"),
    )
    answers = trials.judge(assessment, pd.DataFrame({"trial": [1], "kit_id": [1]}), trials.Changes())
    beside = {key for key in trials.standing(assessment).not_met() if key[2] == 1}
    assert answers.not_met() == beside != set()


def test_a_kit_that_comes_back_to_its_post_is_there_twice_in_a_trial_and_not_once_for_each_trial() -> None:
    """Two trials at a post that a third kit holds early and late: in between it rests less than a night."""
    opens, noon = EVENT["starts"], EVENT["starts"] + pd.Timedelta(hours=4)
    three = ("QA1BC", "QB2CD", "QC3DE")
    hours = [("QA1BC", opens, None), ("QB2CD", opens, None), ("QC3DE", opens, noon), ("QC3DE", noon, None)]
    things = (MOBILE, BATTERY | {"capacity_ah": 8.0, "amps_rated": 40.0}, LEAD, FUSE, COAX, ANTENNA)
    rows = {
        "inventory": [row for member in three for row in small_club.kit(member, "Bag", *things)],
        "events": [EVENT | {"temp_min_c": 10.0}],
        "posts": [{"event": "Ride", "post": "Ford", "duty": "busy", "mains": False}],
        "assignments": [
            {"event": "Ride", "post": "Ford", "member": member, "kit": "Bag", "from": comes, "to": goes}
            for member, comes, goes in hours
        ],
    }
    assessment = engine.assess(
        {stem: small_club.frame(stem, told) for stem, told in rows.items()},
        today=small_club.TODAY,
        rules=tuple(rule for rule in load_rules() if rule.name == "no_way_to_recharge"),
    )
    tried = pd.DataFrame({"trial": [1, 2], "kit_id": [1, 2]})
    assert trials.standing(assessment).open.empty
    assert trials.judge(assessment, tried, trials.Changes()).open.empty


@pytest.mark.parametrize(("public_m", "closed"), [(2.5, 2), (3.5, 0)])
def test_a_trial_counts_what_is_on_the_air_beside_its_post_once(public_m: float, closed: int) -> None:
    """Two posts on a site, each with 50 W, which alone asks for 2.1 m, together 2.9; three of them would ask for 3.6."""
    place = {"event": "Ride", "site": "Mill", "bands": "2m", "modes": "fm", "public_m": public_m}
    assessment = engine.assess(
        {
            stem: small_club.frame(stem, told)
            for stem, told in {
                "inventory": [
                    row
                    for member in ("QA1BC", "QB2CD")
                    for row in small_club.kit(
                        member, "Bag", MOBILE, BATTERY, LEAD, COAX, ANTENNA | {"gain_dbi": 2.2}
                    )
                ],
                "events": [EVENT | {"public": True}],
                "posts": [place | {"post": "Ford"}, place | {"post": "Bank"}],
                "assignments": [
                    {"event": "Ride", "post": post, "member": member, "kit": "Bag"}
                    for post, member in (("Ford", "QA1BC"), ("Bank", "QB2CD"))
                ],
            }.items()
        },
        today=small_club.TODAY,
        rules=tuple(rule for rule in load_rules() if rule.name == "too_close_to_the_public"),
    )
    answers = trials.judge(assessment, pd.DataFrame({"trial": [1, 2], "kit_id": [1, 2]}), trials.Changes())
    assert (len(trials.standing(assessment).not_met()), len(answers.not_met())) == (closed, closed)


def test_of_kits_that_are_alike_the_same_comes_first_in_a_trial() -> None:
    """Which of two equal kits a post hangs on: its number decided, and a copy has another."""
    things = (MOBILE, BATTERY | {"capacity_ah": 5.0}, LEAD, FUSE, COAX, ANTENNA)
    members = ("QA1BC", "QB2DE", "QC3FG")
    club = small_club.assess(
        inventory=[row for member in members for row in small_club.kit(member, "Bag", *things)],
        events=[EVENT],
        posts=[{"event": "Ride", "post": "Ford", "duty": "busy", "mains": False}],
        assignments=[{"event": "Ride", "post": "Ford", "member": member, "kit": "Bag"} for member in members],
    )
    short = [rule.name for rule in club.rules].index("runs_out_before_the_shift_ends")

    def of_rule(answers: trials.Answers) -> pd.DataFrame:
        return answers.open[answers.open["rule_no"] == short]

    stood = of_rule(trials.standing(club))["b"].tolist()
    assert len(stood) == 1
    kits = club.table("kit")["kit_id"]
    tried = pd.DataFrame({"trial": range(1, len(kits) + 1), "kit_id": kits})
    found = of_rule(trials.judge(club, tried, trials.Changes()))
    assert dict(zip(found["trial"], found["b"], strict=True)) == dict.fromkeys(tried["trial"], stood[0])
