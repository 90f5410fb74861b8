"""Forms as the booklet has them: titles, blocks, what fills them, and the rows that stay empty."""

import io

import pandas as pd
import pytest
from pypdf import PdfReader
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth

from dashboard.sheets import boxes, forms, paper, told
from tests import small_club
from tests.conftest import RACE
from tests.printed import pages, text, unspaced

# Block titles, and numbers where they were read in the booklet: FEMA/NIMS ICS Forms Booklet (FEMA 502-2)
BLOCKS = {
    "205": ("Incident Radio Communications Plan", [
        "1. Incident Name", "2. Date/Time Prepared", "3. Operational Period", "4. Basic Radio Channel Use",
        "5. Special Instructions", "6. Prepared by (Communications Unit Leader)", "Zone Grp.", "Ch #", "Function",
        "Channel Name/Trunked Radio System Talkgroup", "Assignment", "RX Freq N or W", "RX Tone/NAC", "TX Freq N or W",
        "TX Tone/NAC", "Mode (A, D, or M)", "Remarks",
    ]),
    "205A": ("Communications List", [
        "1. Incident Name", "2. Operational Period", "3. Basic Local Communications Information",
        "Incident Assigned Position", "Name (Alphabetized)", "Method(s) of Contact", "4. Prepared by",
    ]),
    "204": ("Assignment List", [
        "1. Incident Name", "2. Operational Period", "3", "Branch", "Division", "Group", "Staging Area",
        "4. Operations Personnel", "Operations Section Chief", "Branch Director", "Division/Group Supervisor",
        "5. Resources Assigned", "Resource Identifier", "Leader", "# of Persons",
        "Contact (e.g., phone, pager, radio frequency, etc.)",
        "Reporting Location, Special Equipment and Supplies, Remarks, Notes, Information",
        "6. Work Assignments", "7. Special Instructions",
        "8. Communications (radio and/or phone contact numbers needed for this assignment)", "Name/Function",
        "Primary Contact: indicate cell, pager, or radio (frequency/system/channel)", "9. Prepared by",
    ]),
    "211": ("Incident Check-In List", [
        "1. Incident Name", "2. Incident Number", "3. Check-In Location", "4. Start Date/Time",
        "5. List single resource personnel (overhead) by agency and name, OR list resources by format",
        "6. Order Request #", "7. Date/Time Check-In", "8. Leader's Name", "9. Total Number of Personnel",
        "10. Incident Contact Information", "11. Home Unit or Agency", "12. Departure Point, Date and Time",
        "13. Method of Travel", "14. Incident Assignment", "15. Other Qualifications",
        "16. Data Provided to Resources Unit", "17. Prepared by",
    ]),
    "214": ("Activity Log", [
        "1. Incident Name", "2. Operational Period", "3. Name", "4. ICS Position", "5. Home Agency (and Unit)",
        "6. Resources Assigned", "Activity Log", "Notable Activities", "Prepared by",
    ]),
    "217A": ("Communications Resource Availability Worksheet", [
        "Frequency Band", "Description", "Channel Configuration", "Channel Name / Trunked Radio System Talkgroup",
        "Eligible Users / Assignments", "RX Freq N or W", "RX Tone/NAC", "TX Freq N or W", "TX Tone/NAC",
        "Mode A, D, or M", "Remarks",
    ]),
    "218": ("Support Vehicle/Equipment Inventory", [
        "1. Incident Name", "2. Incident Number", "3. Date/Time Prepared", "4. Vehicle/Equipment Category",
        "5. Vehicle/Equipment Information", "Order Request Number", "Incident ID No.",
        "Vehicle or Equipment Classification", "Vehicle or Equipment Make", "Category/Kind/Type, Capacity, or Size",
        "Vehicle or Equipment Features", "Agency or Owner", "Operator Name or Contact", "Vehicle License or ID No.",
        "Incident Assignment", "Incident Start Date and Time", "Incident Release Date and Time", "6. Prepared by",
    ]),
}  # fmt: skip


@pytest.mark.parametrize("number", BLOCKS)
@pytest.mark.parametrize("size", ["A4", "letter"])
def test_a_form_has_the_title_and_blocks_of_the_booklet(small, number, size):
    title, blocks = BLOCKS[number]
    said = unspaced(text(forms.form(small, number, "Fog Walk", size)))
    assert unspaced(f"ICS {number}: {title}") in said
    assert [block for block in blocks if unspaced(block) not in said] == []


@pytest.mark.parametrize("number", BLOCKS)
def test_only_a_confirmed_block_carries_a_number(number):
    confirmed = {block for block in BLOCKS[number][1] if block.partition(".")[0].isdigit()}
    assert {block.name for block in forms.FORMS[f"ICS {number}"].blocks if block.number} == confirmed


def test_only_forms_of_the_table_are_made():
    assert set(forms.FORMS) == {f"ICS {number}" for number in BLOCKS}


def test_forms_are_filled_from_the_club(small):
    plan = text(forms.form(small, "205", "Fog Walk"))
    assert "Date From: 2027-04-25" in plan and "Time To: 12:30" in plan and "Date: 2027-03-01" in plan
    assert "Gate A 2m fm" in plan and "Bridge D 2m digital_voice" in plan
    listed = text(forms.form(small, "204", "Fog Walk"))
    assert "Q1ABC Q1ABC 1 radio, 2m Gate" in listed and "Bridge: " in listed
    assert "Gate Q1ABC radio, 2m" in text(forms.form(small, "205A", "Fog Walk"))
    assert "radio kit" in text(forms.form(small, "218", "Fog Walk"))
    resources = text(forms.form(small, "217A"))
    assert "2m (144 to 148 MHz)" in resources and "1 members" not in resources


def test_a_radio_plan_names_the_channels_and_who_brings_two_kits_is_listed_once():
    channels = {"channel": "hill <repeater>", "channel_simplex": "valley simplex"}
    two = [{"event": "Ride", "post": "Hut", "member": "QA1BC", "kit": kit} for kit in ("Bag", "Box")]
    club = small_club.assess(
        inventory=[row for one in two for row in small_club.kit("QA1BC", one["kit"], small_club.HANDHELD)],
        events=[small_club.EVENT | channels],
        posts=[{"event": "Ride", "post": "Hut", "post_type": "remote"}],
        assignments=two,
    )
    plan = text(forms.form(club, "205", "Ride"))
    assert "net hill <repeater> all posts" in plan and "simplex valley simplex all posts" in plan
    assert "if it fails" not in plan
    assert "net hill <repeater> simplex valley simplex 9. Prepared by" in text(
        forms.form(club, "204", "Ride")
    )
    assert text(forms.form(club, "205A", "Ride")).count("QA1BC") == 1
    assert "Hut, Hut" not in text(forms.form(club, "211", "Ride"))


def test_who_brings_two_kits_and_a_kit_that_two_bring_each_stand_once():
    box, second = (
        small_club.kit("QA1BC", name, small_club.MOBILE | {"rf_watts": watts})
        for name, watts in (("Box", 50.0), ("Second", 25.0))
    )
    other = small_club.kit("QB2CD", "Box", small_club.MOBILE | {"rf_watts": 10.0}, small_club.BATTERY)
    sent = {"event": "Ride", "post": "Hut"}
    late = {"from": pd.Timestamp("2027-04-25 10:00")}
    club = small_club.assess(
        inventory=box + second + other,
        members=[{"member": "QC3EF"}],
        events=[small_club.EVENT],
        posts=[sent | {"post_type": "remote"}, sent | {"post": "Gate", "post_type": "remote"}],
        assignments=[
            sent | {"member": "QA1BC", "kit": "Box", "to": late["from"]},
            sent | {"member": "QA1BC", "kit": "Second", "to": late["from"]},
            sent | late | {"member": "QC3EF", "kit": "Box", "kit_owner": "QA1BC"},
            sent | {"member": "QB2CD", "kit": "Box"},
            sent | late | {"member": "QA1BC", "post": "Gate", "kit": "Second"},
        ],
    )
    listed = text(forms.form(club, "204", "Ride"))
    assert "QA1BC, QB2CD, QC3EF 3 Hut, Box of QA1BC, Second of QA1BC, Box of QB2CD QA1BC" in listed
    assert "QA1BC QA1BC 1 Gate, Second of QA1BC" in listed
    log = text(forms.form(club, "214", "Ride", post="Hut"))
    assert log.count("QA1BC Hut") == log.count("QB2CD Hut") == log.count("QC3EF Hut") == 1
    held = text(forms.form(club, "218", "Ride"))
    hours = "2027-04-25 06:00 2027-04-25 12:00"
    assert held.count("radio kit") == 3
    assert f"50 W 2m 70cm QA1BC QA1BC, QC3EF Box Hut {hours}" in held
    assert f"25 W 2m 70cm QA1BC QA1BC Second Hut, Gate {hours}" in held
    assert f"QB2CD QB2CD Box Hut {hours}" in held


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_a_check_in_list_keeps_call_signs_whole(assessment, size):
    said = text(forms.form(assessment, "211", RACE, paper=size))
    sent = assessment.con.execute(
        "select distinct member from assignment join member using (member_id) join event using (event_id) "
        "where event = ?", [RACE]
    ).fetchall()  # fmt: skip
    assert [member for (member,) in sent if said.count(member) != 2] == []


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_no_word_of_a_column_s_heading_is_broken(assessment, size, monkeypatch):
    """What is wider than its column is cut anywhere: `Typ` and below it `e`."""
    drawn, look = boxes._column, paper.style("column")
    seen, broken = [], []

    def column(name, width):
        widest = max(
            stringWidth(word, look.fontName, look.fontSize) for word in name.replace("/", "/ ").split()
        )
        (broken if widest > width - 6 else seen).append(name)
        return drawn(name, width)

    monkeypatch.setattr(boxes, "_column", column)
    for number in ("204", "205", "205A", "211", "214", "217A", "218"):
        forms.form(assessment, number, RACE, paper=size)
    assert broken == [] and "Type" in seen


def lowest_mm(page) -> float:
    """How far above the edge the last thing that a page says stands, mm; its running foot apart."""
    heights: list[float] = []
    page.extract_text(
        visitor_text=lambda said, cm, tm, *_: heights.append(tm[5] * cm[3] + cm[5]) if said.strip() else None
    )
    return min(height for height in heights if height > 10 * mm) / mm


@pytest.mark.parametrize("number", BLOCKS)
@pytest.mark.parametrize("size", ["A4", "letter"])
def test_empty_rows_fill_the_pages_that_a_form_takes_anyway(monkeypatch, small, assessment, number, size):
    """The last page of a form, each page of a log, ends less than two rows above the foot,
    and takes no page more than it must."""
    large = [(assessment, RACE)] if number != "214" else []
    for club_, name in [(small, "Fog Walk"), (small, "=cmd|Walk"), *large]:
        read = PdfReader(io.BytesIO(forms.form(club_, number, name, size))).pages
        ends = read if number == "214" else read[-1:]
        assert [round(lowest_mm(page)) for page in ends if lowest_mm(page) > 15 + 2 * boxes.ROW_MM] == []
        with monkeypatch.context() as bare:
            bare.setattr(forms, "fullest", lambda page, drawn: drawn(0))
            assert len(read) == len(pages(forms.form(club_, number, name, size)))


def test_a_form_with_more_posts_than_a_page_holds_goes_on(small, monkeypatch):
    real = told.rows
    monkeypatch.setattr(
        told, "rows", lambda club_, sql, *given: real(club_, sql, *given) * (60 if sql == forms.POSTS else 1)
    )
    said = text(forms.form(small, "204", "Fog Walk"))
    assert said.count("Bridge: mile marker or marshal") == 60


def test_courses_stand_as_on_their_certificates():
    assert forms._skills("general", "is100 is700") == "general, IS-100 IS-700"
    assert forms._skills(None, "aux_comm") == "aux comm" and forms._skills(None, None) == ""


def test_a_log_has_a_page_for_each_post_or_for_the_one_asked(small):
    every = pages(forms.form(small, "214", "Fog Walk"))
    assert len(every) == 2
    assert "Gate" in every[0] and "Bridge" in every[1]
    assert len(pages(forms.form(small, "214", "Fog Walk", post="Bridge"))) == 1


@pytest.mark.parametrize(
    ("modes", "said"), [("fm", "A"), ("packet", "D"), ("fm packet", "M"), (None, ""), ("", "")]
)
def test_modes_are_analogue_digital_or_mixed(modes, said):
    assert forms._mode(modes) == said
