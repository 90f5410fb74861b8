"""What is wrong with a file that was sent, and what is told of it beside."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice
from typing import TypeVar

import numpy as np

from data.column_values import Read
from data.shown import seen, shown_value
from data.text_rows import Lines

LISTED_PROBLEMS = 1_000
LISTED_NOTICES = 50
# Between the name of a workbook and that of its sheet.
SHEET = ", sheet "
WORKBOOKS = (".xlsx", ".ods")

T = TypeVar("T")


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong: where, the value, what is wrong with it (reads after "is"), what to write.

    `line` is the physical line in the file, the first one when a row spans several, or the row of a sheet;
    0 means the whole file.
    """

    file: str
    line: int
    column: str
    value: str
    problem: str
    fix: str

    def __str__(self) -> str:
        """The whole sentence, as the sender reads it."""
        place = f"{self.file} {counted(self.file)} {self.line}" if self.line else self.file
        if self.column:
            place += f", {self.column}"
        what = f'"{self.value}" is {self.problem}' if self.value else self.problem
        return f"{place}: {what}. {self.fix}".rstrip()


def counted(file: str) -> str:
    """What its sender counts in a file: lines of a text, rows of a sheet."""
    return "row" if SHEET in file or file.casefold().endswith(WORKBOOKS) else "line"


class Findings:
    """Problems of one file, counted whole and listed up to a cap, and notices."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.count = 0
        self.notices: list[str] = []
        self._listed: list[tuple[int, int, Problem]] = []

    def add(self, line: int, order: int, column: str, value: str, problem: str, fix: str) -> None:
        """One problem; `order` is the place of its column in the file."""
        self.count += 1
        self._listed.append(
            (line, order, Problem(self.file, line, column, shown_value(value), seen(problem, "�"), fix))
        )

    def first(self, found: list[T]) -> list[T]:
        """As many as can be listed; the others are only counted."""
        self.count += max(0, len(found) - LISTED_PROBLEMS)
        return found[:LISTED_PROBLEMS]

    def add_column(self, order: int, name: str, read: Read, lines: Lines) -> None:
        """All rows of a column whose text is wrong."""
        if not read.wrong:
            return
        is_wrong = np.zeros(len(read.texts), dtype=bool)
        is_wrong[list(read.wrong)] = True
        rows = np.flatnonzero(is_wrong[read.codes])
        for row in self.first(rows.tolist()):
            code = int(read.codes[row])
            unread = read.wrong[code]
            value = read.texts[code].as_py()
            problem = unread.problem if value else f"{unread.problem} cell"
            self.add(int(lines[row]), order, name, value, problem, unread.fix)

    def take(self, others: Findings) -> None:
        """Those of a check that went on by itself, after one's own."""
        self.count += others.count
        self._listed += others._listed
        self.notices += others.notices

    def listed(self) -> list[Problem]:
        """In the order of the file."""
        return [
            problem for _, _, problem in sorted(self._listed, key=lambda found: found[:2])[:LISTED_PROBLEMS]
        ]


def tell(name: str, said: Iterable[tuple[str, str, int]], many: int, others: str, notices: list[str]) -> None:
    """Notices of a column: what stands in so many rows, and what to write; of those beyond the cap their number."""
    for what, fix, count in islice(said, LISTED_NOTICES):
        rows = "1 row" if count == 1 else f"{count:,} rows"
        notices.append(f"{name}: {what} ({rows}). {fix}".rstrip())
    if many > LISTED_NOTICES:
        notices.append(f"{name}: {many - LISTED_NOTICES:,} more {others}.")
