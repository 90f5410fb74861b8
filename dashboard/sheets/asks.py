"""What a member is asked to do first: on paper, and as a letter to paste into a mail."""

from __future__ import annotations

import textwrap
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import KeepTogether

from dashboard import units
from dashboard.cautions import CHECK
from dashboard.palette import VERDICTS
from dashboard.sheets import told
from dashboard.sheets.paper import (
    SENTENCE,
    Page,
    Tick,
    beside,
    cautions,
    fix,
    framed,
    gap,
    mark,
    para,
    readable,
    sentence,
    status,
    table,
)
from rules.engine import Assessment

LETTER_WIDTH = 72
NOTHING = "Nothing to ask: what you can mend is in order. Thank you."
NOT_SENT = "No kit of yours has been sent yet, so what you can bring is not known. If you have one, please send a list of it."


def _scores(assessment: Assessment, member: str) -> list[dict[str, Any]]:
    """The member's own score, then one for each kit."""
    return told.rows(
        assessment,
        "select subject_kind, coalesce(kit, '') as kit, verdict, low, high from score "
        "join subject using (subject_kind, subject_id) where member = ? and subject_kind in ('member', 'kit') "
        "order by subject_kind = 'kit', kit",
        member,
    )


def _range(row: dict[str, Any]) -> str:
    ends = f"{row['low']:.0f}", f"{row['high']:.0f}"
    return ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"


def _cautions(asks: list[told.Ask]) -> list[str]:
    return list(dict.fromkeys(text for ask in asks for text in ask.cautions))


def _is_priced(ask: told.Ask) -> bool:
    """Whether what to do says already what it costs."""
    return not ask.cost and "USD" in ask.finding.fix


def asks(assessment: Assessment, member: str, paper: str | None = None, base: str = told.BASE) -> bytes:
    """One page with a member's asks, what each costs and what to be careful of.

    Raises
    ------
    SheetError
        There is no such member, paper or base address.
    """
    page, given = Page(paper), told.asks(assessment, member)
    own, *kits = _scores(assessment, member)
    left = [
        para(f"What should {member} fix first?", "title"),
        gap(1),
        para(mark("{}, score {} of 100", status(VERDICTS[own["verdict"]]), _range(own))),
        gap(1),
        para(
            "The score runs from what is sure to what is possible: writing down what is not known narrows it.",
            "small",
        ),
    ]
    lines: list[Any] = [beside(left, told.code(base, "kit", member=member), page.width, 28 * mm), gap(2)]
    for number, ask in enumerate(given, 1):
        found = ask.finding
        card = [
            para(mark("<b>{}. {}</b>", number, found.title), "text"),
            para(mark("{}: {}", status(told.mark_of(found)), sentence(found))),
            gap(1),
            para(mark("<b>What to do:</b> {}", fix(found))),
            *([] if _is_priced(ask) else [para(mark("<b>Cost:</b> {}", ask.cost or "nothing to buy"))]),
            gap(1),
            Tick("done on ____________"),
        ]
        lines += [KeepTogether([framed(card, page.width), gap(2.5)])]
    if not kits:
        lines.append(para(NOT_SENT))
    elif not given:
        lines.append(para(NOTHING))
    if kits:
        body = [[row["kit"], status(VERDICTS[row["verdict"]]), _range(row)] for row in kits]
        lines += [gap(2), table(["kit", "verdict", "score of 100"], body, [60, 40, 20], page.width)]
    lines += cautions(_cautions(given), page.width)
    return page.pdf(f"Asks for {member}", lines, assessment.today)


def letter(assessment: Assessment, member: str, base: str = told.BASE) -> str:
    """The same asks as plain text for a mail, lines of at most 72 signs; with the way to the page, where others have one.

    Raises
    ------
    SheetError
        There is no such member or base address.
    """
    given = told.asks(assessment, member)
    own, *kits = _scores(assessment, member)
    lines = [
        f"Hello {readable(member)},",
        "",
        *_wrapped(
            f"your kit list was looked over on {assessment.today:%Y-%m-%d}: {own['verdict']}, score {_range(own)} of 100."
            if kits
            else NOT_SENT
        ),
        "",
    ]
    if given:
        lines += [*_wrapped("What would help most, in this order:"), ""]
    for number, ask in enumerate(given, 1):
        found = ask.finding
        lines += _wrapped(f"{number}. {found.titled}", "   ")
        lines += _wrapped(f"   {readable(units.in_finding(found.sentence, found), SENTENCE)}", "   ")
        lines += _wrapped(f"   What to do: {readable(units.in_finding(found.fix, found), SENTENCE)}", "   ")
        lines += [*(_wrapped(f"   Cost: {readable(ask.cost)}", "   ") if ask.cost else []), ""]
    if kits and not given:
        lines += [NOTHING, ""]
    if said := _cautions(given):
        lines += ["Before you act:"]
        for text in said:
            lines += _wrapped(f"- {text}", "  ")
        lines += [CHECK, ""]
    page = told.address(base, "kit", member=member)
    if not told.is_of_this_machine(base):
        lines += ["Your page:", page, ""]
    return "\n".join(lines)


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, LETTER_WIDTH, subsequent_indent=indent, break_on_hyphens=False)
