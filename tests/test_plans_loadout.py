"""The lightest load-out against brute force, and loans for one event against what the rules say."""

from __future__ import annotations

import itertools
import json
import random
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner

from rules import engine
from rules.plans import loans, trials
from rules.plans.loadout import _Judge, lightest_first, loadout
from tests import small_club
from tests.small_club import ANTENNA, BATTERY, COAX, EVENT, FUSE, HANDHELD, LEAD, MOBILE, PACK

CHAIR = {"kind": "chair_table", "module": "comfort", "weight_kg": 6.0}
POOL = {"owner": "club", "module": "pool"}


@pytest.fixture(scope="module")
def ride() -> engine.Assessment:
    """A kit in five modules at a post, a second one that is not sent, and the club's pool."""
    return small_club.assess(
        inventory=[
            *small_club.kit(
                "QA1BC", "Go box", MOBILE, BATTERY, BATTERY | {"item": "second battery", "module": "more power", "weight_kg": 9.0},
                LEAD, FUSE, ANTENNA, COAX, HANDHELD, PACK, CHAIR,
            ),
            *small_club.kit("QB2CD", "Bag", HANDHELD),
            *small_club.kit("QC3DE", "Pool", HANDHELD | POOL, PACK | POOL | {"quantity": 3}, PACK | {"item": "own spare", "spare": True}),
        ],
        events=[EVENT],
        posts=[
            {"event": "Ride", "post": "Ford", "post_type": "aid_station"},
            {"event": "Ride", "post": "Bend", "post_type": "mile_marker"},
        ],
        assignments=[
            {"event": "Ride", "post": "Ford", "member": "QA1BC", "kit": "Go box"},
            {"event": "Ride", "post": "Bend", "member": "QB2CD", "kit": "Bag"},
        ],
        loans=[
            {"item": "club mast", "borrower": "QB2CD", "out": pd.Timestamp("2027-01-01"), "due": pd.Timestamp("2027-02-01")},
            {"item": "club yagi", "borrower": "QB2CD", "out": pd.Timestamp("2027-02-20"), "due": pd.Timestamp("2027-03-20")},
            {
                "item": "club coax", "borrower": "QB2CD", "out": pd.Timestamp("2026-01-01"), "due": pd.Timestamp("2026-02-01"),
                "back": pd.Timestamp("2026-02-04"), "condition_out": "ok", "condition_in": "faulty",
            },
        ],
    )  # fmt: skip


# --- load-out ---


@pytest.mark.parametrize("seed", range(8))
def test_sets_come_lightest_first_and_each_once(seed: int) -> None:
    chance = random.Random(seed)
    weights = [chance.choice([0.0, 0.5, 1.25, 2.0, 7.5]) for _ in range(chance.randint(0, 7))]
    found = list(lightest_first(weights))
    assert [total for total, _ in found] == sorted(total for total, _ in found)
    assert all(total == pytest.approx(sum(weights[j] for j in picked)) for total, picked in found)
    every = [c for size in range(len(weights) + 1) for c in itertools.combinations(range(len(weights)), size)]
    assert sorted(picked for _, picked in found) == sorted(every)


@pytest.mark.parametrize(("post", "batch"), [("Ride/Ford", 4)])
def test_no_lighter_set_meets_the_post(ride: engine.Assessment, post: str, batch: int) -> None:
    """Every set of modules is judged by itself in a copy of the whole club."""
    found = loadout(ride, "QA1BC/Go box", post, batch=batch)
    kit_id = int(ride.table("kit").query("kit == 'Go box'")["kit_id"].iloc[0])
    post_id = int(ride.table("post").query("post == @post.split('/')[1]")["post_id"].iloc[0])
    item = ride.table("item").query("kit_id == @kit_id")
    modules = sorted(item["module"].unique())
    is_sent = len(ride.table("assignment").query("kit_id == @kit_id and post_id == @post_id")) > 0
    judge = _Judge(ride, kit_id, post_id, item, modules, is_sent)

    def alone(picked: tuple[int, ...]) -> frozenset[object]:
        return frozenset(
            judge._ours(trials.standing(trials.whole(ride, judge.changes([picked], first=0))).open)
        )

    whole = alone(tuple(range(len(modules))))
    weight = {name: (part["weight_kg"] * part["quantity"]).sum() for name, part in item.groupby("module")}
    fit = [
        sum(weight[modules[j]] for j in picked)
        for size in range(len(modules) + 1)
        for picked in itertools.combinations(range(len(modules)), size)
        if alone(picked) <= whole
    ]
    assert found.is_proven
    assert found.weight_kg == pytest.approx(min(fit), abs=0.001)
    assert found.weight_kg == pytest.approx(found.packing["weight_kg"].sum(), abs=0.001)
    assert {module.module for module in found.take} | {module.module for module in found.stay} == set(modules)
    assert set(found.packing["module"]) == {module.module for module in found.take}


def test_the_chair_stays_at_home_and_the_radio_does_not(ride: engine.Assessment) -> None:
    found = loadout(ride, "QA1BC/Go box", "Ride/Ford")
    assert "comfort" in {module.module for module in found.stay}
    assert "station" in {module.module for module in found.take}
    assert found.weight_kg < found.whole_kg


def test_without_time_the_whole_kit_is_taken_and_nothing_claimed(ride: engine.Assessment) -> None:
    found = loadout(ride, "QA1BC/Go box", "Ride/Ford", seconds=0.0, batch=2)
    assert not found.is_proven and found.stay == () and found.weight_kg == found.whole_kg


@pytest.mark.parametrize(
    ("kit", "post", "what"), [("QA1BC/Nothing", "Ride/Ford", "kit"), ("QB2CD/Bag", "Ride/Nowhere", "post")]
)
def test_a_name_that_is_not_there_is_said(ride: engine.Assessment, kit: str, post: str, what: str) -> None:
    with pytest.raises(LookupError, match=f'{what}: ".*" is not there'):
        loadout(ride, kit, post)


# --- loans ---


def test_what_can_be_lent_works_is_spare_or_the_clubs_and_stays_away_from_the_event(
    ride: engine.Assessment,
) -> None:
    found = loans.lendable(ride, "Ride")
    assert set(found["kit"]) == {"Pool"}
    assert list(found["owner"]) == ["club", "club", "member"]


def test_loans_close_what_they_promise_and_the_lender_is_heard(ride: engine.Assessment) -> None:
    found = loans.borrow(ride, "Ride")
    assert found.is_proven and found.judged == pytest.approx(found.promised) and found.judged > 0
    handed = {(loan.item, loan.borrower) for loan in found.loans}
    assert ("handheld_pack", "QB2CD/Bag") in handed
    assert all(loan.lender == "QC3DE/Pool" for loan in found.loans)
    assert all(loan.out < pd.Timestamp("2027-04-25") < loan.due for loan in found.loans)
    for loan in found.loans:
        assert loan.pieces <= {"handheld": 1, "handheld_pack": 3, "own spare": 1}[loan.item]
    assert any("No spare pack for a handheld" in text for loan in found.loans for text in loan.closes)
    slips = found.slips()
    assert list(slips.columns) == [
        "item",
        "borrower",
        "out",
        "due",
        "back",
        "condition_out",
        "condition_in",
        "notes",
    ]
    assert set(slips["borrower"]) <= {"QA1BC", "QB2CD"} and slips["back"].isna().all()


def test_an_event_that_is_not_there_is_said(ride: engine.Assessment) -> None:
    with pytest.raises(LookupError, match=r'event: "Race" is not there. Write one of: Ride'):
        loans.borrow(ride, "Race")


def test_the_log_puts_the_overdue_first_and_sees_damage(ride: engine.Assessment) -> None:
    log = loans.log(ride)
    assert list(log["item"]) == ["club mast", "club yagi", "club coax"]
    assert list(log["state"]) == ["overdue", "out", "back late"]
    assert list(log["days_over"]) == [28, 0, 3]
    assert log["is_worse"].isna().tolist() == [True, True, False] and bool(log["is_worse"].iloc[2])


def test_what_is_out_already_is_not_lent_again() -> None:
    rows = [
        *small_club.kit("QB2CD", "Bag", HANDHELD),
        *small_club.kit("QC3DE", "Pool", PACK | POOL | {"item": "Pool pack"}),
    ]
    out = {
        "item": "pool pack",
        "borrower": "QA1BC",
        "out": pd.Timestamp("2027-02-01"),
        "due": pd.Timestamp("2027-03-01"),
    }
    for back, number in ((None, 0), (pd.Timestamp("2027-02-20"), 1)):
        told = small_club.assess(inventory=rows, events=[EVENT], loans=[out | {"back": back}])
        assert len(loans.lendable(told, "Ride")) == number


# --- commands ---


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    files = {
        "inventory.csv": "member,kit,item,kind,module,owner\nQA1BC,Bag,radio,handheld,radio,\nQA1BC,Bag,pack,handheld_pack,radio,\n"
        "QA1BC,Bag,chair,chair_table,comfort,\nQB2CD,Pool,club pack,handheld_pack,,club\n",
        "events.csv": "event,starts,ends\nRide,2027-04-25T06:00,2027-04-25T09:00\n",
        "posts.csv": "event,post,post_type\nRide,Ford,mile_marker\n",
        "assignments.csv": "event,post,member,kit\nRide,Ford,QA1BC,Bag\n",
    }
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def test_loadout_and_borrow_on_the_command_line(folder: Path) -> None:
    from dashboard.command import app

    def call(*words: str) -> tuple[int, str, str]:
        told = CliRunner().invoke(app, [*words, "--today", "2027-03-01"])
        return told.exit_code, told.stdout, told.stderr

    code, text, _ = call("loadout", str(folder), "QA1BC/Bag", "Ride/Ford")
    assert code == 0 and "stays at home" in text and "Packing list" in text
    code, text, _ = call("loadout", str(folder), "QA1BC/Bag", "Ride/Ford", "--json")
    told = json.loads(text)
    assert code == 0 and [module["module"] for module in told["stay"]] == ["comfort"]
    code, _, error = call("loadout", str(folder), "QA1BC/Box", "Ride/Ford")
    assert code == 2 and 'kit: "QA1BC/Box" is not there.' in error
    code, text, _ = call("borrow", str(folder), "Ride", "--json")
    told = json.loads(text)
    assert code == 0 and [loan["item"] for loan in told["loans"]] == ["club pack"]
    assert told["promised"] == told["judged"]
    code, text, _ = call("borrow", str(folder), "Ride")
    assert code == 0 and "club pack (line 5)" in text
    code, _, error = call("borrow", str(folder), "Race")
    assert code == 2 and 'event: "Race" is not there.' in error
