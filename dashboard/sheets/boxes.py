"""How a form is drawn: blocks in boxes, lines to write on, tables whose empty rows fill the page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Paragraph, Table, TableStyle

from dashboard.sheets.blocks import Block, Form
from dashboard.sheets.paper import INK, LINE, Marked, Page, cell, gap, mark, para, style, table, words

ROW_MM = 7  # room to write a line by hand
PRINTED_MM = 5.5  # a row that is filled as far as the club can tell
LINE_MM = 9  # room to sign
APART = 3 * mm  # between two lines that are signed beside each other
Drawn = Callable[[int], list[Any]]  # what a form holds, with so many empty rows
Value = object | Callable[[float], Any]  # what stands in a box; a function is given the box's width, points


def boxes(page: Page, given: Sequence[tuple[Block, Value]], shares: Sequence[float]) -> Table:
    """Blocks side by side, each with its heading and what stands in it."""
    whole = sum(shares)
    widths = [page.width * share / whole for share in shares]
    drawn = Table(
        [
            [
                [para(block.name, "label"), gap(0.6), cell(value(width - 12) if callable(value) else value)]
                for (block, value), width in zip(given, widths, strict=True)
            ]
        ],
        colWidths=widths,
    )
    drawn.setStyle(
        TableStyle(
            [
                ("GRID", (0, 0), (-1, -1), 0.5, LINE),
                ("BOX", (0, 0), (-1, -1), 0.8, INK),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
            ]
        )
    )
    return drawn


def named(fields: Sequence[str], values: Sequence[object] = ()) -> Value:
    """Sub-fields with their values, or with a line to write on."""
    held = [*values, *[None] * (len(fields) - len(values))]
    if all(held):
        return Marked(
            " &nbsp; ".join(
                mark("{}:&nbsp;<b>{}</b>", Marked(field.replace(" ", "&nbsp;")), value)
                for field, value in zip(fields, held, strict=True)
            )
        )
    return lambda width: lines(list(zip(fields, held, strict=True)), width)


def lines(fields: Sequence[tuple[str, object]], width: float) -> Table:
    """Sub-fields beside each other, those without a value with a line as long as there is room."""
    cells: list[Any] = []
    look: list[tuple[Any, ...]] = [
        ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
    ]
    for field, value in fields:
        if not value:
            look.append(("LINEBELOW", (len(cells), 0), (len(cells), 0), 0.6, INK))
        cells += [para(mark("{}: <b>{}</b>", field, value) if value else f"{field}:", "cell"), ""]
    drawn = Table(
        [cells], colWidths=[width / len(fields) - APART, APART] * len(fields), rowHeights=LINE_MM * mm
    )
    drawn.setStyle(TableStyle(look))
    return drawn


def ticked(fields: Sequence[str]) -> Marked:
    """Words each with a box to tick."""
    return Marked(
        " &nbsp; ".join(
            words("\N{WHITE SQUARE}") + "&nbsp;" + field.replace(" ", "&nbsp;") for field in fields
        )
    )


def period(starts: datetime, ends: datetime) -> list[str]:
    """Dates and times of a period, in the order of the forms."""
    return [f"{starts:%Y-%m-%d}", f"{ends:%Y-%m-%d}", f"{starts:%H:%M}", f"{ends:%H:%M}"]


def heading(block: Block) -> Any:
    """A block's name above its table."""
    return para(block.name, "head")


def filled(
    page: Page,
    names: Sequence[str],
    body: Sequence[Sequence[object]],
    shares: Sequence[float],
    spare: int,
    least_mm: float = ROW_MM,
) -> Table:
    """A table with so many empty rows below; every row is at least so high, as a rule high enough to write in."""
    heads = [
        _column(name, page.width * share / sum(shares)) for name, share in zip(names, shares, strict=True)
    ]
    rows = [*body, *[[""] * len(names)] * spare]
    return table(heads, rows, shares, page.width, is_boxed=True, least_mm=least_mm)


def _column(name: str, width: float) -> Paragraph:
    """The heading of a column, broken at its strokes where a word is wider than the column."""
    look = style("column")
    is_wide = any(stringWidth(word, look.fontName, look.fontSize) > width - 6 for word in name.split())
    return para(name.replace("/", "/ ") if is_wide else name, "column")


def listed(page: Page, block: Block, lines: Sequence[object]) -> Table:
    """A block that holds a list; it may go on over the page, with its heading again."""
    drawn = Table(
        [[para(block.name, "label")], *([cell(line)] for line in lines)], colWidths=[page.width], repeatRows=1
    )
    drawn.setStyle(
        TableStyle(
            [
                ("BOX", (0, 0), (-1, -1), 0.8, INK),
                ("TOPPADDING", (0, 1), (-1, -1), 0),
                ("BOTTOMPADDING", (0, 0), (-1, -2), 0.5),
                ("BOTTOMPADDING", (0, -1), (-1, -1), 4),
            ]
        )
    )
    return drawn


def prepared(page: Page, asked: Form) -> list[Any]:
    """The last block: who prepared the form."""
    block = asked.blocks[-1]
    return [gap(2), boxes(page, [(block, named(block.fields))], [1])]


def fullest(page: Page, drawn: Drawn) -> list[Any]:
    """A form with as many empty rows as there is room for on the pages that it takes anyway."""
    pages, left = page.end(drawn(0))
    spare, step = 0, int(left // (ROW_MM * mm))
    while step:
        at, rest = page.end(drawn(spare + step))
        if at > pages:
            step //= 2
        else:
            spare, step = spare + step, int(rest // (ROW_MM * mm))
    return drawn(spare)
