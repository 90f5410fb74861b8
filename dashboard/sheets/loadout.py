"""Packing list of a load-out, and loan slips of loans that are proposed for one event."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from reportlab.platypus import PageBreak

from dashboard import units
from dashboard.palette import ANSWERS
from dashboard.sheets import loan, told
from dashboard.sheets.kit import hazards, times
from dashboard.sheets.packing import PLACE, post_hazards
from dashboard.sheets.paper import Page, Tick, cautions, facts, gap, head, mark, para, status, table
from data import reference
from rules.engine import Assessment
from rules.plans.loadout import LoadOut
from rules.plans.loans import Borrowing


def careful(found: LoadOut, assessment: Assessment) -> set[str]:
    """What to be careful of with what goes along, and at the post."""
    roles = told.rows(
        assessment,
        "select kind, role from kind where list_contains(?, kind)",
        list(found.packing["kind"].unique()),
    )
    place = told.one(assessment, "post", f"{PLACE} where p.event || '/' || p.post = ?", found.post)
    return {"charging", "carrying", *hazards(roles), *post_hazards(place)}


def packing(found: LoadOut, assessment: Assessment, paper: str | None = None) -> bytes:
    """What goes along, module by module, and what stays at home, as one sheet to tick.

    Raises
    ------
    SheetError
        There is no such paper.
    """
    page = Page(paper)
    limit = "none" if found.carry_limit_kg is None else told.figure(found.carry_limit_kg, "kg")
    lines: list[Any] = [
        para(found.post, "title"),
        para(
            mark(
                "Packing list for <b>{}</b>: the lightest found that does there as the whole kit does.",
                found.kit,
            )
        ),
        para(
            "What is not known of the whole kit stays not known."
            if found.is_met
            else status(ANSWERS["blocks"], found.blocked)
        ),
        gap(1.5),
        facts(
            [
                ("goes along", told.amount(found.weight_kg, "kg", 1)),
                ("stays at home", told.amount(found.whole_kg - found.weight_kg, "kg", 1)),
                *(
                    [("carried beside, in other kits", told.amount(found.beside_kg, "kg", 1))]
                    if found.beside_kg
                    else []
                ),
                ("limit for carrying", limit),
                ("sure", "every lighter set fails" if found.is_proven else "lightest found so far"),
            ],
            page.width,
        ),
        head("What goes along?"),
    ]
    rows = found.packing.sort_values(["module", "line"]).to_dict("records")
    for module, things in groupby(rows, key=lambda row: row["module"]):
        body = [
            [Tick(), Tick(), times(row), row["item"], told.amount(row["weight_kg"], "kg", 1)]
            for row in things
        ]
        lines += [table(["in", "back", "", module, "weight"], body, [8, 9, 10, 116, 18], page.width), gap(2)]
    if found.stay:
        lines += [
            head("What stays at home?"),
            table(
                ["module", "pieces", "weight"],
                [
                    [module.module, module.items, told.amount(module.weight_kg, "kg", 1)]
                    for module in found.stay
                ],
                [120, 20, 20],
                page.width,
            ),
        ]
    if found.lacks:
        lines += [head("What the rules say against it, as with the whole kit"), *map(_against, found.lacks)]
    if found.unweighed:
        lines.append(para(f"No weight is known of: {', '.join(found.unweighed)}.", "small"))
    lines += cautions(told.warned(careful(found, assessment)), page.width)
    return page.pdf(f"{found.kit} at {found.post}", lines, assessment.today)


def _against(text: str) -> Any:
    """What the rules say against it, its severity with shape and colour."""
    return para(status(ANSWERS[text.partition(": ")[0]], units.said(text)))


def slips(found: Borrowing, assessment: Assessment, paper: str | None = None) -> bytes:
    """A loan slip, twice on a page, for every loan that is proposed for an event.

    Raises
    ------
    SheetError
        There is no such paper.
    """
    page = Page(paper)
    story: list[Any] = []
    roles = reference.table("kinds").set_index("kind")["role"]
    for lent, row in zip(found.loans, found.slips().to_dict("records"), strict=True):
        pieces = f"{times({'quantity': lent.pieces})} " if lent.pieces > 1 else ""
        held = row | {"item": pieces + lent.item, "out": row["out"].date(), "due": row["due"].date()}
        lender = f"{'the club' if lent.owner == 'club' else lent.lender.split('/')[0]}, from {lent.lender}"
        careful = hazards([{"kind": lent.kind, "role": roles[lent.kind]}])
        story += [PageBreak()] if story else []
        story += loan.both(held, lender, careful, assessment.today, page)
    return page.pdf(f"Loans for {found.event}", story, assessment.today)
