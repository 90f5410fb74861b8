"""Staffing with kits that are lent whole, and with the hours on the way."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from dashboard import plan_commands
from dashboard import posts as posts_page
from rules import engine
from rules.plans import staffing, whatif
from rules.plans.staffing import ability, columns
from rules.plans.staffing import plan as plan_of
from rules.plans.staffing.event import read_event
from rules.policy import Policy
from tests.plans.club_of_two import HEAD, judged, of_two
from tests.small_club import TODAY, Club, frame

PEOPLE = HEAD + "QA1AA,general,field,yes\nQB2BB,general,field,yes\n"
MAY = {"member": "QA1AA", "kit": "Box"}


def told(
    may_be_lent: bool | None = None, assignments: list[dict[str, object]] | None = None, ends: str = "13:00"
) -> dict[str, pd.DataFrame]:
    """One kit, two people, one post, and what its owner says of lending it."""
    frames = of_two(PEOPLE)
    frames["posts"] = frame(
        "posts", [{"event": "Walk", "post": "Ford", "post_type": "aid_station", "operators": 1}]
    )
    frames["kits"] = frame("kits", [MAY | {"may_be_lent": may_be_lent}])
    frames["assignments"] = frame("assignments", assignments or [])
    frames["events"]["ends"] = pd.Timestamp(f"2027-04-25 {ends}")
    return frames


def test_a_kit_that_its_owner_lends_covers_what_stayed_open() -> None:
    frames = told(may_be_lent=True)
    before = judged(frames)
    plan = staffing.staff(before, "Walk", absent=["QA1AA"])
    row = plan.rows.iloc[0]
    assert (row["member"], row["kit"], row["kit_owner"], row["leads"]) == ("QB2BB", "Box", "QA1AA", True)
    assert plan_commands._kit(row.to_dict()) == "Box of QA1AA"
    asked = plan.asks.dropna(subset="member")[["member", "kit", "kit_owner"]]
    assert asked.to_numpy().tolist() == [["QB2BB", "Box", "QA1AA"]], (
        "what is to be found out says whose kit it is"
    )
    assert plan.values["kits lent"] == 1 and plan.values["hours open"] == 0 and plan.is_proven
    after = staffing.rescore(plan, frames, before)
    sent = staffing.apply(plan, frames)["assignments"].iloc[0]
    assert (sent["member"], sent["kit_owner"]) == ("QB2BB", "QA1AA")
    rows = after.con.execute(
        "select member.member from post_kit join member using (member_id) where is_assigned"
    )
    assert rows.fetchall() == [("QB2BB",)]
    assert after.table("coverage")["uncovered_h"].tolist() == [0.0]
    again = staffing.staff(after, "Walk", locked=staffing.apply(plan, frames)["assignments"])
    kept = again.rows.iloc[0]
    assert (
        kept["is_locked"]
        and kept["kit_owner"] == "QA1AA"
        and kept["answer"] == row["answer"]
        and not again.notes
    )


def crowd(posts: int = 3, people: int = 6) -> dict[str, pd.DataFrame]:
    """Two kits that may be lent, several people without one, some of them alike, and posts of two sorts."""
    members = [
        {"member": f"Q{at}AA", "roles": "field", "walk_limit_km": float(at % 2), "licence_class": "general"}
        for at in range(people)
    ]
    members += [{"member": f"QX{at}B", "available": False} for at in range(2)]
    box = of_two(PEOPLE)["inventory"]
    return of_two(PEOPLE) | {
        "members": frame("members", members),
        "inventory": pd.concat([box.assign(member=f"QX{at}B") for at in range(2)], ignore_index=True),
        "kits": frame("kits", [{"member": f"QX{at}B", "kit": "Box", "may_be_lent": True} for at in range(2)]),
        "posts": frame("posts", [
            {"event": "Walk", "post": f"Post {at}", "post_type": "aid_station", "walk_km": 0.5 * (at % 2)} for at in range(posts)
        ]),
    }  # fmt: skip


def test_what_is_alike_is_judged_once_and_answers_as_each_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    club = judged(crowd())
    here = read_event(club, "Walk")
    once = plan_of.roster_of(club, here, [], staffing.Terms())
    for names in ("ALIKE_POSTS", "ALIKE_MEMBERS"):
        monkeypatch.setattr(ability, names, [])
    each = plan_of.roster_of(club, here, [], staffing.Terms())
    assert (len(once[1].judged.shifts), len(once[1].judged.hands)) == (2, 4)
    assert (len(each[1].judged.shifts), len(each[1].judged.hands)) == (3, 12)
    for name in ("owner", "person", "lead", "charge", "carried", "in_reserve", "lent"):
        assert np.array_equal(getattr(once[0], name), getattr(each[0], name)), name
    for piece, kit in itertools.product(range(3), range(len(once[0].owner))):
        assert once[1].blocking(piece, kit) == each[1].blocking(piece, kit)
        assert once[1].unknown(piece, kit) == each[1].unknown(piece, kit)


def test_of_many_hands_every_kit_gets_some_and_no_plan_is_called_the_best(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    club = judged(crowd())
    whole = staffing.staff(club, "Walk")
    assert whole.is_proven and whole.values["kits lent"] == 2 and not whole.notes
    monkeypatch.setattr(columns, "LENT_AT_ONCE", 0)
    monkeypatch.setattr(columns, "HANDS_OF_MANY", 2)
    few = staffing.staff(club, "Walk")
    assert few.values == whole.values and not few.is_proven and not few.gap
    assert sorted(few.rows["kit_owner"]) == ["QX0B", "QX1B"] and few.rows["member"].is_unique
    assert len(few.notes) == 1 and "of all pairs, " in few.notes[0]
    assert "with the kits that were tried" in posts_page.proof(few)
    monkeypatch.setattr(ability, "HANDS", 0)
    none = staffing.staff(club, "Walk")
    assert none.rows.empty and not none.is_proven and none.notes[0].endswith("so many: 2.")


def test_nothing_is_lent_where_the_owner_can_come() -> None:
    plan = staffing.staff(judged(told(may_be_lent=True)), "Walk")
    assert plan.rows["member"].tolist() == ["QA1AA"] and plan.rows["kit_owner"].isna().all()
    assert plan.values["kits lent"] == 0


@pytest.mark.parametrize(
    ("may_be_lent", "says"),
    [
        (None, "ask QA1AA, who does not come, to lend the kit Box to QB2BB for Ford"),
        (False, "find one more person for Ford"),
    ],
)
def test_a_loan_that_nobody_agreed_to_is_asked_for_and_none_is_asked_of_who_said_no(
    may_be_lent: bool | None, says: str
) -> None:
    plan = staffing.staff(judged(told(may_be_lent)), "Walk", absent=["QA1AA"])
    assert plan.rows.empty and says in plan.uncovered["change"].iloc[0]


def test_no_kit_is_asked_for_whom_the_rules_block_there_with_any() -> None:
    frames = told()
    frames["posts"]["walk_km"] = 3.0
    frames["members"]["walk_limit_km"] = [5.0, 2.0]
    plan = staffing.staff(judged(frames), "Walk", absent=["QA1AA"])
    assert plan.uncovered["change"].tolist() == [
        "find one more person for Ford: nobody is free who could take it"
    ]


def test_a_kit_in_reserve_is_asked_for_where_a_post_is_open() -> None:
    """Its owner, who may not go there, stands by with it."""
    frames = told()
    things = frames["inventory"]
    things[["condition", "amps_rated", "wire_awg"]] = ["ok", 15.0, 12]
    frames["posts"]["walk_km"] = 3.0
    frames["members"]["walk_limit_km"] = [2.0, 5.0]
    plan = staffing.staff(judged(frames), "Walk")
    (row,) = plan.uncovered.to_dict("records")
    assert (
        row["change"]
        == "ask QA1AA to lend the kit Box to QB2BB for Ford; hold another station in reserve in its place"
    )
    assert row["why"].endswith("kits that could do it in other hands: 1")
    frames["kits"]["may_be_lent"] = True
    filled = staffing.staff(judged(frames), "Walk")
    assert filled.rows[["member", "kit_owner"]].values.tolist() == [["QB2BB", "QA1AA"]]


def test_a_plan_keeps_to_the_hours_that_the_clubs_own_rules_allow() -> None:
    """By the standard policy one person holds the post for all of its eleven hours."""
    frames = told(ends="19:00")
    box = frames["inventory"]
    frames["inventory"] = pd.concat([box, box.assign(member="QB2BB")], ignore_index=True)
    frames["inventory"]["capacity_ah"] = frames["inventory"]["tested_ah"] = 100.0
    policy = Policy.parse(
        "[rules.shift_over_twelve_hours]\nmost_h = 6\n[rules.no_time_to_travel]\nleast_min = 45"
    )
    strict = engine.assess(frames, policy, TODAY)
    plan = staffing.staff(strict, "Walk")
    assert (plan.terms.most_h, plan.terms.shift_h, plan.terms.travel_min) == (6.0, 6.0, 45)
    assert plan.rows["member"].tolist() == ["QA1AA", "QB2BB"] and plan.uncovered.empty
    assert staffing.staff(judged(frames), "Walk").terms == staffing.Terms()


@pytest.mark.parametrize(("ends", "is_sent"), [("22:00", True), ("22:30", False)])
def test_two_turns_of_one_day_lie_within_it(ends: str, is_sent: bool) -> None:
    """From 07:00 until 22:00, and an hour to get up before."""
    frames = told(ends=ends)
    frames["events"]["starts"] = pd.Timestamp("2027-04-25 07:00")
    frames["posts"] = frame("posts", [
        {"event": "Walk", "post": "Ford", "post_type": "aid_station", "operators": 1, "closes": pd.Timestamp("2027-04-25 13:00")},
        {"event": "Walk", "post": "Mill", "post_type": "aid_station", "operators": 1, "opens": pd.Timestamp("2027-04-25 18:00")},
    ])  # fmt: skip
    frames["members"].loc[1, "available"] = False
    frames["inventory"]["capacity_ah"] = frames["inventory"]["tested_ah"] = 200.0
    plan = staffing.staff(judged(frames), "Walk")
    assert (set(plan.rows["post"]) == {"Ford", "Mill"}) is is_sent


@pytest.mark.parametrize(("opens", "is_asked"), [("13:00", False), ("13:30", True)])
def test_a_kit_that_is_on_its_way_to_another_post_is_not_asked_for(opens: str, is_asked: bool) -> None:
    frames = told(
        assignments=[{"event": "Walk", "post": "Mill", "member": "QA1AA", "kit": "Box"}], ends="18:00"
    )
    frames["posts"] = frame("posts", [
        {"event": "Walk", "post": "Ford", "post_type": "aid_station", "operators": 1, "closes": pd.Timestamp("2027-04-25 13:00")},
        {"event": "Walk", "post": "Mill", "post_type": "aid_station", "operators": 1, "opens": pd.Timestamp(f"2027-04-25 {opens}")},
    ])  # fmt: skip
    frames["members"].loc[0, "walk_limit_km"] = 1.0
    frames["posts"]["walk_km"] = [3.0, 0.5]
    club = judged(frames)
    plan = staffing.staff(club, "Walk", locked=staffing.as_it_stands(club, "Walk"))
    (change,) = plan.uncovered["change"]
    assert ("to lend the kit Box" in change) is is_asked


def many(kits: list[str], others: list[str], posts: list[str]) -> dict[str, pd.DataFrame]:
    """People with a kit each, people without one, and posts for one."""
    frames = of_two(HEAD + "".join(f"{member},general,field,yes\n" for member in [*kits, *others]))
    box = frames["inventory"]
    frames["inventory"] = pd.concat([box.assign(member=member) for member in kits], ignore_index=True)
    frames["posts"] = frame(
        "posts", [{"event": "Walk", "post": post, "post_type": "aid_station", "operators": 1} for post in posts]
    )  # fmt: skip
    return frames


def test_the_kits_of_who_cannot_come_are_asked_for_and_fill_the_seats() -> None:
    """One is not available, the licence of another is over: what keeps the owners away is nothing against the kits."""
    frames = many(["QA1AA", "QA2AA"], ["QB1BB", "QB2BB"], ["Ford", "Mill"])
    frames["members"]["licence_expires"] = pd.Timestamp("2030-01-01")
    frames["members"].loc[frames["members"]["member"].eq("QA1AA"), "available"] = False
    frames["members"].loc[frames["members"]["member"].eq("QA2AA"), "licence_expires"] = pd.Timestamp(
        "2020-01-01"
    )
    plan = staffing.staff(judged(frames), "Walk")
    asked = [
        re.fullmatch(r"ask (.+) to lend the kit Box to (\w+) for (\w+)", change)
        for change in plan.uncovered["change"]
    ]
    assert {one[1] for one in asked if one} == {"QA1AA, who does not come,", "QA2AA"}
    assert {one[2] for one in asked if one} == {"QB1BB", "QB2BB"}
    assert plan.uncovered["why"].str.contains("kits that could do it in other hands: 2").all()
    frames["kits"] = frame(
        "kits", [{"member": member, "kit": "Box", "may_be_lent": True} for member in ("QA1AA", "QA2AA")]
    )
    filled = staffing.staff(judged(frames), "Walk")
    assert filled.uncovered.empty
    assert set(filled.rows["member"]) == {"QB1BB", "QB2BB"} and set(filled.rows["kit_owner"]) == {
        "QA1AA",
        "QA2AA",
    }


def test_a_thing_of_the_pool_that_would_put_a_kit_right_is_named() -> None:
    frames = told()
    held = frames["inventory"]
    pool = [{"member": "QB2BB", "kit": "Pool", "item": "holder", "kind": "fuse_holder", "owner": "club"}]
    without = held[held["kind"] != "fuse"]
    for things, says in (
        ([], "add inline fuse holder to"),
        (pool, "borrow the club's holder (QB2BB/Pool) for"),
    ):
        more = [frame("inventory", things)] if things else []
        frames["inventory"] = pd.concat([without, *more], ignore_index=True)
        plan = staffing.staff(judged(frames), "Walk")
        assert plan.uncovered["change"].iloc[0] == f"{says} QA1AA's Box: no fuse at the battery"


def test_a_kit_without_the_band_or_the_mode_wants_what_has_it() -> None:
    """One post after the other, so that the one kit there is could go to each."""
    asked: dict[str, tuple[dict[str, str], str]] = {
        "HF": ({"bands": "40m 80m"}, "add HF radio, 100 W to QA1AA's Box: kit without the post's band"),
        "33cm": ({"bands": "70cm 33cm"}, "find a radio for 33cm and 70cm for QA1AA's Box: kit without the post's band"),
        "packet": ({"bands": "2m", "modes": "packet"}, "add sound-card modem or TNC to QA1AA's Box: kit without the post's mode"),
        "position": (
            {"bands": "2m", "modes": "position"},
            "add mobile with packet and position built in to QA1AA's Box: kit without the post's mode",
        ),
        "ssb": ({"bands": "2m", "modes": "ssb"}, "find a radio for 2m and ssb for QA1AA's Box: kit without the post's mode"),
    }  # fmt: skip
    frames = told(ends="18:00")
    frames["posts"] = frame("posts", [
        {"event": "Walk", "post": post, "post_type": "aid_station", "operators": 1, **channel}
        | {"opens": pd.Timestamp(f"2027-04-25 {hour:02}:00"), "closes": pd.Timestamp(f"2027-04-25 {hour + 1:02}:00")}
        for hour, (post, (channel, _)) in zip(range(8, 18, 2), asked.items(), strict=True)
    ])  # fmt: skip
    plan = staffing.staff(judged(frames), "Walk", absent=["QB2BB"])
    assert dict(zip(plan.uncovered["post"], plan.uncovered["change"], strict=True)) == {
        post: says for post, (_, says) in asked.items()
    }


def test_what_blocks_the_person_is_not_put_right_in_the_kit() -> None:
    frames = told()
    frames["events"]["id_asked"] = True
    frames["members"]["id_expires"] = pd.Timestamp("2020-01-01")
    plan = staffing.staff(judged(frames), "Walk", absent=["QB2BB"])
    (row,) = plan.uncovered.to_dict("records")
    assert row["change"] == (
        "send somebody along with QA1AA, or in their place: no identity card that the organiser asks for"
    )
    assert row["change_kind"] == "more people"


def test_who_is_absent_from_one_event_is_missed_in_its_staffing() -> None:
    frames = told()
    changes = [whatif.Change("absent", member="QA1AA", event="Walk")]
    found = whatif.what_if(frames, changes, judged(frames))
    staffed = whatif.staffings(found, "Walk", changes=changes)
    assert staffed.measures.set_index("objective").loc["hours open"].tolist() == [0.0, 5.0]
    (row,) = staffed.moves.to_dict("records")
    assert (row["post"], row["member"], row["kit"], row["stands"]) == ("Ford", "QA1AA", "Box", "before")
    (open_,) = staffed.uncovered.to_dict("records")
    assert open_["change"] == "ask QA1AA, who does not come, to lend the kit Box to QB2BB for Ford"


def test_who_is_sent_to_two_places_as_it_stands_is_free_for_a_new_plan() -> None:
    rows = [{"event": "Walk", "post": post, "member": "QA1AA", "kit": "Box"} for post in ("Ford", "Mill")]
    frames = told(assignments=rows)
    frames["posts"] = frame(
        "posts", [{"event": "Walk", "post": post, "post_type": "aid_station", "operators": 1} for post in ("Ford", "Mill")]
    )  # fmt: skip
    plan = staffing.staff(judged(frames), "Walk")
    assert plan.rows["member"].tolist() == ["QA1AA"]


def also_sent(starts: str, ends: str, travel_h: float | None = None) -> dict[str, pd.DataFrame]:
    """The one with a kit is sent to another event too, at 2027-04-25 unless told otherwise."""
    rows = [{"event": "Dawn", "post": "Gate", "member": "QA1AA", "kit": "Box", "travel_h": travel_h}]
    frames = told(assignments=rows)
    begin, end = (pd.Timestamp(f"2027-04-{'' if 'T' in at else '25T'}{at}") for at in (starts, ends))
    dawn = {"event": "Dawn", "starts": begin, "ends": end}
    frames["events"] = pd.concat([frames["events"], frame("events", [dawn])], ignore_index=True)
    gate = {"event": "Dawn", "post": "Gate", "post_type": "aid_station"}
    frames["posts"] = pd.concat([frames["posts"], frame("posts", [gate])], ignore_index=True)
    return frames


ELSEWHERE: dict[str, tuple[str, str, float | None, bool]] = {
    "QA1AA": ("15:00", "22:00", None, True),  # five hours here, seven there
    "QA2AA": ("15:00", "22:30", None, False),
    "QA3AA": ("24T20:30", "25T04:00", None, False),  # the night before
    "QA4AA": ("24T12:30", "24T20:00", None, True),  # of which half an hour is within the 24 that end at 13:00
    "QA5AA": ("15:30", "20:30", 2.0, True),  # from eight until home at half past ten, and an hour to get up
    "QA6AA": ("16:00", "22:00", 2.0, False),
    "QA7AA": ("16:30", "22:30", 2.1, False),
    "QA8AA": ("05:00", "07:30", None, True),
    "QA9AA": ("05:00", "07:30", 1.0, False),  # the way home is an hour of its own
}
"""By who has a kit: from when to when, and how far from home, they are sent to another event; whether they are free from 08:00
to 13:00 all the same."""


def test_hours_at_another_event_of_the_same_day_and_the_way_home_from_it_are_counted() -> None:
    sent = {member for member, (*_, is_sent) in ELSEWHERE.items() if is_sent}
    lend = set(ELSEWHERE) - sent - {"QA9AA"}  # whose kit is on the way home too
    helpers = [f"QB{at}BB" for at in range(len(lend))]
    frames = many([*ELSEWHERE], helpers, [f"Ford {member}" for member in ELSEWHERE])
    dawns = [
        {"event": f"Dawn of {member}", **{
            name: pd.Timestamp(f"2027-04-{'' if 'T' in at else '25T'}{at}") for name, at in (("starts", starts), ("ends", ends))
        }}
        for member, (starts, ends, *_) in ELSEWHERE.items()
    ]  # fmt: skip
    gates = [{"event": dawn["event"], "post": "Gate", "post_type": "aid_station"} for dawn in dawns]
    for stem, rows in (("events", dawns), ("posts", gates)):
        frames[stem] = pd.concat([frames[stem], frame(stem, rows)], ignore_index=True)
    frames["assignments"] = frame(
        "assignments",
        [
            {"event": f"Dawn of {member}", "post": "Gate", "member": member, "kit": "Box", "travel_h": travel_h}
            for member, (_, _, travel_h, _) in ELSEWHERE.items()
        ],
    )  # fmt: skip
    plan = staffing.staff(judged(frames), "Walk")
    assert set(plan.rows["member"]) == sent
    hours = Club(staffing.apply(plan, frames)).answers(
        "over_twelve_hours_in_a_day", "shift_over_twelve_hours"
    )
    assert {finding.status for finding in hours} == {"met"}
    assert plan.uncovered["why"].str.contains("all are elsewhere or resting").all()
    asked = [
        re.fullmatch(r"ask (\w+) to lend the kit Box to (\w+) for Ford \w+", change)
        for change in plan.uncovered["change"]
    ]
    assert {one[1] for one in asked if one} == lend
    assert {one[2] for one in asked if one} == set(helpers)


def test_what_locked_rows_and_another_event_ask_of_one_person_is_said_and_counted() -> None:
    """Beside the plan too: a kit or a person at two places is one that the coordinator counts twice."""
    for starts, ends, says in (
        ("12:00", "16:00", ["locked row of Ford: QA1AA is at another event at that time."]),
        (
            "14:00",
            "22:00",
            ["locked rows: QA1AA is on duty here and at other events for 13 h of some 24; 12 h is the most."],
        ),
    ):
        frames = also_sent(starts, ends, 0.25)
        sent = frame("assignments", [{"event": "Walk", "post": "Ford", "member": "QA1AA", "kit": "Box"}])
        frames["assignments"] = pd.concat([frames["assignments"], sent], ignore_index=True)
        before = judged(frames)
        plan = staffing.staff(before, "Walk", locked=sent)
        people = [note for note in plan.notes if "Box" not in note]
        assert people == says
        beside = staffing.compare(staffing.staff(before, "Walk"), before).set_index("measure")
        for thing in ("people", "kits"):
            is_twice = float(starts == "12:00")
            assert beside.loc[f"{thing} in two places"].tolist() == [0.0, is_twice]


TWICE = [
    (("QA1AA", "12:00"), ("QB2BB", "11:00"), 0, 1),  # one kit in two hands
    (("QA1AA", "10:00"), ("QB2BB", "10:10"), 0, 1),  # and ten minutes to take it there
    (("QA1AA", "10:00"), ("QB2BB", "10:30"), 0, 0),
    (("QA1AA", "10:00"), ("QA1AA", "10:30"), 1, 0),  # two hours nearer home than the other post
]
"""Who is at the first post until when, who at the second from when, with one kit; how many people, and kits, are at both."""


def test_kits_and_people_in_two_places_are_counted_alike() -> None:
    frames = told()
    days = [pd.Timestamp("2027-04-25") + pd.Timedelta(weeks=at) for at in range(len(TWICE))]
    frames["events"] = frame("events", [
        {"event": f"Walk {day:%d.%m.}", "starts": day + pd.Timedelta(hours=8), "ends": day + pd.Timedelta(hours=13)} for day in days
    ])  # fmt: skip
    frames["posts"] = frame("posts", [
        {"event": f"Walk {day:%d.%m.}", "post": post, "post_type": "aid_station"} for day in days for post in ("Ford", "Mill")
    ])  # fmt: skip
    frames["assignments"] = frame("assignments", [
        {"event": f"Walk {day:%d.%m.}", "kit": "Box", "kit_owner": "QA1AA", **row}
        for day, ((one, until), (other, since), *_) in zip(days, TWICE, strict=True)
        for row in (
            {"post": "Ford", "member": one, "to": day + pd.Timedelta(f"{until}:00"), "travel_h": 0.5},
            {"post": "Mill", "member": other, "from": day + pd.Timedelta(f"{since}:00"), "travel_h": 2.5},
        )
    ])  # fmt: skip
    before = judged(frames)
    plan = staffing.staff(before, f"Walk {days[0]:%d.%m.}")
    for day, (_, _, people, kits) in zip(days, TWICE, strict=True):
        other = replace(plan, event=f"Walk {day:%d.%m.}", rows=plan.rows.iloc[:0])
        beside = staffing.compare(other, before).set_index("measure")["coordinator"]
        assert (beside["people in two places"], beside["kits in two places"]) == (people, kits), day


def test_locked_rows_with_one_kit_in_two_hands_or_not_to_be_lent_are_said() -> None:
    rows = [
        {"event": "Walk", "post": "Ford", "member": "QB2BB", "kit": "Box", "kit_owner": "QA1AA"},
        {"event": "Walk", "post": "Mill", "member": "QA1AA", "kit": "Box"},
    ]
    frames = told(may_be_lent=False)
    frames["posts"] = frame(
        "posts", [{"event": "Walk", "post": row["post"], "post_type": "aid_station"} for row in rows]
    )
    plan = staffing.staff(judged(frames), "Walk", locked=frame("assignments", rows))
    assert plan.notes == [
        "locked row of Ford: QA1AA's Box is not to be lent, says its owner.",
        "locked rows: QA1AA's Box is at Mill and at Ford at the same time.",
    ]
    assert plan.rows["is_locked"].sum() == 2
    elsewhere = told(may_be_lent=True, assignments=[{**rows[1], "event": "Run"}])
    run = elsewhere["events"].assign(event="Run")
    elsewhere["events"] = pd.concat([elsewhere["events"], run], ignore_index=True)
    mill = {"event": "Run", "post": "Mill", "post_type": "aid_station"}
    elsewhere["posts"] = pd.concat([elsewhere["posts"], frame("posts", [mill])], ignore_index=True)
    plan = staffing.staff(judged(elsewhere), "Walk", locked=frame("assignments", rows[:1]))
    assert plan.notes == ["locked row of Ford: QA1AA's Box is at another event at that time."]


@pytest.mark.parametrize("may_be_lent", [None, False], ids=["not told", "no"])
def test_what_the_loan_book_lends_to_someone_goes_in_their_hands(may_be_lent: bool | None) -> None:
    """One box is out to who is sent, one to who is sent until the day before, one to somebody else. The plan sends the first
    alone and says nothing against such a locked row, and the rules find no fault in it; the last is not there."""
    owners, others, posts = (
        [f"{start}{at}{end}" for at in (1, 2, 3)]
        for start, end in (("QA", "AA"), ("QB", "BB"), ("Ford ", ""))
    )
    frames = many(owners, others, posts)
    frames["kits"] = frame(
        "kits", [{"member": owner, "kit": "Box", "may_be_lent": may_be_lent} for owner in owners]
    )
    frames["loans"] = frame("loans", [
        {"item": f"{owner}/Box", "out": pd.Timestamp("2027-04-20"), "borrower": borrower, "due": pd.Timestamp(due)}
        for owner, borrower, due in zip(
            owners, ("QB1BB", "QB2BB", "QC3CC"), ("2027-04-25", "2027-04-24", "2027-04-25"), strict=True
        )
    ])  # fmt: skip
    before = judged(frames)
    plan = staffing.staff(before, "Walk", absent=owners)
    assert plan.rows[["member", "kit_owner"]].to_numpy().tolist() == [["QB1BB", "QA1AA"]]
    assert len(plan.uncovered) == 2
    for post, change in zip(plan.uncovered["post"], plan.uncovered["change"], strict=True):
        if may_be_lent is False:
            assert change == f"find one more person for {post}: nobody is free who could take it"
        else:
            said = re.fullmatch(
                rf"ask (QA.)AA, who does not come, to lend the kit Box to QB.BB for {post}(.*)", change
            )
            assert said and said[2] == {"QA2": "", "QA3": "; call back what is on loan of it"}[said[1]]
    rows = [
        {"event": "Walk", "post": post, "member": other, "kit": "Box", "kit_owner": owner}
        for post, other, owner in zip(posts, others, owners, strict=True)
    ]
    kept = staffing.staff(before, "Walk", locked=frame("assignments", rows))
    away = "locked row: QB3BB cannot hold Ford 3 as the rules stand."
    said_no = [f"locked row of Ford {at}: QA{at}AA's Box is not to be lent, says its owner." for at in (2, 3)]
    assert sorted(kept.notes) == sorted([away, *(said_no if may_be_lent is False else [])])
    found = Club(staffing.apply(kept, frames)).answers("kit_sent_without_leave")
    assert {one.post: one.status == "met" for one in found} == {
        "Ford 1": True,
        "Ford 2": False,
        "Ford 3": False,
    }


def test_a_kit_that_is_lent_at_another_event_is_nowhere_else() -> None:
    """Its owner takes another one, and without another one stays at home."""
    rows = [{"event": "Run", "post": "Gate", "member": "QB2BB", "kit": "Box", "kit_owner": "QA1AA"}]
    frames = told(may_be_lent=True, assignments=rows)
    run = frames["events"].assign(event="Run")
    frames["events"] = pd.concat([frames["events"], run], ignore_index=True)
    gate = {"event": "Run", "post": "Gate", "post_type": "aid_station"}
    frames["posts"] = pd.concat([frames["posts"], frame("posts", [gate])], ignore_index=True)
    plan = staffing.staff(judged(frames), "Walk")
    assert plan.rows.empty and "lend the kit Box" not in plan.uncovered["change"].iloc[0]
    second = frames["inventory"].assign(kit="Spare box")
    frames["inventory"] = pd.concat([frames["inventory"], second], ignore_index=True)
    plan = staffing.staff(judged(frames), "Walk")
    assert plan.rows[["member", "kit"]].to_numpy().tolist() == [["QA1AA", "Spare box"]]


def test_nobody_is_longer_from_door_to_door_than_sixteen_hours() -> None:
    """Eight hours of work, an hour to get ready, and the way twice: three hours each are within it, four are not."""
    ways = {"QA1AA": ("Ford", 3.0), "QB2BB": ("Mill", 4.0)}
    rows = [
        {"event": "Walk", "post": post, "member": member, "kit": "Box", "travel_h": travel_h}
        for member, (post, travel_h) in ways.items()
    ]
    frames = many([*ways], [], ["Ford", "Mill"]) | {"assignments": frame("assignments", rows)}
    frames["events"]["ends"] = pd.Timestamp("2027-04-25 16:00")
    plan = staffing.staff(judged(frames), "Walk")
    assert plan.rows[["member", "travel_h"]].to_numpy().tolist() == [["QA1AA", 3.0]]
    found = Club(staffing.apply(plan, frames)).answers("long_day_from_door_to_door")
    assert {one.status for one in found} == {"met"}


def test_a_locked_row_too_far_from_another_is_said() -> None:
    at = pd.Timestamp("2027-04-25 10:00")
    rows = [
        {"event": "Walk", "post": "Ford", "member": "QA1AA", "kit": "Box", "to": at, "travel_h": 0.5},
        {
            "event": "Walk",
            "post": "Mill",
            "member": "QA1AA",
            "kit": "Box",
            "from": at + pd.Timedelta("1h"),
            "travel_h": 2.5,
        },
    ]
    frames = told(assignments=rows)
    frames["posts"] = frame(
        "posts", [{"event": "Walk", "post": post, "post_type": "aid_station", "operators": 1} for post in ("Ford", "Mill")]
    )  # fmt: skip
    plan = staffing.staff(judged(frames), "Walk", locked=frames["assignments"])
    assert plan.notes == [
        "locked rows: QA1AA is at Mill and at Ford with 60 min between them; the way takes 120 min or more."
    ]
    assert plan.rows["is_locked"].sum() == 2
