"""What goes with a kit: lid lists, packing lists, inspection sheets, tags, loan slips."""

import re
from datetime import timedelta

import pandas as pd
import pytest

from dashboard.palette import VERDICTS
from dashboard.sheets import asks, event, kit, loan, of_event, packing, paper, told
from tests import small_club
from tests.conftest import RACE
from tests.printed import pages, text
from tests.small_club import TODAY


def test_a_lid_list_names_modules_items_charge_dates_and_verdict(small):
    said = text(kit.lid(small, "Q1ABC", "go bag"))
    verdict = small.con.execute("select verdict from score join subject using (subject_kind, subject_id) "
                                "where subject = 'Q1ABC/go bag'").fetchone()[0]  # fmt: skip
    assert f"Kit of Q1ABC {VERDICTS[verdict].label}" in said
    assert "lithium block 20 2027-01-10 2027-07-09" in said  # LiFePO4: 180 days after 2027-01-10
    assert "spare pack (spare)" in said
    assert "worn lead faulty: leave it out" in said
    assert "good until 2027-06-30" in said
    assert "look over again by 2027-05-01" in said
    assert paper.CHECK in said and "Batteries and charging" in said
    for module in ("power", "radio", "safety"):
        assert module in said


def test_what_was_taken_out_of_a_kit_stands_on_none_of_its_sheets_and_what_is_faulty_is_not_charged():
    battery = small_club.BATTERY | {"charged": pd.Timestamp(TODAY)}
    old = {"charged": pd.Timestamp(TODAY - timedelta(days=170))}
    things = (
        battery | {"item": "good block"},
        battery | old | {"item": "swollen block", "condition": "faulty"},
        battery | old | {"item": "block at home", "condition": "removed", "expires": pd.Timestamp(TODAY)},
    )
    club = small_club.assess(inventory=small_club.kit("QA1BC", "Bag", *things))
    lid, look, tag = (
        text(sheet)
        for sheet in (
            kit.lid(club, "QA1BC", "Bag"),
            kit.inspection(club, "QA1BC", "Bag"),
            kit.tags(club, [("QA1BC", "Bag")]),
        )
    )
    by = kit.items(club, 1)[0]["charge_by"]
    assert "things inside 2" in lid and "swollen block faulty: leave it out" in lid
    charged = lid.split("When was it charged?")[1].split("What is inside?")[0]
    assert "good block" in charged and "swollen block" not in charged
    assert "good block" in look and "swollen block" in look
    assert not [sheet for sheet in (lid, look, tag) if "block at home" in sheet]
    assert f"charge by {by}" in tag and "first thing expires not known" in tag


def test_the_code_on_the_lid_is_the_address_of_the_kit(monkeypatch, small):
    asked = []
    made = paper.segno.make
    monkeypatch.setattr(
        paper.segno, "make", lambda address, **how: asked.append(address) or made(address, **how)
    )
    kit.lid(small, "Q1ABC", "go bag", base="https://kits.example.org/club/")
    assert asked == ["https://kits.example.org/club/kit?member=Q1ABC&kit=go+bag"]


def test_a_length_that_was_told_in_feet_is_said_as_fine_as_a_label():
    lead = {"item": "lead", "kind": "dc_lead", "length_m": 1.8288}
    club = small_club.assess(inventory=small_club.kit("QA1BC", "Bag", lead))
    assert [kit.details(item) for item in kit.items(club, 1)] == ["30 A, 1.83 m"]


@pytest.mark.parametrize("base", ["http://127.0.0.1:8611", "http://localhost:8501", "http://[::1]:8501"])
def test_no_code_leads_a_telephone_to_itself(monkeypatch, small, base):
    made = paper.segno.make
    drawn = []
    monkeypatch.setattr(
        paper.segno, "make", lambda address, **how: drawn.append(address) or made(address, **how)
    )

    def sheets(base: str) -> list[set[str]]:
        return [
            {*text(sheet).split()}  # wherever a page ends
            for sheet in (
                kit.lid(small, "Q1ABC", "go bag", base=base),
                kit.inspection(small, "Q1ABC", "go bag", base=base),
                kit.tags(small, [("Q1ABC", "go bag")], base=base),
                asks.asks(small, "Q1ABC", base=base),
            )
        ]

    without = sheets(base)
    assert drawn == []
    assert without == sheets("https://kits.example.org"), "the words stand as they do beside a code"
    assert len(drawn) == 4


def test_an_inspection_sheet_has_every_item_and_room_for_a_signature(small):
    said = text(kit.inspection(small, "Q1ABC", "go bag"))
    for item in ("lithium block", "worn lead", "bandages"):
        assert item in said
    assert "charge by 2027-07-09" in said and "good until 2027-06-30" in said
    assert "signature" in said and "the kit may go out" in said


def test_a_kit_of_which_no_inspection_is_known_is_due_now(assessment):
    assert kit.due(assessment, None) == "<b>now</b>, no day is known"
    assert kit.due(assessment, TODAY - timedelta(days=366)) == "<b>2027-02-28, late</b>"
    assert kit.due(assessment, TODAY) == "2028-02-29"
    open_one = assessment.con.execute(
        "select member, kit from kit where inspected is null limit 1"
    ).fetchone()
    assert "look over again: now, no day is known" in text(kit.tags(assessment, [open_one]))


@pytest.mark.parametrize(("days", "by"), [(30, "2027-03-31"), (30.5, "2027-03-31"), (1e9, "2127-03-02")])
def test_a_kit_is_due_when_the_club_asks_for_the_next_inspection(days, by):
    club = small_club.assess(f"[rules.not_inspected_this_year]\nwithin_days = {days}")
    assert kit.due(club, TODAY) == by


@pytest.mark.parametrize(("kits", "count"), [(0, 1), (1, 1), (8, 1), (9, 2)])
@pytest.mark.parametrize("name", ["A4", "letter"])
def test_eight_tags_stand_on_a_page(assessment, kits, count, name):
    named = list(assessment.table("kit")[["member", "kit"]].itertuples(index=False, name=None))[:kits]
    said = pages(kit.tags(assessment, named, name))
    assert len(said) == count
    assert all(member in " ".join(said) for member, _ in named)


def test_a_packing_list_holds_post_limits_charging_and_what_is_open(small):
    said = text(packing.packing(small, 1))
    assert "Gate" in said and "Fog Walk: Q1ABC with go bag" in said
    assert "Sun 2027-04-25 05:15 to 12:30" in said
    assert "walk, 3 km on foot" in said and "own limit 8.0 kg" in said
    assert "Charge on Sat 2027-04-24" in said
    assert "worn lead" not in said  # faulty things stay at home
    for caution in ("Lightning", "Beside traffic", "Heat and cold", "Carrying and walking"):
        assert f"{caution}:" in said
    for finding in small.findings(
        "s.post = 'Gate' and s.member = 'Q1ABC' and j.severity_no = 0 and j.ok is false"
    ):
        assert finding.fix.split(".")[0] in said


def test_a_packing_list_begins_with_where_and_when(assessment):
    said = pages(packing.packing(assessment, 1))
    row = assessment.con.execute(
        "select post, assignment.starts, assignment.ends from assignment join post using (post_id) where assignment_id = 1"
    ).fetchone()
    assert f"{row[0]} {told.from_to(*row[1:])}" in said[0]
    assert " ".join(said).index("Before you act") < " ".join(said).index("What goes along?")


def test_what_is_not_rechargeable_is_never_to_be_charged(assessment):
    """Alkaline cells burst on a charger."""
    shell = assessment.con.execute(
        "select item from item join kit using (kit_id) where member = 'QF7VBC' and kit = 'Event bag' and kind = 'dry_cell_shell'"
    ).fetchone()[0]
    assert f"{shell} 2 never: fit fresh cells" in text(kit.lid(assessment, "QF7VBC", "Event bag"))
    number = assessment.con.execute(
        "select min(assignment_id) from assignment join member using (member_id) where member = 'QF7VBC'"
    ).fetchone()[0]
    assert "alkaline, not rechargeable, 2 Ah never: fit fresh cells" in text(
        packing.packing(assessment, number)
    )


def test_a_lent_kit_that_lacks_a_fuse_says_so_where_it_is_carried(assessment):
    """What blocks a post because of a kit or its bearer stands on the packing list and in the packet."""
    sent = told.rows(assessment, f"{packing.SENT} where p.event = ?", RACE)
    bearing = told.bearing(assessment, RACE, sent)
    verdicts = told.verdicts(assessment, "post")
    stops = {
        post: [f for f in found if (f.severity, f.status) == ("blocks", "not met")]
        for post, found in bearing.items()
    }
    bad = [row["post"] for row in sent if verdicts[f"{RACE}/{row['post']}"].word == "not ready"]
    assert bad and all(stops[post] for post in bad)
    here = next(row for row in sent if any(f.subject_kind == "item" for f in stops[row["post"]]))
    why = next(f for f in stops[here["post"]] if f.subject_kind == "item")
    assert why.fix.split(".")[0] in text(packing.packing(assessment, here["assignment_id"]))
    packet = text(event.packet(assessment, RACE))
    grave = {f.title.lower() for found in stops.values() for f in found}
    assert why.title.lower() in grave and [title for title in grave if title not in packet] == []


@pytest.mark.parametrize("name", ["A4", "letter"])
def test_a_loan_slip_stands_twice_on_one_page(small, name):
    said = pages(loan.slip(small, 1, name))
    assert len(said) == 1
    assert said[0].count("club <i>battery</i>") == 3  # both halves and the running title
    assert "copy of the club" in said[0] and "copy of the borrower" in said[0]
    assert said[0].count("28 days late") == said[0].count("lent by the club") == 2
    for caution in (
        "Batteries and charging:",
        "Mains and generators:",
        "Masts and antennas:",
        "RF exposure:",
    ):
        assert said[0].count(caution) == 2, "nobody tells what it is"


@pytest.mark.parametrize(("owner", "lender"), [("member", "QA1BC"), ("club", "the club")])
@pytest.mark.parametrize("name", ["box", "qa1bc/Box"])
def test_a_slip_of_a_kit_that_is_lent_whole_says_whose_it_is_and_what_to_be_careful_of(owner, lender, name):
    lent = {
        "item": name,
        "borrower": "QB2CD",
        "out": pd.Timestamp("2027-02-20"),
        "due": pd.Timestamp("2027-03-06"),
    }
    things = [{"kind": "dc_lead", "owner": owner}, {"kind": "mast_fibreglass", "owner": owner}]
    said = text(
        loan.slip(small_club.assess(inventory=small_club.kit("QA1BC", "Box", *things), loans=[lent]), 1)
    )
    assert said.count(f"lent by {lender}") == 2
    assert "Masts" in said and "Batteries and charging" not in said


@pytest.mark.parametrize(
    ("kind", "role", "careful"),
    [
        ("supply_30a", "source", {"charging", "mains"}),
        ("power_station", "source", {"charging", "mains"}),
        ("charger_agm", "charger", {"charging", "mains"}),
        ("mag_mount", "antenna", {"masts", "exposure"}),
        ("clipboard", "paper", set()),
    ],
)
def test_a_thing_by_itself_is_handed_out_with_what_to_be_careful_of(kind, role, careful):
    assert kit.hazards([{"kind": kind, "role": role}]) == careful


def test_a_packing_list_says_what_was_agreed_for_the_post():
    told = {
        "site": "old quarry",
        "vehicle": False,
        "check_in_min": 30.0,
        "missed_check_in": "the sweep looks",
        "alert_path": "agency_radio",
        "shelter": "lime kiln",
    }
    hut = {"event": "Ride", "post": "Hut", "post_type": "remote"}
    late, ends = pd.Timestamp("2027-04-25 10:00"), small_club.EVENT["ends"]
    early = {"event": "Ride", "post": "Hut", "to": late}
    bag = small_club.kit("QB2CD", "Bag", small_club.HANDHELD)
    sent = [
        early | {"member": "QA1BC"},
        early | {"member": "QB2CD", "kit": "Bag"},
        early | {"member": "QA1BC", "from": late, "to": ends},
    ]
    asks = {
        "channel": "hill",
        "channel_alternate": "mill",
        "id_asked": True,
        "storm_watch": "radar",
        "minutes_to_care": 40.0,
    }

    def said(event: dict[str, object], **more: object) -> str:
        club = small_club.assess(
            inventory=bag, events=[small_club.EVENT | event], posts=[hut | more], assignments=sent
        )
        return re.sub(r"\s+", " ", text(packing.packing(club, 1)))

    agreed = said(asks, **told)
    for words in ("old quarry", "shelter lime kiln", "vehicle stays", "every 30 min", "the sweep looks", "agency radio", "storm watch radar",
                  "minutes to care 40 min", "asked of all identity card", "Channels: net hill; if it fails mill",
                  "Also sent there: QB2CD with Bag, Sun 06:00 to 10:00; you again without a kit, Sun 10:00 to 12:00",
                  "if the radio fails, call:"):  # fmt: skip
        assert words in agreed, words
    fair = said({"storms_possible": False, "temp_min_c": 10.0, "temp_max_c": 20.0}, beside_traffic=False)
    for words in ("check in", "vehicle stays", "storm watch", "asked of all", "minutes to care", "Lightning:", "Beside traffic:",
                  "Heat and cold:"):  # fmt: skip
        assert words not in fair, words


def test_each_battery_is_to_be_charged_whether_or_not_its_figures_are_told():
    """An unknown day of charge is now, whatever is known of the others; a supply and a generator hold no charge."""
    charged = {"charged": pd.Timestamp(TODAY)}
    block, pack = small_club.BATTERY | {"item": "block"}, small_club.PACK | {"item": "pack"}
    kits = {
        "Box": [block | charged | {"capacity_ah": None}, {"kind": "battery"}, {"kind": "supply_30a"}, {"kind": "generator"}],
        "Old": [block | {"charged": pd.Timestamp(TODAY - timedelta(days=400))}, pack],
        "Bag": [small_club.HANDHELD],
    }  # fmt: skip
    club = small_club.assess(
        inventory=[row for name, things in kits.items() for row in small_club.kit("QA1BC", name, *things)],
        events=[small_club.EVENT],
        posts=[{"event": "Ride", "post": "Hut", "post_type": "aid_station"}],
        assignments=[{"event": "Ride", "post": "Hut", "member": "QA1BC", "kit": "Box"}],
    )
    box, old = (
        text(kit.lid(club, "QA1BC", name)).split("When was it charged?")[1] for name in ("Box", "Old")
    )
    again, by = TODAY + timedelta(days=180), TODAY - timedelta(days=220)  # LiFePO4: every 180 days
    listed = f"battery not known not known not known block not known {TODAY} {again}"
    assert listed in box.split("Before you act")[0]
    assert f"{by}, late" in old
    packed = text(packing.packing(club, 1)).split("Charge on Sat 2027-04-24")[1].split("Before you act")[0]
    assert "block" in packed and "battery not known" in packed
    assert "supply_30a" not in box.split("Before you act")[0] + packed and "generator" not in packed
    tags = {name: text(kit.tags(club, [("QA1BC", name)])) for name in kits}
    assert "charge now, no day is known" in tags["Box"]
    assert f"charge by {by}, late" in tags["Old"]
    assert "nothing to charge" in tags["Bag"]


def test_each_turn_and_each_kit_of_a_person_at_a_post_has_a_packing_list_of_its_own():
    late = {"from": pd.Timestamp("2027-04-25 10:00")}
    sent = {"event": "Ride", "post": "Hut", "member": "QA1BC", "to": late["from"]}
    lent = {"kit": "Bag", "kit_owner": "QB2CD"}
    box, bag = (
        small_club.kit(member, name, small_club.HANDHELD)
        for member, name in (("QA1BC", "Box"), ("QB2CD", "Bag"))
    )
    club = small_club.assess(
        inventory=box + bag,
        events=[small_club.EVENT],
        posts=[{"event": "Ride", "post": post, "post_type": "aid_station"} for post in ("Hut", "Gate")],
        assignments=[
            sent | {"kit": "Box"}, sent | lent, sent | late | {"to": small_club.EVENT["ends"]},
            sent | {"post": "Gate", "member": "QB2CD"},
        ],
    ).part("from assignment")  # fmt: skip
    named = [name for name in of_event.of_event(club, "Ride") if name.startswith("packing list")]
    of = "packing list of QA1BC for Hut, Sun"
    assert named == [
        "packing list of QB2CD for Gate",
        f"{of} 06:00 to 10:00, Box",
        f"{of} 06:00 to 10:00, Bag of QB2CD",
        f"{of} 10:00 to 12:00, no kit",
    ]
