"""A staffing plan keeps its word: who it sends is not blocked, and what blocks a post all the same it says."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from rules import engine
from rules.plans import staffing
from tests.plans.club_of_two import judged, of_two
from tests.small_club import Club, frame, kit

HEAD = (
    "member,licence_class,licence_expires,roles,available,vetting_expires,id_expires,training,training_expires,"
    "walk_limit_km,cold_limit_c\n"
)
SOUND = {
    "licence_expires": "2030-01-01", "vetting_expires": "2030-01-01", "id_expires": "2030-01-01",
    "training": "is100 is200", "walk_limit_km": "20", "cold_limit_c": "-30",
}  # fmt: skip


def person(member: str, **told: str) -> str:
    """A row of members.csv of somebody who has all that is asked, but for what is told otherwise."""
    has = SOUND | told
    return (
        f"{member},general,{has['licence_expires']},field,yes,{has['vetting_expires']},{has['id_expires']},"
        f"{has['training']},2030-01-01,{has['walk_limit_km']},{has['cold_limit_c']}\n"
    )


def two_at_ford(event: dict[str, Any], post: dict[str, Any], others: str = "") -> dict[str, pd.DataFrame]:
    """A post for two, one with a kit and one beside them; others are there too."""
    frames = of_two(HEAD + person("QA1AA") + person("QB2BB") + others)
    walk = {
        "event": "Walk",
        "starts": pd.Timestamp("2027-04-25 08:00"),
        "ends": pd.Timestamp("2027-04-25 13:00"),
    }
    frames["events"] = frame("events", [walk | event])
    ford = {"event": "Walk", "post": "Ford", "post_type": "aid_station", "operators": 2}
    frames["posts"] = frame("posts", [ford | post])
    return frames


SHORT_OF: dict[str, tuple[str, dict[str, str]]] = {
    "licence_runs_out": ("QC1CC", {"licence_expires": "2027-04-20"}),
    "credentials_short_of_the_event": ("QC2CC", {"vetting_expires": "2026-01-01"}),
    "no_identity_card": ("QC3CC", {"id_expires": "2026-01-01"}),
    "training_short_of_the_event": ("QC4CC", {"training": "is100"}),
    "close_to_two_limits": ("QC5CC", {"walk_limit_km": "5", "cold_limit_c": "-10"}),
    "further_than_the_member_walks": ("QC6CC", {"walk_limit_km": "3"}),
    "too_cold_for_the_member": ("QC7CC", {"cold_limit_c": "-5"}),
}
"""By rule: somebody who has all that is asked but this."""


@pytest.fixture(scope="module")
def asked_of_nine() -> tuple[dict[str, pd.DataFrame], staffing.Plan, list[engine.Finding]]:
    """A post for nine that asks for all of it: two have it all, one of them a kit, and the others are short of one thing
    each. The club, its plan, and what these rules find where everyone is put in whom the plan does not send."""
    event = {"vetting_asked": True, "id_asked": True, "training_asked": "is100 is200", "temp_min_c": -8.0}
    short = "".join(person(member, **told) for member, told in SHORT_OF.values())
    frames = two_at_ford(event, {"walk_km": 4.5, "operators": 9}, short)
    plan = staffing.staff(judged(frames), "Walk")
    rows = staffing.apply(plan, frames)["assignments"]
    others = [member for member, _ in SHORT_OF.values()]
    extra = pd.concat(
        [rows.iloc[[0]].assign(member=member, kit=None, line=at) for at, member in enumerate(others, 10)]
    )
    every = frames | {"assignments": pd.concat([rows, extra], ignore_index=True)}
    return frames, plan, Club(every).answers(*SHORT_OF)


@pytest.mark.parametrize("rule", SHORT_OF)
def test_whoever_the_rules_block_beside_a_kit_is_not_sent(
    rule: str, asked_of_nine: tuple[dict[str, pd.DataFrame], staffing.Plan, list[engine.Finding]]
) -> None:
    _, plan, found = asked_of_nine
    member, _ = SHORT_OF[rule]
    assert member not in set(plan.rows["member"])
    blocks = {
        one.rule
        for one in found
        if one.member == member and (one.status, one.severity) == ("not met", "blocks")
    }
    assert blocks == {rule}


def test_whoever_has_all_that_is_asked_is_sent_beside_a_kit(
    asked_of_nine: tuple[dict[str, pd.DataFrame], staffing.Plan, list[engine.Finding]],
) -> None:
    frames, plan, found = asked_of_nine
    assert set(plan.rows["member"]) == {"QA1AA", "QB2BB"} and len(plan.rows) == 2
    assert plan.uncovered["people_short"].tolist() == [len(frames["members"]) - 2]
    assert plan.uncovered["why"].iloc[0] == "nobody could take a further seat beside who is there"
    assert {one.status for one in found if one.member in ("QA1AA", "QB2BB")} == {"met"}


TAPE = {"kind": "cones_tape", "module": "station", "weight_kg": 4.0}


def boxes(more: dict[str, Any]) -> dict[str, pd.DataFrame]:
    """Two people with a kit each, of which the second holds one thing more; one post with a mast among the public."""
    frames = two_at_ford({"public": True}, {"operators": 1, "mast_m": 6.0, "power_line_m": 50.0})
    own = frames["inventory"]
    other = own.assign(member="QB2BB", line=own["line"] + 100)
    frames["inventory"] = pd.concat(
        [own, other, frame("inventory", kit("QB2BB", "Box", more))], ignore_index=True
    )
    return frames


def test_the_kit_that_closes_what_blocks_a_post_goes_there() -> None:
    plan = staffing.staff(judged(boxes(TAPE)), "Walk")
    assert plan.rows["member"].tolist() == ["QB2BB"] and plan.values["hours short of gear"] == 0
    assert plan.blocked.empty and plan.is_proven
    without = staffing.staff(judged(boxes({"kind": "notebook_pencil"})), "Walk")
    assert without.values["hours short of gear"] == 5 and without.is_proven
    (row,) = without.blocked.to_dict("records")
    assert row["post"] == "Ford" and row["title"] == "Mast unmarked among the public"
    assert pd.isna(row["member"]) and "flags, cones or tape" in row["why"] and row["fix"]


def test_a_kit_is_brought_to_a_further_seat_for_what_the_post_must_have() -> None:
    frames = boxes(TAPE)
    frames["posts"]["operators"] = 2
    frames["posts"]["role_needed"] = "field"
    frames["members"].loc[frames["members"]["member"] == "QB2BB", "roles"] = "logger"
    plan = staffing.staff(judged(frames), "Walk")
    rows = plan.rows.set_index("member")
    assert rows.loc["QA1AA", "leads"] and rows.loc["QB2BB", "kit"] == "Box" and plan.blocked.empty


def double_booked(member: str) -> dict[str, pd.DataFrame]:
    """A post for one, and two posts of another event to which somebody is sent at the same time."""
    frames = two_at_ford({}, {"operators": 1})
    gone = {"starts": pd.Timestamp("2027-06-01 08:00"), "ends": pd.Timestamp("2027-06-01 13:00")}
    frames["events"] = pd.concat([frames["events"], frame("events", [{"event": "Fair"} | gone])])
    frames["posts"] = pd.concat(
        [
            frames["posts"],
            frame(
                "posts",
                [{"event": "Fair", "post": name, "post_type": "aid_station"} for name in ("Gate", "Hall")],
            ),
        ]
    )
    frames["assignments"] = frame(
        "assignments", [{"event": "Fair", "post": name, "member": member} for name in ("Gate", "Hall")]
    )
    return frames


def test_who_is_double_booked_elsewhere_is_so_at_those_posts_alone() -> None:
    club = judged(double_booked("QA1AA"))
    plan = staffing.staff(club, "Walk")
    assert plan.rows["member"].tolist() == ["QA1AA"] and plan.blocked.empty
    assert {f.post for f in club.findings() if f.rule == "in_two_places_at_once"} == {"Gate", "Hall"}


def test_one_person_holds_a_post_of_fourteen_hours_for_twelve() -> None:
    frames = two_at_ford({"ends": pd.Timestamp("2027-04-25 22:00")}, {"operators": 1})
    frames["members"] = frames["members"].iloc[[0]]
    plan = staffing.staff(judged(frames), "Walk")
    assert (plan.rows["to"].max() - plan.rows["from"].min()) / pd.Timedelta(hours=1) == 12
    assert ((plan.uncovered["to"] - plan.uncovered["from"]) / pd.Timedelta(hours=1)).tolist() == [2]


def test_who_is_sent_three_times_is_not_out_for_longer_than_the_rules_allow() -> None:
    """Ten hours and a pause each are a day; two of the turns are within it, all three are not."""
    frames = two_at_ford(
        {"starts": pd.Timestamp("2027-04-25 02:00"), "ends": pd.Timestamp("2027-04-25 20:00")}, {}
    )
    frames["members"] = frames["members"].iloc[[0]]
    hours = {"Ford": ("02:00", "04:00"), "Gate": ("09:00", "11:30"), "Hall": ("16:00", "18:30")}
    posts = [
        {"event": "Walk", "post": post, "post_type": "aid_station", "operators": 1}
        | {name: pd.Timestamp(f"2027-04-25 {at}") for name, at in zip(("opens", "closes"), span, strict=True)}
        for post, span in hours.items()
    ]
    frames["posts"] = frame("posts", posts)
    plan = staffing.staff(judged(frames), "Walk")
    assert sorted(plan.rows["post"]) == ["Gate", "Hall"] and plan.uncovered["post"].tolist() == ["Ford"]
    assert "QA1AA" not in plan.uncovered["change"].iloc[0]
    rows = staffing.apply(plan, frames)["assignments"]
    further = rows.iloc[[0]].assign(post="Ford", **dict.fromkeys(("from", "to"), pd.NaT))
    for sent, out in ((rows, set()), (pd.concat([rows, further], ignore_index=True), set(hours))):
        found = Club(frames | {"assignments": sent}).answers("long_day_from_door_to_door")
        assert {f.post for f in found if f.status == "not met"} == out
