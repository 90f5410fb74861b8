"""Loan slips: one for the club, one for the borrower, on one page."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from reportlab.platypus import HRFlowable, KeepTogether

from dashboard.sheets import told
from dashboard.sheets.paper import LINE, Page, cautions, facts, gap, mark, para
from rules.engine import Assessment

BLANK = "________________________"


def slip(assessment: Assessment, loan_id: int, paper: str = "A4") -> bytes:
    """A loan on paper, twice: what is lent, to whom, until when, in what condition; room to sign.

    Raises
    ------
    SheetError
        There is no such loan or paper.
    """
    page = Page(paper)
    loan = told.one(assessment, "loan", "from loan where loan_id = ?", loan_id)
    return page.pdf(f"Loan: {loan['item']}", both(loan, assessment.today, page), assessment.today)


def both(loan: Mapping[str, Any], today: date, page: Page) -> list[Any]:
    """The copies of the club and of the borrower, one below the other.

    Parameters
    ----------
    loan : item, borrower, out, due, back, condition_out and condition_in
    """
    late = (today - loan["due"]).days if loan["due"] and not loan["back"] else 0

    def half(whose: str) -> list[Any]:
        return [
            para(mark("Loan slip, copy of the {}", whose), "head"),
            para(loan["item"], "title"),
            para(
                mark("<b>{} days late</b>: please bring it back or ask for longer.", late)
                if late > 0
                else mark("lent by the club")
            ),
            gap(2),
            facts(
                [
                    ("borrower", loan["borrower"]),
                    ("out", told.day(loan["out"])),
                    ("due back", told.day(loan["due"])),
                    ("back", told.day(loan["back"]) if loan["back"] else BLANK),
                    ("condition going out", loan["condition_out"]),
                    ("condition coming in", loan["condition_in"] or BLANK),
                    ("battery charged on", BLANK),
                    ("parts that belong to it", BLANK),
                ],
                page.width,
            ),
            gap(4),
            facts(
                [("borrower signs", BLANK), ("club signs", BLANK), ("taken back by", BLANK)], page.width, 3
            ),
            *cautions(told.warned({"charging", "exposure"}), page.width),
        ]

    cut = HRFlowable(width="100%", thickness=0.6, color=LINE, dash=(3, 3), spaceBefore=14, spaceAfter=14)
    return [KeepTogether(half("club")), cut, KeepTogether(half("borrower"))]
