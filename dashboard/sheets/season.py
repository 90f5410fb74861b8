"""The season on paper, a page each: gaps, purchases, inspections due."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import PageBreak, Table

from dashboard.palette import ANSWERS, VERDICTS
from dashboard.sheets import told
from dashboard.sheets.kit import due, inspect_by
from dashboard.sheets.paper import BREAK, Page, Tick, facts, fitting, gap, joined, para, status, table, tall
from dashboard.sheets.purchases import NAMES, brings, to_buy
from rules.engine import Assessment
from rules.plans.purchases import Plan
from rules.verdicts import SEVERITIES

GAPS = (
    "select rule_no, count(distinct s.member) as members, count(*) filter (not j.ok) as not_met, "
    "count(*) filter (j.ok is null) as not_known from judgement as j join subject as s using (subject_kind, subject_id) "
    "where s.is_reported and j.ok is not true group by rule_no"
)
CLOSING = 12 * mm  # room for the line that says how many more there are


def review(assessment: Assessment, found: Plan | None, paper: str | None = None) -> bytes:
    """Pages for the club's meeting: gaps, purchases and inspections due; each stays on its page.

    Parameters
    ----------
    found : the plan of purchases; without one there is no page of them

    Raises
    ------
    SheetError
        There is no such paper.
    """
    page = Page(paper)
    story = [
        *_gaps(assessment, page),
        PageBreak(),
        *([*_purchases(found, page), PageBreak()] if found else []),
        *_inspections(assessment, page),
    ]
    return page.pdf("Season review", story, assessment.today)


def _listed(
    page: Page,
    above: list[Any],
    heads: Sequence[str],
    body: Sequence[Sequence[object]],
    shares: Sequence[float],
) -> list[Any]:
    """What stands above, then a table that stays on the same page, and how many rows are only in the dashboard."""

    def make(rows: Sequence[Any]) -> Table:
        return table(heads, rows, shares, page.width)

    drawn, left_out = fitting(body, make, page.height - tall(above, page.width) - CLOSING)
    return [
        *above,
        drawn,
        *([gap(1), para(f"And {left_out} more in the dashboard.", "small")] if left_out else []),
    ]


def _gaps(assessment: Assessment, page: Page) -> list[Any]:
    tallied = told.rows(
        assessment,
        "select subject_kind, verdict, count(*) as many from score join subject using (subject_kind, subject_id) "
        "where subject_kind in ('kit', 'member', 'post', 'event') group by all",
    )
    counts = {(row["subject_kind"], row["verdict"]): row["many"] for row in tallied}
    boxes: list[tuple[str, object]] = [
        (
            f"{kind}s",
            joined(
                [
                    status(found, f"{counts[kind, word]} {word}")
                    for word, found in VERDICTS.items()
                    if (kind, word) in counts
                ],
                BREAK,
            ),
        )
        for kind in ("member", "kit", "event", "post")
    ]
    found = told.rows(assessment, GAPS)
    found.sort(
        key=lambda row: (
            SEVERITIES.index(assessment.rules[row["rule_no"]].severity) > 1,
            -row["not_met"],
            assessment.rules[row["rule_no"]].name,
        )
    )
    body = []
    for row in found:
        rule = assessment.rules[row["rule_no"]]
        level = ANSWERS[rule.severity if row["not_met"] else "not known"]
        body.append(
            [status(level), rule.title, row["members"] or "", row["not_met"] or "", row["not_known"] or ""]
        )
    ready = sum(many for (kind, word), many in counts.items() if kind == "kit" and word.startswith("ready"))
    kits = sum(many for (kind, _), many in counts.items() if kind == "kit")
    above = [
        para("What is missing, and how often?", "title"),
        para(f"{ready} of {kits} kits can go, as of {assessment.today:%Y-%m-%d}."),
        gap(1),
        facts(boxes, page.width),
        gap(1),
    ]
    return _listed(page, above, ["", "gap", "members", "not met", "not known"], body, [22, 84, 18, 18, 20])


def _purchases(found: Plan, page: Page) -> list[Any]:
    above = [
        para("What should the club buy first?", "title"),
        para(brings(found)),
        para(
            "The page of purchases has the same plan for every budget, with its proof and the new findings."
        ),
        gap(2),
    ]
    if not found.lines:
        return [*above[:2], para("Nothing that closes a finding can be bought within this budget.")]
    return _listed(page, above, NAMES, to_buy(found), [6, 12, 32, 34, 12, 15, 58, 23])


def _inspections(assessment: Assessment, page: Page) -> list[Any]:
    kits = told.rows(
        assessment,
        "select kit.*, s.verdict, r.last_rehearsed from kit join score as s on s.subject_kind = 'kit' and s.subject_id = kit_id "
        "left join practice as r using (kit_id)",
    )
    for kit in kits:
        kit["due"] = inspect_by(assessment, kit["inspected"])
    kits.sort(key=lambda kit: (kit["due"] is not None, kit["due"] or date.min, kit["member"], kit["kit"]))
    late = sum(kit["due"] is None or kit["due"] < assessment.today for kit in kits)
    body = [
        [
            Tick(),
            kit["member"],
            kit["kit"],
            told.day(kit["inspected"]),
            due(assessment, kit["inspected"]),
            told.day(kit["last_rehearsed"]),
            status(VERDICTS[kit["verdict"]]),
        ]
        for kit in kits
    ]
    above = [
        para("Which kits are to be looked over?", "title"),
        para(
            f"{late} of {len(kits)} kits are due now, or nobody wrote when another member looked them over."
        ),
        gap(2),
    ]
    names = ["done", "member", "kit", "looked over", "due", "last tried", "verdict"]
    return _listed(page, above, names, body, [9, 24, 46, 22, 30, 22, 32])
