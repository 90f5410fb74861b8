"""The season on three pages: gaps, purchases, inspections due."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import PageBreak, Table

from dashboard.palette import ANSWERS, VERDICTS
from dashboard.sheets import told
from dashboard.sheets.kit import inspect_by
from dashboard.sheets.paper import (
    BREAK,
    Marked,
    Page,
    Tick,
    facts,
    fitting,
    gap,
    joined,
    mark,
    para,
    status,
    table,
    tall,
)
from rules.engine import SEVERITIES, Assessment

GAPS = (
    "select rule_no, count(distinct s.member) as members, count(*) filter (not j.ok) as not_met, "
    "count(*) filter (j.ok is null) as not_known from judgement as j join subject as s using (subject_kind, subject_id) "
    "where s.is_reported and j.ok is not true group by rule_no"
)
CLOSING = 12 * mm  # room for the line that says how many more there are


def review(assessment: Assessment, paper: str = "A4") -> bytes:
    """Three pages for the club's meeting: gaps, purchases and inspections due; each stays on its page.

    Raises
    ------
    SheetError
        There is no such paper.
    """
    page = Page(paper)
    story = [
        *_gaps(assessment, page),
        PageBreak(),
        *_purchases(assessment, page),
        PageBreak(),
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


def shopping(assessment: Assessment) -> list[dict[str, Any]]:
    """What would be bought for every gap that the price book can close, by the cheapest offer; dearest need first.

    One row per kind: offer, price_usd, wanted (kits, members or posts that lack it), buy (at most what is available),
    cost_usd, gaps (titles of the rules), paid_by. A kind is wanted once by each kit, member or post, however many
    rules ask for it.
    """
    book = {
        row["kind"]: row
        for row in told.rows(
            assessment,
            "select kind, arg_min(offer, price_usd) as offer, min(price_usd) as price_usd, "
            "arg_min(available, price_usd) as available, arg_min(paid_by, price_usd) as paid_by "
            "from offer where available is null or available > 0 group by kind",
        )
    }
    wanted: dict[str, set[tuple[str | None, ...]]] = {}
    titles: dict[str, dict[str, int]] = {}
    for finding in assessment.findings("j.ok is false"):
        kind = told.remedy(assessment, finding)
        if kind not in book:
            continue
        who = (finding.member, finding.kit) if finding.member else (finding.event, finding.post)
        wanted.setdefault(kind, set()).add(who)
        titles.setdefault(kind, {}).setdefault(finding.title, SEVERITIES.index(finding.severity))
    bought = []
    for kind, who in wanted.items():
        offer = book[kind]
        buy = len(who) if offer["available"] is None else min(len(who), offer["available"])
        worst = min(titles[kind].values())
        bought.append(
            {
                **offer,
                "wanted": len(who),
                "buy": buy,
                "cost_usd": buy * offer["price_usd"],
                "gaps": list(titles[kind]),
                "worst": worst,
            }
        )
    return sorted(bought, key=lambda row: (row["worst"], row["cost_usd"] / row["wanted"], row["kind"]))


def _purchases(assessment: Assessment, page: Page) -> list[Any]:
    bought = shopping(assessment)
    whole = sum(row["cost_usd"] for row in bought)
    body = [
        [
            Tick(),
            status(ANSWERS[SEVERITIES[row["worst"]]]),
            row["offer"],
            f"{row['buy']} of {row['wanted']}" if row["buy"] < row["wanted"] else str(row["buy"]),
            f"{row['price_usd']:.0f}",
            f"{row['cost_usd']:.0f}",
            row["paid_by"] or "not told",
            "; ".join(row["gaps"]).lower(),
        ]
        for row in bought
    ]
    above = [
        para("What would money mend?", "title"),
        para(
            mark(
                "The price book's cheapest offer for every gap that a purchase can close: <b>{} USD</b> in all. "
                "It is a list to choose from, not a plan: one thing may close several gaps, and gear that the club "
                "owns may serve as well.",
                f"{whole:,.0f}",
            )
        ),
        gap(2),
    ]
    if not body:
        return [
            above[0],
            para("No gap here can be closed from the price book. Send offers.csv to have prices."),
        ]
    names = ["buy", "", "offer", "how many", "USD each", "USD", "paid by", "what it closes"]
    return _listed(page, above, names, body, [9, 18, 42, 18, 16, 14, 18, 60])


def _inspections(assessment: Assessment, page: Page) -> list[Any]:
    kits = told.rows(
        assessment,
        "select kit.*, s.verdict, r.last_rehearsed from kit join score as s on s.subject_kind = 'kit' and s.subject_id = kit_id "
        "left join practice as r using (kit_id)",
    )
    for kit in kits:
        kit["due"] = inspect_by(kit["inspected"])
    kits.sort(key=lambda kit: (kit["due"] is not None, kit["due"] or date.min, kit["member"], kit["kit"]))
    late = sum(kit["due"] is None or kit["due"] < assessment.today for kit in kits)
    body = [
        [
            Tick(),
            kit["member"],
            kit["kit"],
            told.day(kit["inspected"]),
            _due(kit["due"], assessment.today),
            told.day(kit["last_rehearsed"]),
            status(VERDICTS[kit["verdict"]]),
        ]
        for kit in kits
    ]
    above = [
        para("Which kits are to be looked over?", "title"),
        para(f"{late} of {len(kits)} kits are due now or were never looked over by another member."),
        gap(2),
    ]
    names = ["done", "member", "kit", "looked over", "due", "last tried", "verdict"]
    return _listed(page, above, names, body, [9, 24, 46, 22, 30, 22, 32])


def _due(due: date | None, today: date) -> Marked:
    if due is None:
        return Marked("<b>now</b>, never done")
    return mark("<b>{}, late</b>" if due < today else "{}", told.day(due))
