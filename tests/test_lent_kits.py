"""A kit in another member's hands: told in the assignments, judged with the person who brings it, forgotten with its owner."""

from __future__ import annotations

import pandas as pd
import pytest

from dashboard import score_commands
from dashboard.sheets import dates, event, packing
from data import upload
from data.belongings import erase
from data.store import Store
from rules import engine
from tests import printed
from tests.small_club import (
    ANTENNA,
    BATTERY,
    COAX,
    EVENT,
    FUSE,
    LEAD,
    MOBILE,
    TODAY,
    Club,
    assess,
    frame,
    kit,
)

STATION = (MOBILE, BATTERY, LEAD, FUSE, ANTENNA, COAX)
POST = {"event": "Ride", "post": "Ford", "post_type": "aid_station", "access": "carry"}
SENT = {"event": "Ride", "post": "Ford", "member": "QB2CD", "kit": "Box", "kit_owner": "QA1BC"}
PEOPLE = [
    {"member": "QA1BC", "licence_class": "extra", "carry_limit_kg": 60.0, "available": False},
    {"member": "QB2CD", "licence_class": "none", "carry_limit_kg": 4.0},
]
CLUB = {
    "inventory": kit("QA1BC", "Box", *STATION),
    "members": PEOPLE,
    "events": [EVENT],
    "posts": [POST],
    "assignments": [SENT],
}


@pytest.fixture(scope="module")
def told() -> Club:
    return assess(**CLUB)


def test_a_lent_kit_is_judged_with_the_person_who_brings_it(told: Club) -> None:
    found = {f.rule: f for f in told.findings() if f.post == "Ford"}
    assert found["licence_short_of_the_band"].status == "not met"
    assert found["licence_short_of_the_band"].member == "QB2CD"
    assert {f.kit for f in found.values() if f.member == "QB2CD"} == {"Box of QA1BC"}
    assert any("QB2CD's Box of QA1BC" in f.sentence for f in found.values())
    sent = told.con.execute(
        "select post_kit.carry_limit_kg from post_kit join member using (member_id) where is_assigned and member = 'QB2CD'"
    )
    assert sent.fetchall() == [(4.0,)]


def test_what_blocks_a_lent_kit_is_said_to_be_why_its_post_is_not_ready() -> None:
    told = assess(**CLUB | {"inventory": kit("QA1BC", "Box", *(thing for thing in STATION if thing != FUSE))})
    unfused = told.findings("s.kit = 'Box' and not j.ok and j.severity_no = 0")
    said = score_commands._reasons(told, unfused)
    assert said["Ride/Ford", "not ready"].startswith("QA1BC/Box: batteries in use: 1;")


def test_paper_and_calendar_say_whose_kit_is_brought(told: Club) -> None:
    number = int(told.table("assignment")["assignment_id"].iloc[0])
    for payload in (packing.packing(told, number), event.packet(told, "Ride")):
        assert "Box of QA1BC" in printed.text(payload)
    assert "Kit: Box of QA1BC" in dates.calendar(told, "QB2CD").decode().replace("\r\n ", "")


def test_a_kit_may_be_lent_where_its_owner_says_so_or_all_of_it_is_the_clubs() -> None:
    pool, box, bag = ({"owner": "club"}, {}, {"owner": "club"})
    told = assess(
        inventory=[
            *kit("QA1BC", "Pool", *(thing | pool for thing in STATION)), *kit("QA1BC", "Box", *(thing | box for thing in STATION)),
            *kit("QB2CD", "Mine", *STATION), *kit("QB2CD", "Kept", *(thing | bag for thing in STATION)),
        ],
        kits=[
            {"member": "QA1BC", "kit": "Box", "may_be_lent": True}, {"member": "QB2CD", "kit": "Kept", "may_be_lent": False},
        ],
    ).table("kit").set_index("kit")["may_be_lent"]  # fmt: skip
    assert told["Pool"] and told["Box"] and not told["Kept"] and pd.isna(told["Mine"])


def test_what_was_taken_out_of_a_kit_does_not_say_whose_it_is() -> None:
    gone = {"condition": "removed"}
    pool = {"owner": "club"}
    told = assess(
        inventory=[
            *kit("QA1BC", "Pool", MOBILE | pool, BATTERY | gone), *kit("QA1BC", "Mixed", MOBILE | pool, BATTERY | {"condition": "faulty"}),
            *kit("QA1BC", "Empty", MOBILE | pool | gone),
        ],
        kits=[{"member": "QA1BC", "kit": "Bare"}],
    ).table("kit").set_index("kit")["is_pool"]  # fmt: skip
    assert told.to_dict() == {"Pool": True, "Mixed": False, "Empty": False, "Bare": False}


def test_a_kit_that_its_owner_does_not_have_is_said_with_its_line() -> None:
    frames = {
        "inventory": frame("inventory", kit("QA1BC", "Box", *STATION)), "members": frame("members", PEOPLE),
        "events": frame("events", [EVENT]), "posts": frame("posts", [POST]),
        "assignments": frame("assignments", [SENT | {"kit": "Boxx"}, SENT | {"kit_owner": "QX9XX"}, SENT]),
    }  # fmt: skip
    from data.club_check import loose_ends

    said = [(problem.line, problem.column) for problem in loose_ends(frames)]
    assert said == [(2, "kit"), (3, "kit_owner")]
    assert "an inventory of QA1BC" in str(loose_ends(frames)[0])


def test_an_erased_owner_stands_in_no_row_of_others(tmp_path) -> None:
    files = {
        "inventory.csv": "member,kit,item,kind\nQA1BC,Box,set,handheld\nQB2CD,Bag,set,handheld\n",
        "events.csv": "event,starts,ends\nRide,2027-04-25T06:00,2027-04-25T12:00\n",
        "posts.csv": "event,post,post_type\nRide,Ford,aid_station\n",
        "assignments.csv": "event,post,member,kit,kit_owner\nRide,Ford,QB2CD,Box,QA1BC\n",
    }
    store = Store(tmp_path / "club.duckdb")
    for name, text in files.items():
        store.accept(upload.read(name, text.encode()), "test")
    assert store.frames()["assignments"]["kit_owner"].tolist() == ["QA1BC"]
    erase(store, "QA1BC", "test")
    left = store.frames()["assignments"]
    assert left["member"].tolist() == ["QB2CD"] and left[["kit", "kit_owner"]].isna().all(axis=None)
    with store.reading() as cur:
        sent = cur.execute("select payload from upload where stem = 'assignments'").fetchall()
    assert all(b"QA1BC" not in payload for (payload,) in sent)
    assert engine.assess(store.frames(), today=TODAY).table("assignment")["kit_id"].isna().all()
    store.close()
