"""Lists in two columns, read downwards: each group under its heading, which is said again where a column begins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Table, TableStyle

from dashboard.sheets.paper import FILL, INK, LINE, Page, cell

APART = 6 * mm  # between the columns
ABOVE = 2 * mm  # above a heading within a column
LOOSE, TIGHT = 2.0, 0.6  # points above and below a row
STEP = 2.0  # points by which columns are made longer until everything fits


@dataclass(frozen=True, eq=False)
class Entry:
    """One row of a list, `None` as its heading for a row that is a heading itself."""

    drawn: Table
    heading: Entry | None

    @cached_property
    def height(self) -> float:
        """Points; the width was given when it was drawn."""
        return float(self.drawn.wrap(0, 10_000)[1])


def width(page: Page) -> float:
    """Width of one of two columns, points."""
    return (page.width - APART) / 2


def entries(
    heads: Sequence[object],
    body: Sequence[Sequence[object]],
    shares: Sequence[float],
    page: Page,
    is_tight: bool = False,
) -> list[Entry]:
    """A heading and the rows below it, as one group of a list in columns; tight where it is to save a page."""
    apart = TIGHT if is_tight else LOOSE
    wide = [width(page) * share / sum(shares) for share in shares]
    heading = Entry(_row([cell(name, "label") for name in heads], wide, apart, is_head=True), None)
    return [heading, *(Entry(_row([cell(value) for value in row], wide, apart), heading) for row in body)]


def _row(cells: Sequence[Any], wide: Sequence[float], apart: float, is_head: bool = False) -> Table:
    drawn = Table([cells], colWidths=wide)
    look = [("BACKGROUND", (0, 0), (-1, -1), FILL), ("LINEBELOW", (0, 0), (-1, -1), 0.8, INK)]
    drawn.setStyle(
        TableStyle(
            [
                *(look if is_head else [("LINEBELOW", (0, 0), (-1, -1), 0.4, LINE)]),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("TOPPADDING", (0, 0), (-1, -1), apart),
                ("BOTTOMPADDING", (0, 0), (-1, -1), apart + 0.4),
                ("LEFTPADDING", (0, 0), (-1, -1), 3),
                ("RIGHTPADDING", (0, 0), (-1, -1), 3),
            ]
        )
    )
    return drawn


class Columns(Flowable):
    """Entries in two columns of like length; what does not fit goes on over the page."""

    def __init__(self, listed: Sequence[Entry]) -> None:
        super().__init__()
        self.listed = list(listed)
        self.placed: list[list[tuple[float, Entry]]] = []

    def _fill(self, listed: Sequence[Entry], height: float) -> tuple[list[tuple[float, Entry]], float]:
        """The entries that fit into one column, each with how far below its top it begins; and how much they fill."""
        column: list[tuple[float, Entry]] = []
        used = 0.0
        for number, entry in enumerate(listed):
            new = [entry] if column or entry.heading is None else [entry.heading, entry]
            follows = listed[number + 1 : number + 2] if entry.heading is None else []
            above = ABOVE if column and entry.heading is None else 0.0
            if used + above + sum(one.height for one in (*new, *follows)) > height:
                break
            for one in new:
                column.append((used + above, one))
                used, above = used + above + one.height, 0.0
        return column, used

    def _place(self, height: float) -> tuple[list[list[tuple[float, Entry]]], float, int]:
        """Both columns, how long the longer is, and how many entries they hold."""
        placed, longest, held = [], 0.0, 0
        for _ in range(2):
            column, used = self._fill(self.listed[held:], height)
            is_within = bool(column) and self.listed[held].heading is not None
            held += len(column) - is_within
            placed.append(column)
            longest = max(longest, used)
        return placed, longest, held

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.width, at = width, min(sum(entry.height for entry in self.listed) / 2, height)
        while True:
            self.placed, self.height, held = self._place(at)
            if held == len(self.listed):
                return width, self.height
            if at >= height:
                return width, height + 1
            at = min(at + STEP, height)

    def split(self, width: float, height: float) -> list[Flowable]:
        held = self._place(height)[2]
        return [Columns(self.listed[:held]), Columns(self.listed[held:])] if held else []

    def draw(self) -> None:
        for number, column in enumerate(self.placed):
            for below, entry in column:
                across = number * (self.width + APART) / 2
                entry.drawn.drawOn(self.canv, across, self.height - below - entry.height)
