"""From the bytes that somebody sent to typed rows, or to everything that is wrong with them.

An upload is taken whole or not at all. The bytes become rows of text (`text_rows`), their headings tell the columns
(`headings`), and each distinct text of a column is understood once (`column_values`).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from itertools import islice
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from data import clocks, column_values, headings, reference, schema, text_rows, usual
from data.column_values import Read, plain, where
from data.headings import ADDED, plain_heading
from data.schema import Column, Converted
from data.shown import seen, shown_name, shown_value
from data.text_rows import Lines, Raw

LISTED_PROBLEMS = 1_000
LISTED_NOTICES = 50
# Payloads from this size on try the fast lane.
FAST_FROM = 1 << 18
# Rows beyond which two checks go on at once.
LONG = 20_000
_NUMBER = re.compile(r"[+-]?[0-9]+([.,][0-9]+)?(e[+-]?[0-9]+)?")
# Between the name of a workbook and that of its sheet.
SHEET = ", sheet "
WORKBOOKS = (".xlsx", ".ods")
# Before the place of the row that says the same as another.
ALREADY = "written already in"
# What a blank list says, under notes, of the row that shows how it is filled in.
EXAMPLE = "delete this example row"

T = TypeVar("T")
Aliases = Mapping[str, Mapping[str, str]]
NO_ALIASES: Aliases = {}


@dataclass(frozen=True)
class Limits:
    """Largest payload in bytes and most rows."""

    size: int
    rows: int


UPLOAD = Limits(size=5 << 20, rows=20_000)
FOLDER = Limits(size=1 << 30, rows=5_000_000)


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


@dataclass(frozen=True)
class Upload:
    """What was read.

    Attributes
    ----------
    stem : which file it is, a key of `schema.FILES`; "" when that could not be told
    rows : the cells as written, a column for each heading in the order of the file (dictionary-encoded, NULL for "")
    lines : shape (rows,), physical line of each row
    names : for each heading the column of the contract that it stands for, or "" for an unknown one
    table : typed rows with every column of the file's model (dictionary-encoded), or None when there are problems
    problems : at most `LISTED_PROBLEMS`, in the order of the file
    torn : rows that do not fit the heading, by line, as written
    payload : the bytes as sent
    """

    file: str
    stem: str
    encoding: str
    delimiter: str
    rows: pa.Table
    lines: Lines
    names: tuple[str, ...]
    table: pa.Table | None
    problems: list[Problem]
    notices: list[str]
    torn: dict[int, list[str]] = field(default_factory=dict)
    payload: bytes = field(default=b"", repr=False)

    @property
    def is_accepted(self) -> bool:
        """Whether the whole file can be taken."""
        return self.table is not None

    @cached_property
    def frame(self) -> pd.DataFrame | None:
        """Typed rows as pandas has them: missing text and numbers NaN, missing whole and yes/no NA."""
        return None if self.table is None else to_frame(self.table)


_PANDAS = {
    pa.string(): pd.StringDtype(na_value=np.nan),
    pa.bool_(): pd.BooleanDtype(),
    pa.int64(): pd.Int64Dtype(),
}


def to_frame(table: pa.Table) -> pd.DataFrame:
    """Frame with the types of the models."""
    rows = pa.table([plain(column.combine_chunks()) for column in table.columns], table.column_names)
    frame: pd.DataFrame = rows.to_pandas(types_mapper=_PANDAS.get, date_as_object=False)
    return frame.astype({"line": "int64"})


def read(
    name: str,
    payload: bytes,
    kind_of_file: str | None = None,
    limits: Limits = UPLOAD,
    aliases: Aliases = NO_ALIASES,
) -> Upload:
    """Read one file.

    Parameters
    ----------
    name : file name as the sender gave it; only shown, and looked at to tell which file it is
    kind_of_file : key of `schema.FILES` when it is known; otherwise told from the headings or the name
    aliases : the club's own writings of words, by list of words (kind, plug, coax …) and writing
    """
    file = shown_name(name)
    stem = kind_of_file or ""

    def refuse(problem: str, fix: str, encoding: str = "") -> Upload:
        return refused(name, payload, problem, fix, stem, encoding)

    if len(payload) > limits.size:
        return refuse(
            f"the file has {len(payload):,} bytes; {limits.size:,} are allowed",
            "Send the rows in several files.",
        )
    foreign = text_rows.foreign(payload)
    if foreign:
        fix = "Save the sheet as CSV (UTF-8) and send that."
        return refuse(
            f"the file is {foreign}, not CSV", fix if foreign in text_rows.TABLES else headings.INTO_A_BLANK
        )
    decoded = text_rows.decoded(payload)
    if decoded is None:
        return refuse("the file is not text that can be read", "Save the sheet as CSV (UTF-8) and send that.")
    body, encoding = decoded
    if b"\0" in body:
        return refuse(
            "the file holds signs that no text has", "Save the sheet as CSV (UTF-8) and send that.", encoding
        )
    if not re.search(rb"\S", body):
        return refuse("the file is empty", "Write the headings in the first line, a row in each line below.")

    delimiter, heading, heading_line = headings.found(body)
    between, parts = headings.in_one_cell(heading)
    if between:
        stem = stem or headings.which_file(file, parts)
        return refuse(
            f"all headings stand in one cell, with {between} between them",
            "Put each heading and each value into a cell of its own, save the sheet as CSV (UTF-8) with commas, "
            "semicolons or tabs between the cells, and send that.",
            encoding,
        )
    line, told = headings.below(body, heading)
    if line:
        stem = stem or told
        above = f"lines 1 to {line - 1}" if line > 2 else "line 1"
        return refuse(
            f"the headings stand in line {line}, below other rows",
            f"Delete {above}, so that the headings stand in the first line, and send the file again.",
            encoding,
        )
    raw = (
        text_rows.fast(body, delimiter, heading, heading_line, limits.rows)
        if len(body) >= FAST_FROM
        else None
    )
    if raw is None:
        raw = text_rows.careful(body, delimiter, limits.rows)
    findings = _Findings(file)
    if encoding == "cp1252":
        findings.notices.append(
            "The file is not UTF-8; it was read as Windows-1252. Check letters with accents."
        )
    return replace(_understand(stem, encoding, delimiter, raw, findings, aliases), payload=payload)


def refused(name: str, payload: bytes, problem: str, fix: str, stem: str = "", encoding: str = "") -> Upload:
    """A file that cannot be read at all, with the one reason."""
    file = shown_name(name)
    wrong = [Problem(file, 0, "", "", problem, fix)]
    nothing = np.empty(0, dtype=np.int64)
    return Upload(file, stem, encoding, "", pa.table({}), nothing, (), None, wrong, [], payload=payload)


class _Findings:
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

    def take(self, others: _Findings) -> None:
        """Those of a check that went on by itself, after one's own."""
        self.count += others.count
        self._listed += others._listed
        self.notices += others.notices

    def listed(self) -> list[Problem]:
        """In the order of the file."""
        return [
            problem for _, _, problem in sorted(self._listed, key=lambda found: found[:2])[:LISTED_PROBLEMS]
        ]


@dataclass(frozen=True)
class _Typed:
    """The typed columns of a file, the place of those that were sent among its headings, and the lines of its rows."""

    stem: str
    typed: dict[str, pa.Array]
    orders: dict[str, int]
    lines: Lines


def _understand(
    stem: str, encoding: str, delimiter: str, raw: Raw, findings: _Findings, aliases: Aliases
) -> Upload:
    file, notices = findings.file, findings.notices
    stem = stem or headings.which_file(file, raw.heading)
    raw = _without_empty_rows(raw)
    if raw.heading and not stem:
        findings.add(0, 0, "", "", *headings.unlike(raw.heading, is_torn=len(raw.broken) > len(raw.lines)))
    else:
        for line, _, problem, fix in findings.first(raw.broken):
            findings.add(line, 0, "", "", problem, fix)
    names: tuple[str, ...] = ("",) * len(raw.heading)
    table = None
    if not raw.heading and not raw.broken:
        findings.add(0, 0, "", "", "no headings", "Write the headings in the first line.")
    elif raw.heading and stem:
        names = _check_headings(stem, raw, findings)
        table = _type_rows(stem, delimiter != ",", raw, names, findings, aliases)
        if not len(raw.lines) and not findings.count:
            findings.add(0, 0, "", "", "no rows below the headings", "Write at least one row below them.")
    problems = findings.listed()
    if findings.count > len(problems):
        more = findings.count - len(problems)
        more_are = "1 more problem is" if more == 1 else f"{more:,} more problems are"
        notices.append(f"{more_are} not listed; mend these first and send the file again.")
    rows = pa.Table.from_arrays(raw.columns, names=raw.heading)
    torn = {line: written for line, written, _, _ in raw.broken}
    accepted = None if findings.count else table
    return Upload(file, stem, encoding, delimiter, rows, raw.lines, names, accepted, problems, notices, torn)


def _without_empty_rows(raw: Raw) -> Raw:
    """Without empty rows and nameless empty columns; what an annotated copy adds does not fill a row."""
    keep = [
        position
        for position, heading in enumerate(raw.heading)
        if heading.strip() or not column_values.is_empty(raw.columns[position]).all()
    ]
    heading = [raw.heading[position] for position in keep]
    columns = [raw.columns[position] for position in keep]
    rows = np.arange(len(raw.lines))
    for name, column in zip(heading, columns, strict=True):
        if plain_heading(name)[0] in ADDED:
            continue
        rows = rows[column_values.is_empty(column)[rows]]
        if not len(rows):
            return Raw(heading, raw.heading_line, columns, raw.lines, raw.broken)
    filled = np.ones(len(raw.lines), dtype=bool)
    filled[rows] = False
    kept = pa.array(filled)
    return Raw(
        heading, raw.heading_line, [column.filter(kept) for column in columns], raw.lines[filled], raw.broken
    )


def _check_headings(stem: str, raw: Raw, findings: _Findings) -> tuple[str, ...]:
    """Name of each heading; a name that comes twice, a wrong unit or a missing column is a problem."""
    columns = schema.columns(stem)
    names: list[str] = []
    first: dict[str, str] = {}
    unknown: dict[str, str] = {}
    for order, heading in enumerate(raw.heading):
        name, problem = headings.name_of(heading, stem)
        plain = plain_heading(heading)[0]
        if problem:
            findings.add(
                raw.heading_line, order, "heading", heading, problem, "Convert the column and its heading."
            )
        elif not plain:
            fix = "Write what the column holds, or clear the column."
            findings.add(raw.heading_line, order, "heading", "", "a column without a heading", fix)
        elif (name or plain) in first:
            fix = "Keep one of the two columns."
            problem = f'a heading that stands already as "{shown_value(first[name or plain])}"'
            findings.add(raw.heading_line, order, "heading", heading, problem, fix)
            name = ""
        elif not name and plain not in ADDED:
            unknown[heading.strip()] = headings.meant(
                heading, stem, [known for known in columns if known not in first]
            )
        first.setdefault(name or plain, heading)
        names.append(name)
    for missing, column in columns.items():
        if column.required and missing not in names:
            near = next((heading for heading, known in unknown.items() if known == missing), "")
            unknown.pop(near, None)
            fix = f'Rename "{shown_value(near)}" to {missing}.' if near else f"Add it. {column.description}"
            findings.add(raw.heading_line, len(names), missing, "", "the column is missing", fix)
    for heading, near in unknown.items():
        hint = f" Did you mean {near}?" if near and near not in names else ""
        findings.notices.append(
            f'The column "{shown_value(heading)}" is not known; it is kept and not used.{hint}'
        )
    return tuple(names)


def _type_rows(
    stem: str,
    decimal_comma: bool,
    raw: Raw,
    names: tuple[str, ...],
    findings: _Findings,
    aliases: Aliases,
) -> pa.Table:
    """Every column of the contract, typed; what is wrong goes to `findings`."""
    columns = schema.columns(stem)
    converted = schema.converted(stem)
    asked = [_as_sent(name, columns, converted) for name in names]
    reads = column_values.read_columns(raw.columns, asked, decimal_comma, aliases)
    count = len(raw.lines)
    typed: dict[str, pa.Array] = {}
    orders = {name: order for order, name in enumerate(names) if name}
    formulas = 0
    for order, (name, heading, read) in enumerate(zip(names, raw.heading, reads, strict=True)):
        shown = name or shown_value(heading.strip())
        findings.add_column(order, shown, read, raw.lines)
        formulas += read.formulas
        _tell_notes(shown, read, findings.notices)
        if name:
            typed[name] = read.column()
    if formulas:
        findings.notices.append(
            "One cell begins like a formula; it is kept as text and never worked out."
            if formulas == 1
            else f"{formulas:,} cells begin like a formula; they are kept as text and never worked out."
        )
    rows = _Typed(stem, typed, orders, raw.lines)
    for name, other in converted.items():
        if name in typed:
            _merge_converted(name, other, rows, findings)
    for name, column in columns.items():
        if name not in typed:
            typed[name] = column_values.same(column.default, count, column_values.type_of(column))
        if column.default_from and column.default_from in typed:
            typed[name] = column_values.filled(typed[name], typed[column.default_from])
    _check(rows, findings)
    if stem == "inventory" and not findings.count and 0 < count <= UPLOAD.rows:
        _tell_copies(raw, findings)
    where = {"line": pa.array(raw.lines), "file": column_values.same(findings.file, count, pa.string())}
    return pa.table({**where, **{name: typed[name] for name in columns}})


def _check(rows: _Typed, findings: _Findings) -> None:
    """What values must be to one another and to the kind of their thing; in a long file two checks go on at once."""
    checks = (
        _check_orders, _check_usual, _tell_watts, _tell_measured, _check_chemistry, _check_wire, _check_zone, _check_clock,
        _check_vehicles, _check_example, _check_key,
    )  # fmt: skip
    if len(rows.lines) <= LONG:
        for check in checks:
            check(rows, findings)
        return
    found = [_Findings(findings.file) for _ in checks]
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(lambda check, own: check(rows, own), checks, found))
    for own in found:
        findings.take(own)


def _as_sent(name: str, columns: dict[str, Column], converted: dict[str, Converted]) -> Column:
    """Column as it stands in the file: the contract's, the converted one with its range, or any text."""
    if name in columns:
        return columns[name]
    if other := converted.get(name):
        column = columns[other.to]
        low, high = (
            None if bound is None else (bound - other.added) / other.factor
            for bound in (column.low, column.high)
        )
        mend = column.mend.replace(
            f"in {column.unit} from {column.low:g} to {column.high:g}", f"in {other.unit}"
        )
        return replace(column, name=name, unit=other.unit, low=low, high=high, mend=mend)
    return Column(name, schema.TEXT, name, "", "", None, None, "", (), "", False, None, "", "")


def _tell_notes(name: str, read: Read, notices: list[str]) -> None:
    counts = np.bincount(read.codes, minlength=len(read.texts)) if read.notes else np.empty(0)
    written = [code for code in read.notes if counts[code]]
    said = (
        (f'"{shown_value(read.texts[code].as_py())}" {read.notes[code]}', "", counts[code])
        for code in written
    )
    _tell(name, said, len(written), "texts were read so", notices)


def _tell(
    name: str, said: Iterable[tuple[str, str, int]], many: int, others: str, notices: list[str]
) -> None:
    """Notices of a column: what stands in so many rows, and what to write; of those beyond the cap their number."""
    for what, fix, count in islice(said, LISTED_NOTICES):
        rows = "1 row" if count == 1 else f"{count:,} rows"
        notices.append(f"{name}: {what} ({rows}). {fix}".rstrip())
    if many > LISTED_NOTICES:
        notices.append(f"{name}: {many - LISTED_NOTICES:,} more {others}.")


def _check_usual(rows: _Typed, findings: _Findings) -> None:
    """Numbers that a thing cannot have are problems; those that it seldom has are told."""
    columns, converted = schema.columns(rows.stem), schema.converted(rows.stem)
    sent = {converted[name].to if name in converted else name: order for name, order in rows.orders.items()}
    places = usual.places(rows.typed["kind"]) if "kind" in columns else None
    for name in [name for name in usual.usual() if name in sent]:
        told: Counter[tuple[str, str]] = Counter()
        found = usual.odd(columns[name], rows.typed[name], places)
        for odd in findings.first([odd for odd in found if odd.is_sure]):
            findings.add(int(rows.lines[odd.row]), sent[name], name, f"{odd.value:g}", odd.problem, odd.fix)
        for odd in found:
            if not odd.is_sure:
                told[f'"{odd.value:g}" is {odd.problem}', odd.fix] += 1
        said = ((what, fix, count) for (what, fix), count in told.items())
        _tell(name, said, len(told), "numbers are not usual", findings.notices)


def _merge_converted(name: str, other: Converted, rows: _Typed, findings: _Findings) -> None:
    typed = rows.typed
    to, written = other.to, plain(typed.pop(name))
    converted = pc.add(pc.multiply(written, other.factor), other.added)
    if to not in typed:
        typed[to] = converted
        return
    typed[to] = plain(typed[to])
    both = pc.and_(pc.is_valid(written), pc.is_valid(typed[to]))
    for row in findings.first(where(both)):
        value = f"{written[row].as_py():g}"
        findings.add(
            int(rows.lines[row]),
            rows.orders[name],
            name,
            value,
            f"written beside {to}",
            "Keep one of the two cells.",
        )
    typed[to] = pc.coalesce(typed[to], converted)


def _check_orders(rows: _Typed, findings: _Findings) -> None:
    """Of two columns that go together, the lower one is not above the higher."""
    typed, orders = rows.typed, rows.orders
    for pair in schema.orders(rows.stem):
        if pair.low not in orders or pair.high not in orders:
            continue
        both = np.flatnonzero(pc.and_(typed[pair.low].is_valid(), typed[pair.high].is_valid()))
        low, high = (plain(typed[name].take(pa.array(both))) for name in (pair.low, pair.high))
        limit = pc.multiply(high, pair.factor) if pair.factor != 1 else high
        outside = pc.greater_equal(low, limit) if pair.strict else pc.greater(low, limit)
        column = schema.columns(rows.stem)[pair.low]
        for place in findings.first(where(outside)):
            above, bound = _spoken(low[place].as_py(), column), _spoken(high[place].as_py(), column)
            less = f"{pair.factor:g} times {pair.high}" if pair.factor != 1 else pair.high
            if column.unit or column.form == schema.NUMBER:
                problem = f"{'not below' if pair.strict else 'above'} {less} ({bound})"
            else:
                problem = f"{'not before' if pair.strict else 'after'} {less} ({bound})"
            line = int(rows.lines[both[place]])
            findings.add(line, orders[pair.low], pair.low, above, problem, pair.mend)


def _told_beside(
    typed: dict[str, pa.Array], *names: str
) -> tuple[npt.NDArray[np.int64], list[npt.NDArray[np.float64]]]:
    """Rows in which all of some columns are told, and their numbers there."""
    told = np.logical_and.reduce([typed[name].is_valid().to_numpy(zero_copy_only=False) for name in names])
    rows = np.flatnonzero(told)
    place = pa.array(rows)
    return rows, [
        plain(typed[name].take(place)).to_numpy(zero_copy_only=False).astype(float) for name in names
    ]


def _tell_watts(rows: _Typed, findings: _Findings) -> None:
    """A radio that sends out nearly all that it draws, at the most volts that it takes, is asked about."""
    for watts, amps in (("rf_watts", "amps_tx"), ("rf_watts_low", "amps_tx_low")):
        if rows.stem != "inventory" or not {watts, amps} <= rows.orders.keys():
            continue
        there, (sent_w, drawn_a) = _told_beside(rows.typed, watts, amps)
        told_v = plain(rows.typed["volts_max"].take(pa.array(there)))
        told_v = told_v.to_numpy(zero_copy_only=False).astype(float)
        kind = usual.places(rows.typed["kind"])[there]
        volts = np.where(np.isnan(told_v), usual.highest_v()[kind], told_v)
        is_odd = sent_w > usual.MOST_SENT * drawn_a * volts

        def say(watt: float, amp: float, volt: float) -> tuple[str, str]:
            return (
                f"{watt:g} W of {amp:g} A at {volt:g} V, which are {amp * volt:.3g} W",
                f"A transmitter sends out at most {usual.MOST_SENT:.0%} of what it draws: check both.",
            )

        _tell_odd(
            f"{watts}, {amps}",
            np.stack([sent_w, drawn_a, volts], axis=1)[is_odd],
            say,
            "powers are more than the current gives",
            findings.notices,
        )


def _tell_measured(rows: _Typed, findings: _Findings) -> None:
    """Several in a row of which one measured more than its rating may have been measured together."""
    if rows.stem != "inventory" or not {"tested_ah", "capacity_ah", "quantity"} <= rows.orders.keys():
        return
    _, (measured, rated, pieces) = _told_beside(rows.typed, "tested_ah", "capacity_ah", "quantity")
    is_odd = (pieces > 1) & (measured > rated)

    def say(ah: float, of: float, rating: float) -> tuple[str, str]:
        return (
            f"{ah:g} Ah for each of {of:g}, rated {rating:g} Ah",
            f"If they were measured together, write what one gave: {ah / of:.3g}.",
        )

    odd = np.stack([measured, pieces, rated], axis=1)[is_odd]
    _tell_odd("tested_ah", odd, say, "measured more than their rating", findings.notices)


def _tell_odd(
    name: str,
    odd: npt.NDArray[np.float64],
    say: Callable[..., tuple[str, str]],
    others: str,
    notices: list[str],
) -> None:
    """Notices of numbers that do not go together, shape (rows, numbers), each set of them once."""
    once, counts = np.unique(odd, axis=0, return_counts=True)
    said = ((*say(*numbers), int(count)) for numbers, count in zip(once.tolist(), counts, strict=True))
    _tell(name, said, len(once), others, notices)


def _tell_copies(raw: Raw, findings: _Findings) -> None:
    """Things whose rows are alike in every cell are told: a row copied by mistake is a second radio."""
    codes = np.column_stack([column.indices.fill_null(-1).to_numpy() for column in raw.columns])
    first: dict[bytes, int] = {}
    first_of = [first.setdefault(cells.tobytes(), row) for row, cells in enumerate(codes)]
    copies = [row for row, other in enumerate(first_of) if row != other]
    if copies:
        line, other = int(raw.lines[copies[0]]), int(raw.lines[first_of[copies[0]]])
        what = counted(findings.file)
        rows = "1 row says" if len(copies) == 1 else f"{len(copies):,} rows say"
        findings.notices.append(
            f"{rows} the same as another, cell for cell ({what} {line} as {what} {other}); each counts as one more thing. "
            "Take out what was copied by mistake; quantity counts what is alike."
        )


def _check_chemistry(rows: _Typed, findings: _Findings) -> None:
    """A battery of a kind that names its chemistry is of no other: what may be used of it hangs on that."""
    if not {"kind", "chemistry"} <= rows.orders.keys():
        return
    told = plain(rows.typed["chemistry"])
    there = np.flatnonzero(told.is_valid().to_numpy(zero_copy_only=False))
    kinds = usual.places(rows.typed["kind"])[there]
    words, own = reference.words("kind"), usual.chemistries()
    chemistry = np.array(told.take(pa.array(there)).to_pylist(), dtype=object)
    for at in findings.first(np.flatnonzero((own[kinds] != "") & (own[kinds] != chemistry)).tolist()):
        kind = words[kinds[at]]
        problem = f"not the chemistry of a {kind}"
        fix = f"Write battery_{chemistry[at]} as its kind, or clear this cell."
        if f"battery_{chemistry[at]}" not in words:
            fix = "Clear this cell, or mend the kind."
        line = int(rows.lines[there[at]])
        findings.add(line, rows.orders["chemistry"], "chemistry", chemistry[at], problem, fix)


def _check_wire(rows: _Typed, findings: _Findings) -> None:
    """A gauge and a section in one row must be of the same wire."""
    if not {"wire_awg", "wire_mm2"} <= rows.orders.keys():
        return
    gauge, section = (
        plain(rows.typed[name]).to_numpy(zero_copy_only=False) for name in ("wire_awg", "wire_mm2")
    )
    both = np.flatnonzero(~(np.isnan(gauge) | np.isnan(section)))
    meant = usual.awg_mm2(gauge[both])
    apart = np.maximum(meant / section[both], section[both] / meant)
    for at in findings.first(np.flatnonzero(apart > usual.SAME_WIRE).tolist()):
        row = both[at]
        problem = f"not the {meant[at]:.3g} mm2 of {gauge[row]:g} AWG"
        value, line = f"{section[row]:g}", int(rows.lines[row])
        fix = "Keep one of the two cells."
        findings.add(line, rows.orders["wire_mm2"], "wire_mm2", value, problem, fix)


def _check_zone(rows: _Typed, findings: _Findings) -> None:
    """The times and the hours from UTC of an event are such as clocks of its time zone show; a time that comes twice is told."""
    if "time_zone" not in rows.orders:
        return
    zones, offsets = (plain(rows.typed[name]).to_pylist() for name in ("time_zone", "utc_offset_h"))
    times = [plain(rows.typed[name]).cast(clocks.LOCAL).to_pylist() for name in clocks.MOMENTS]
    found: list[tuple[int, clocks.Wrong]] = []
    twice: Counter[tuple[str, datetime, str]] = Counter()
    for row, (zone, offset_h, *at) in enumerate(zip(zones, offsets, *times, strict=True)):
        if zone is None:
            continue
        moments = dict(zip(clocks.MOMENTS, at, strict=True))
        wrong = list(clocks.wrong(zone, offset_h, moments))
        found += [(row, one) for one in wrong]
        if not wrong:
            shown = [(name, local) for name, local in moments.items() if local is not None]
            twice.update((name, local, zone) for name, local in shown if clocks.is_twice(zone, local))
    for row, one in findings.first(found):
        findings.add(int(rows.lines[row]), rows.orders.get(one.column, 0), *one)
    for name in clocks.MOMENTS:
        said = [
            (f'"{clocks.written(local)}" comes twice by clocks of {zone}', "It counts as the first.", count)
            for (of, local, zone), count in twice.items()
            if of == name
        ]
        _tell(name, said, len(said), "times come twice", findings.notices)


def _check_clock(rows: _Typed, findings: _Findings) -> None:
    """A place and the hours that its clocks differ from UTC must belong together: the dark hours hang on both."""
    if not {"lat", "lon"} <= rows.orders.keys() or not {"utc_offset_h", "time_zone"} & rows.orders.keys():
        return
    lat, lon, offset = (
        plain(rows.typed[name]).to_numpy(zero_copy_only=False) for name in ("lat", "lon", "utc_offset_h")
    )
    zones = plain(rows.typed["time_zone"]).to_pylist()
    if "time_zone" in rows.orders:
        starts = plain(rows.typed["starts"]).cast(clocks.LOCAL).to_pylist()
        offset = np.array(list(map(clocks.at_start_h, zones, offset.tolist(), starts)))
    is_apart = usual.clock_apart_h(lat, lon, offset) > usual.CLOCK_H
    for row in findings.first(np.flatnonzero(is_apart).tolist()):
        here = float(lat[row]), float(lon[row]), float(offset[row])
        problem = f"nowhere that clocks are {here[2]:+g} h from UTC"
        fix = usual.clock_mend(*here, "utc_offset_h" if zones[row] is None else "time_zone")
        findings.add(int(rows.lines[row]), rows.orders["lon"], "lon", f"{here[1]:g}", problem, fix)


def _spoken(value: Any, column: Column) -> str:
    if column.form == schema.MOMENT:
        return f"{value:%Y-%m-%dT%H:%M}"
    return f"{value:%Y-%m-%d}" if column.form in (schema.DATE, schema.YEAR_OR_DATE) else f"{value:g}"


def _check_vehicles(rows: _Typed, findings: _Findings) -> None:
    """Whether vehicles stay with a post, and how many, must say the same."""
    if not {"vehicle", "vehicles"} <= rows.orders.keys():
        return
    stays, many = (plain(rows.typed[name]).to_pylist() for name in ("vehicle", "vehicles"))
    apart = [
        row
        for row, (stay, count) in enumerate(zip(stays, many, strict=True))
        if None not in (stay, count) and stay != (count > 0)
    ]
    for row in findings.first(apart):
        problem = f"not what vehicle says ({'yes' if stays[row] else 'no'})"
        fix = "Keep one of the two cells."
        findings.add(int(rows.lines[row]), rows.orders["vehicles"], "vehicles", str(many[row]), problem, fix)


def _check_key(rows: _Typed, findings: _Findings) -> None:
    """What names a row stands in no other."""
    key, orders, lines = schema.key(rows.stem), rows.orders, rows.lines
    if not key or any(name not in orders for name in key):
        return
    frame = pd.DataFrame({name: plain(rows.typed[name]).to_pandas() for name in key}).dropna()
    repeated = frame[frame.duplicated(keep=False)]
    first: dict[tuple[str, ...], int] = {}
    for row, values in zip(repeated.index.tolist(), repeated.itertuples(index=False, name=None), strict=True):
        line = first.setdefault(values, int(lines[row]))
        if line != lines[row]:
            value = ", ".join(values)
            problem = f"{ALREADY} {counted(findings.file)} {line}"
            findings.add(
                int(lines[row]), orders[key[-1]], key[-1], value, problem, "Keep one of the two rows."
            )


def _check_example(rows: _Typed, findings: _Findings) -> None:
    """The row that a blank list holds as an example is nobody's."""
    if "notes" not in rows.orders:
        return
    notes = rows.typed["notes"]
    texts = notes.dictionary if pa.types.is_dictionary(notes.type) else notes
    if pc.index(texts, EXAMPLE).as_py() < 0:
        return
    for row in findings.first(where(pc.equal(plain(notes), EXAMPLE))):
        fix = "Delete the row; if you have written a row of your own over it, empty this cell."
        line, order = int(rows.lines[row]), rows.orders["notes"]
        findings.add(line, order, "notes", EXAMPLE, "what the blank list says of its example", fix)


def neutralise(cell: str) -> str:
    """Cell that a spreadsheet takes as text: an apostrophe before what begins a formula; numbers stay."""
    if cell.startswith(("=", "+", "-", "@", "\t", "\r")) and not _NUMBER.fullmatch(cell):
        return "'" + cell
    return cell
