"""Loan slips: one for the club, one for the borrower, on one page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from reportlab.platypus import HRFlowable, KeepTogether

from dashboard.palette import LOANS
from dashboard.sheets import told
from dashboard.sheets.boxes import lines
from dashboard.sheets.kit import hazards
from dashboard.sheets.paper import LINE, Page, cautions, facts, gap, mark, para, status
from rules.engine import Assessment

SIGNED = [("borrower signs", None), ("club signs", None), ("taken back by", None)]
CONDITIONS = {"ok": "works", "faulty": "faulty", "unknown": "not tried"}
CARE = {"charging", "mains", "wiring", "masts", "exposure"}  # where nobody has told what the thing is


def slip(assessment: Assessment, loan_id: int, paper: str | None = None) -> bytes:
    """A loan on paper, twice: what is lent, to whom, until when, in what condition; room to sign.

    Raises
    ------
    SheetError
        There is no such loan or paper.
    """
    page = Page(paper)
    loan = told.one(assessment, "loan", "from loan where loan_id = ?", loan_id)
    things = told.rows(
        assessment,
        "select member, owner, role, kind from item join member using (member_id) where lower(item) = lower(?)",
        loan["item"],
    ) or told.rows(
        assessment,
        "select member, if(is_pool, 'club', 'member') as owner, role, kind from item join kit using (kit_id) "
        "where lower($1) in (lower(kit), lower(member || '/' || kit)) and condition <> 'removed'",
        loan["item"],
    )
    story = both(loan, whose(things), hazards(things) if things else CARE, assessment.today, page)
    return page.pdf(f"Loan: {loan['item']}", story, assessment.today)


def whose(things: Sequence[Mapping[str, Any]]) -> str:
    """Who lends a thing that several may hold, or a kit: the club if it has one, else the only member who does."""
    owners = {
        "the club" if thing["owner"] == "club" else thing["member"]
        for thing in things
        if thing["owner"] != "loan"  # whoever lists it has it from somebody else
    }
    if not owners or "the club" in owners:
        return "the club"
    return owners.pop() if len(owners) == 1 else "a member"


def both(loan: Mapping[str, Any], lender: str, careful: Iterable[str], today: date, page: Page) -> list[Any]:
    """The copies of the club and of the borrower, one below the other.

    Parameters
    ----------
    loan : item, borrower, out, due, back, condition_out and condition_in
    lender : who lends it, and where it is, as it follows "lent by"
    careful : what can hurt someone who takes it, by its name in the cautions
    """
    known: list[tuple[str, object]] = [
        ("borrower", loan["borrower"]),
        ("out", told.day(loan["out"])),
        ("due back", told.day(loan["due"])),
        ("condition going out", CONDITIONS.get(loan["condition_out"], loan["condition_out"])),
    ]
    back = [
        ("back", told.day(loan["back"]) if loan["back"] else None),
        ("condition coming in", CONDITIONS.get(loan["condition_in"], loan["condition_in"])),
        ("battery charged on", None),
        ("parts that belong to it", None),
    ]
    known += [(name, value) for name, value in back if value]
    blank = [(name, None) for name, value in back if not value]
    late = (today - loan["due"]).days if loan["due"] and not loan["back"] else 0
    overdue = status(LOANS["late"], told.many(late, "day") + " late")

    def half(owner: str) -> list[Any]:
        return [
            para(mark("Loan slip, copy of the {}", owner), "head"),
            para(loan["item"], "title"),
            para(mark("lent by {}", lender)),
            *([para(mark("{}: please bring it back or ask for longer.", overdue))] if late > 0 else []),
            gap(2),
            facts(known, page.width),
            *(lines(row, page.width) for row in (blank, SIGNED) if row),
            gap(3),
            *cautions(told.warned(careful), page.width),
        ]

    cut = HRFlowable(width="100%", thickness=0.6, color=LINE, dash=(3, 3), spaceBefore=14, spaceAfter=14)
    return [KeepTogether(half("club")), cut, KeepTogether(half("borrower"))]
