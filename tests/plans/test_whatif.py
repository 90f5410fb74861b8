"""What a change does to verdicts and staffing, and which single failure costs an event most."""

from __future__ import annotations

import pandas as pd
import pytest

from rules import engine
from rules.plans import staffing, whatif
from rules.verdicts import VERDICTS
from tests.conftest import RACE
from tests.small_club import EVENT, HANDHELD, PACK, TODAY, assess, frame, kit


@pytest.fixture(scope="module")
def staffed(
    frames: dict[str, pd.DataFrame], assessment: engine.Assessment, race_plan: staffing.Plan
) -> tuple[dict[str, pd.DataFrame], engine.Assessment]:
    """The invented club with the plan for its half marathon put in."""
    return staffing.apply(race_plan, frames), staffing.rescore(race_plan, frames, assessment)


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
    found = whatif.what_if(told, [whatif.Change("absent", member=row["member"], event=RACE)], before)
    post = found.verdicts[found.verdicts["subject"] == f"{RACE}/Aid station 1"].iloc[0]
    assert (
        post["before"] in ("ready", "ready with limits") and post["after"] == "not ready" and post["is_worse"]
    )
    assert sent["member"].eq(row["member"]).any(), "the frames themselves are left alone"


def test_a_failed_kit_is_not_ready(staffed: tuple[dict[str, pd.DataFrame], engine.Assessment]) -> None:
    told, before = staffed
    change = whatif.Change("kit_failed", member="QB2HJL", kit="Ready station")
    found = whatif.what_if(told, [change], before).verdicts.set_index("subject")
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
    ("hours", "ends"),
    [(8, ["14:00", "09:00", "14:00"]), (4, ["10:00", "09:00", "10:00"]), (2, ["08:00"] * 3)],
)
def test_who_stays_to_the_end_stays_to_the_new_one(hours: int, ends: list[str]) -> None:
    """Of three at a post one is told to stay until it closes, one to leave before, of one nothing is told."""
    at = {"event": "Ride", "post": "Ford"}
    sent = [
        at | {"member": member, "to": to and pd.Timestamp(f"2027-04-25 {to}")}
        for member, to in (("QA1BC", "12:00"), ("QB2CD", "09:00"), ("QC3DE", None))
    ]
    told = {
        "events": frame("events", [EVENT]),
        "posts": frame("posts", [at]),
        "assignments": frame("assignments", sent),
    }
    after = whatif.changed(told, [whatif.Change("hours", hours, event="Ride")])
    assert after["assignments"]["to"].dt.strftime("%H:%M").tolist() == ends
    assert after["posts"]["closes"].dt.strftime("%H:%M").tolist() == [max(ends)]


def test_who_would_come_after_the_new_closing_does_not_come() -> None:
    at = {"event": "Ride", "post": "Ford"}
    sent = [
        at | {"member": member, "from": pd.Timestamp(f"2027-04-25 {start}"), "to": pd.Timestamp(f"2027-04-25 {end}")}
        for member, start, end in (("QA1BC", "06:00", "10:00"), ("QB2CD", "10:00", "12:00"))
    ]  # fmt: skip
    told = {
        "events": frame("events", [EVENT]),
        "posts": frame("posts", [at]),
        "assignments": frame("assignments", sent),
    }
    after = whatif.changed(told, [whatif.Change("hours", 4, event="Ride")])["assignments"]
    assert after["member"].tolist() == ["QA1BC"]


def test_what_was_taken_out_of_a_kit_does_not_fail_with_it() -> None:
    things = [
        {"member": "QA1BC", "kit": "box", "item": item, "kind": "mobile_vhf_uhf", "condition": condition}
        for item, condition in (("first", "ok"), ("second", "removed"), ("third", None))
    ]
    told = {"inventory": frame("inventory", things)}
    change = whatif.Change("kit_failed", member="QA1BC", kit="box")
    assert whatif.changed(told, [change])["inventory"]["condition"].tolist() == [
        "faulty",
        "removed",
        "faulty",
    ]


def test_one_piece_of_a_thing_fails() -> None:
    things = [
        {"member": "QA1BC", "kit": "box", "item": item, "kind": "handheld_pack", "quantity": pieces}
        for item, pieces in (("pack", 4), ("shell", 4), ("pack", None), ("pack", 1))
    ]
    change = whatif.Change("item_failed", member="QA1BC", kit="box", item="pack")
    told = whatif.changed({"inventory": frame("inventory", things)}, [change])["inventory"]
    assert told["item"].tolist() == ["pack", "pack", "shell", "pack", "pack"]
    assert told["quantity"].fillna(1).tolist() == [1, 3, 4, 1, 1]
    assert told["condition"].eq("faulty").fillna(False).tolist() == [True, False, False, True, True]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (whatif.Change("hours", 5, event="Nowhere"), "Nowhere"),
        (whatif.Change("hours", "long", event=RACE), "not a number"),
        (whatif.Change("hours", 0.5, event=RACE), "before it opens"),
        (whatif.Change("hours", -1, event=RACE), "at least 0.1"),
        (whatif.Change("hours", 1e9, event=RACE), "at most 1000"),
        (whatif.Change("coldest", -400, event=RACE), "at least -60"),
        (whatif.Change("hottest", float("nan"), event=RACE), "at most 60"),
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
    table = whatif.single_failures(told, RACE, before)
    assert {"person", "kit", "battery"} <= set(table["what"])
    assert table["is_felt"].any() and not table["is_felt"].all()
    was = verdicts(before, RACE)
    rank = {word: place for place, word in enumerate(VERDICTS)}
    for what in ("person", "kit"):
        for row in table[table["what"] == what].head(2).to_dict("records"):
            member, _, kit = row["name"].partition("/")
            change = (
                whatif.Change("absent", member=member, event=RACE)
                if what == "person"
                else whatif.Change("kit_failed", member=member, kit=kit)
            )
            now = verdicts(whatif.what_if(told, [change], before).after, RACE)
            assert set(row["posts_worse"]) == {post for post in was if rank[now[post]] < rank[was[post]]}


@pytest.mark.parametrize(
    ("lent", "worse"),
    [({"item": "Bag", "borrower": "QB2DE"}, ["Ford"]), ({"item": "pack", "borrower": "QC3FG"}, [])],
    ids=["the kit, to who brings it", "a pack in it, to somebody else"],
)
def test_single_failures_heed_the_loan_book(lent: dict[str, str], worse: list[str]) -> None:
    """A kit that its owner lends to one alone is there; a post for which the club's only pack is away is lost already."""
    days = {"out": pd.Timestamp("2027-04-20"), "due": pd.Timestamp("2027-05-02")}
    things = (HANDHELD, PACK | {"item": "pack", "owner": "club"}, {"kind": "whip"})
    told = {
        "inventory": kit("QA1BC", "Bag", *things),
        "kits": [{"member": "QA1BC", "kit": "Bag", "may_be_lent": lent["item"] != "Bag"}],
        "members": [{"member": "QB2DE", "licence_class": "general", "roles": "field", "available": True}],
        "events": [EVENT | {"temp_min_c": 20.0, "storms_possible": False}],
        "posts": [{"event": "Ride", "post": "Ford", "bands": "2m", "rf_grade": "good", "cell_cover": True}],
        "assignments": [
            {"event": "Ride", "post": "Ford", "member": "QB2DE", "kit": "Bag", "kit_owner": "QA1BC"}
        ],
        "loans": [lent | days],
    }
    frames = {stem: frame(stem, rows) for stem, rows in told.items()}
    table = whatif.single_failures(frames, "Ride", assess(**told))
    assert table.set_index("what")["posts_worse"]["person"] == worse


def test_failures_that_are_judged_together_are_not_on_the_air_beside_each_other(
    frames: dict[str, pd.DataFrame],
) -> None:
    """Posts that name one site count as near each other, as for how far people must stay."""
    copies = whatif._Copies(frames, RACE)
    posts = frames["posts"][frames["posts"]["event"].eq(RACE)].assign(site="Hall")
    sent = frames["assignments"][frames["assignments"]["event"].eq(RACE)]
    for number in (1, 2):
        copies.add(posts, sent, number, None)
    one, other = (set(part["site"]) for part in copies.parts["posts"])
    assert len(one) == len(other) == 1 and one != other


@pytest.fixture
def planned_before(
    monkeypatch: pytest.MonkeyPatch, assessment: engine.Assessment, race_plan: staffing.Plan
) -> None:
    """The plan of the club as it is is the one that others look at too."""
    staff = staffing.staff
    monkeypatch.setattr(
        staffing,
        "staff",
        lambda club, *of, **asked: race_plan if club is assessment else staff(club, *of, **asked),
    )


@pytest.mark.usefixtures("planned_before")
def test_staffing_before_and_after(frames: dict[str, pd.DataFrame], assessment: engine.Assessment) -> None:
    """Without everyone who is, or may be, signed off for it, net control has nobody to lead it, with any kit."""
    members = assessment.table("member")
    may_lead = members["roles"].isna() | members["roles"].str.contains("net_control")
    away = [whatif.Change("absent", member=member) for member in members.loc[may_lead, "member"]]
    what = whatif.what_if(frames, away, assessment)
    table = whatif.staffings(what, RACE, seconds=300).measures.set_index("objective")
    assert table.loc["critical hours open", "after"] >= table.loc["critical hours open", "before"] + 2 * 7.25


@pytest.mark.usefixtures("planned_before")
def test_who_falls_away_is_stood_in_for_and_as_many_others_as_may_be_stay(
    frames: dict[str, pd.DataFrame], assessment: engine.Assessment, race_plan: staffing.Plan
) -> None:
    away = race_plan.rows["member"].iloc[0]
    found = whatif.what_if(frames, [whatif.Change("absent", member=away)], assessment)
    staffed = whatif.staffings(found, RACE, seconds=300)
    before, after = (staffed.moves[staffed.moves["stands"].eq(word)] for word in ("before", "after"))
    assert staffed.measures.set_index("objective").loc["people moved"].tolist() == [0.0, len(after)]
    assert 1 <= len(after) <= 3, "one steps in, or one for the other where that spares the event a limit"
    assert sorted(before["post"]) == sorted(after["post"]) and after["post"].is_unique
    assert away in set(before["member"]) - set(after["member"])


def test_where_the_plan_stays_as_it_is_nobody_is_named(
    monkeypatch: pytest.MonkeyPatch, assessment: engine.Assessment, race_plan: staffing.Plan
) -> None:
    monkeypatch.setattr(staffing, "staff", lambda *_, **__: race_plan)
    staffed = whatif.staffings(whatif.WhatIf(assessment, assessment, pd.DataFrame()), RACE)
    assert staffed.moves.empty and list(staffed.moves.columns) == [*whatif.STANDS, "stands"]
