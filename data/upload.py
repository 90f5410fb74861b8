"""From the bytes that somebody sent to typed rows, or to everything that is wrong with them.

An upload is taken whole or not at all. The bytes become rows of text (`text_rows`), their headings tell the columns
(`headings`), each distinct text of a column is understood once (`column_values`), and what is read must go together (`checks`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from data import column_values, forms, headings, schema, text_rows
from data.checks import Typed, check
from data.column_values import Read, plain, where
from data.forms import Column
from data.headings import ADDED, plain_heading
from data.problems import Findings, Problem, counted, tell
from data.schema import Converted
from data.shown import shown_name, shown_value
from data.text_rows import Lines, Raw

# Payloads from this size on try the fast lane.
FAST_FROM = 1 << 18
_NUMBER = re.compile(r"[+-]?[0-9]+([.,][0-9]+)?(e[+-]?[0-9]+)?")

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
        place = counted(file)
        above = {2: f"{place} 1", 3: f"{place}s 1 and 2"}.get(line, f"{place}s 1 to {line - 1}")
        return refuse(
            f"the headings stand in {place} {line}, below other rows",
            f"Delete {above}, so that the headings stand in the first {place}, and send the file again.",
            encoding,
        )
    raw = (
        text_rows.fast(body, delimiter, heading, heading_line, limits.rows)
        if len(body) >= FAST_FROM
        else None
    )
    if raw is None:
        raw = text_rows.careful(body, delimiter, limits.rows)
    findings = Findings(file)
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


def _understand(
    stem: str, encoding: str, delimiter: str, raw: Raw, findings: Findings, aliases: Aliases
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


def _check_headings(stem: str, raw: Raw, findings: Findings) -> tuple[str, ...]:
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
    stem: str, decimal_comma: bool, raw: Raw, names: tuple[str, ...], findings: Findings, aliases: Aliases
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
    rows = Typed(stem, typed, orders, raw.lines)
    for name, other in converted.items():
        if name in typed:
            _merge_converted(name, other, rows, findings)
    for name, column in columns.items():
        if name not in typed:
            typed[name] = column_values.same(column.default, count, column_values.type_of(column))
        if column.default_from and column.default_from in typed:
            typed[name] = column_values.filled(typed[name], typed[column.default_from])
    check(rows, findings)
    if stem == "inventory" and not findings.count and 0 < count <= UPLOAD.rows:
        _tell_copies(raw, findings)
    where = {"line": pa.array(raw.lines), "file": column_values.same(findings.file, count, pa.string())}
    return pa.table({**where, **{name: typed[name] for name in columns}})


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
    return Column(forms.TEXT, name, name=name)


def _tell_notes(name: str, read: Read, notices: list[str]) -> None:
    counts = np.bincount(read.codes, minlength=len(read.texts)) if read.notes else np.empty(0)
    written = [code for code in read.notes if counts[code]]
    said = (
        (f'"{shown_value(read.texts[code].as_py())}" {read.notes[code]}', "", counts[code])
        for code in written
    )
    tell(name, said, len(written), "texts were read so", notices)


def _merge_converted(name: str, other: Converted, rows: Typed, findings: Findings) -> None:
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


def _tell_copies(raw: Raw, findings: Findings) -> None:
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


def neutralise(cell: str) -> str:
    """Cell that a spreadsheet takes as text: an apostrophe before what begins a formula; numbers stay."""
    if cell.startswith(("=", "+", "-", "@", "\t", "\r")) and not _NUMBER.fullmatch(cell):
        return "'" + cell
    return cell
