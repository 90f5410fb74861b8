"""The blocks of the public federal incident forms: numbers, titles and sub-fields.

FEMA/NIMS ICS Forms Booklet (FEMA 502-2). A block carries its number only where the number has been read in a copy
of the form; the others stand by their title.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

DATES = ("Date From", "Date To", "Time From", "Time To")
SIGNED = ("Name", "Position/Title", "Signature", "Date/Time")


@dataclass(frozen=True)
class Block:
    """One block of a form; `number` is "" where it has not been confirmed or there is none."""

    number: str
    title: str
    fields: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The block as its heading says it."""
        return ". ".join(filter(None, (self.number, self.title)))


@dataclass(frozen=True)
class Form:
    """A form: its number, title and blocks in order."""

    number: str
    title: str
    blocks: tuple[Block, ...]

    def block(self, title: str) -> Block:
        """A block by its title."""
        return next(block for block in self.blocks if block.title == title)


PERIOD = "Operational Period"
FORMS: Mapping[str, Form] = {
    form.number: form
    for form in (
        Form(
            "ICS 204",
            "Assignment List",
            (
                Block("1", "Incident Name"),
                Block("2", PERIOD, DATES),
                Block("3", "", ("Branch", "Division", "Group", "Staging Area")),
                Block(
                    "4",
                    "Operations Personnel",
                    ("Operations Section Chief", "Branch Director", "Division/Group Supervisor"),
                ),
                Block(
                    "5",
                    "Resources Assigned",
                    (
                        "Resource Identifier", "Leader", "# of Persons",
                        "Contact (e.g., phone, pager, radio frequency, etc.)",
                        "Reporting Location, Special Equipment and Supplies, Remarks, Notes, Information",
                    ),
                ),
                Block("6", "Work Assignments"),
                Block("7", "Special Instructions"),
                Block(
                    "8",
                    "Communications (radio and/or phone contact numbers needed for this assignment)",
                    ("Name/Function", "Primary Contact: indicate cell, pager, or radio (frequency/system/channel)"),
                ),
                Block("9", "Prepared by", SIGNED),
            ),
        ),
        Form(
            "ICS 205",
            "Incident Radio Communications Plan",
            (
                Block("1", "Incident Name"),
                Block("2", "Date/Time Prepared", ("Date", "Time")),
                Block("3", PERIOD, DATES),
                Block(
                    "4",
                    "Basic Radio Channel Use",
                    (
                        "Zone Grp.", "Ch #", "Function", "Channel Name/Trunked Radio System Talkgroup", "Assignment",
                        "RX Freq N or W", "RX Tone/NAC", "TX Freq N or W", "TX Tone/NAC", "Mode (A, D, or M)", "Remarks",
                    ),
                ),
                Block("5", "Special Instructions"),
                Block("6", "Prepared by (Communications Unit Leader)", ("Name", "Signature", "Date/Time")),
            ),
        ),
        Form(
            "ICS 205A",
            "Communications List",
            (
                Block("1", "Incident Name"),
                Block("2", PERIOD, DATES),
                Block(
                    "3",
                    "Basic Local Communications Information",
                    ("Incident Assigned Position", "Name (Alphabetized)", "Method(s) of Contact"),
                ),
                Block("4", "Prepared by", SIGNED),
            ),
        ),
        Form(
            "ICS 211",
            "Incident Check-In List",
            (
                Block("1", "Incident Name"),
                Block("2", "Incident Number"),
                Block("3", "Check-In Location", ("Base", "Staging Area", "ICP", "Helibase", "Other")),
                Block("4", "Start Date/Time", ("Date", "Time")),
                Block(
                    "5",
                    "List single resource personnel (overhead) by agency and name, OR list resources by format",
                    ("State", "Agency", "Category", "Kind", "Type", "Resource Name or Identifier", "ST or TF"),
                ),
                Block("6", "Order Request #"),
                Block("7", "Date/Time Check-In"),
                Block("8", "Leader's Name"),
                Block("9", "Total Number of Personnel"),
                Block("10", "Incident Contact Information"),
                Block("11", "Home Unit or Agency"),
                Block("12", "Departure Point, Date and Time"),
                Block("13", "Method of Travel"),
                Block("14", "Incident Assignment"),
                Block("15", "Other Qualifications"),
                Block("16", "Data Provided to Resources Unit"),
                Block("17", "Prepared by", SIGNED),
            ),
        ),
        Form(
            "ICS 214",
            "Activity Log",
            (
                Block("1", "Incident Name"),
                Block("2", PERIOD, DATES),
                Block("3", "Name"),
                Block("4", "ICS Position"),
                Block("5", "Home Agency (and Unit)"),
                Block("6", "Resources Assigned", ("Name", "ICS Position", "Home Agency (and Unit)")),
                Block("", "Activity Log", ("Date/Time", "Notable Activities")),
                Block("", "Prepared by", SIGNED),
            ),
        ),
        Form(
            "ICS 217A",
            "Communications Resource Availability Worksheet",
            (
                Block("", "Frequency Band"),
                Block("", "Description"),
                Block("", "Channel Configuration"),
                Block("", "Channel Name / Trunked Radio System Talkgroup"),
                Block("", "Eligible Users / Assignments"),
                Block("", "RX Freq N or W"),
                Block("", "RX Tone/NAC"),
                Block("", "TX Freq N or W"),
                Block("", "TX Tone/NAC"),
                Block("", "Mode A, D, or M"),
                Block("", "Remarks"),
            ),
        ),
        Form(
            "ICS 218",
            "Support Vehicle/Equipment Inventory",
            (
                Block("1", "Incident Name"),
                Block("2", "Incident Number"),
                Block("3", "Date/Time Prepared", ("Date", "Time")),
                Block("4", "Vehicle/Equipment Category"),
                Block(
                    "5",
                    "Vehicle/Equipment Information",
                    (
                        "Order Request Number", "Incident ID No.", "Vehicle or Equipment Classification",
                        "Vehicle or Equipment Make", "Category/Kind/Type, Capacity, or Size",
                        "Vehicle or Equipment Features", "Agency or Owner", "Operator Name or Contact",
                        "Vehicle License or ID No.", "Incident Assignment", "Incident Start Date and Time",
                        "Incident Release Date and Time",
                    ),
                ),
                Block("6", "Prepared by", ("Name", "Position/Title", "Signature")),
            ),
        ),
    )
}  # fmt: skip
