"""From the bytes that somebody sent to typed rows, or to everything that is wrong with them.

An upload is taken whole or not at all. The text is read in one of two lanes with the same result: the careful
lane is `csv.reader`, row by row, and can say where a file is broken; the fast lane is Arrow's reader and is
used for large payloads when it is certain beforehand that row *i* stands in line *i* + 2. After that each
distinct text of a column is understood once, however often it stands in the file.
"""

from __future__ import annotations

import codecs
import csv
import difflib
import io
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from itertools import repeat
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
from pyarrow import csv as arrow_csv

from data import cells, schema
from data.schema import Column

LONGEST_CELL = 10_000
WIDEST = 300
LISTED_PROBLEMS = 1_000
LISTED_NOTICES = 50
# Payloads from this size on try the fast lane.
FAST_FROM = 1 << 18
# From this many rows on, two columns are read at a time.
THREADS_FROM = 50_000
# Up to this many distinct numbers are read one by one; beyond, plain ones are cast together first.
CAST_FROM = 2_000
# Between the name of a workbook and that of its sheet.
SHEET = ", sheet "
# Columns that an annotated copy adds; they are passed over when the copy comes back.
ADDED = ("problem", "fix")

T = TypeVar("T")
Codes = npt.NDArray[np.int32]
Lines = npt.NDArray[np.int64]
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
    return "row" if SHEET in file else "line"


@dataclass(frozen=True)
class Upload:
    """What was read.

    Attributes
    ----------
    stem : which file it is, a key of `schema.FILES`; "" when that could not be told
    rows : the cells as written, a column for each heading in the order of the file (dictionary-encoded)
    lines : shape (rows,), physical line of each row
    names : for each heading the column of the contract that it stands for, or "" for an unknown one
    table : typed rows with every column of the file's model, or None when there are problems
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
    frame: pd.DataFrame = table.to_pandas(types_mapper=_PANDAS.get, date_as_object=False)
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
    file = _shown_name(name)
    stem = kind_of_file or ""

    def refuse(problem: str, fix: str, encoding: str = "") -> Upload:
        return refused(name, payload, problem, fix, stem, encoding)

    if len(payload) > limits.size:
        return refuse(
            f"the file has {len(payload):,} bytes; {limits.size:,} are allowed",
            "Send the rows in several files.",
        )
    foreign = _foreign(payload)
    if foreign:
        return refuse(f"the file is {foreign}, not CSV", "Save the sheet as CSV (UTF-8) and send that.")
    decoded = _decode(payload)
    if decoded is None:
        return refuse("the file is not text that can be read", "Save the sheet as CSV (UTF-8) and send that.")
    body, encoding = decoded
    if b"\0" in body:
        return refuse("the file holds NUL bytes", "Save the sheet as CSV (UTF-8) and send that.", encoding)
    if not re.search(rb"\S", body):
        return refuse("the file is empty", "Write the headings in the first line, a row in each line below.")

    delimiter, heading, heading_line = _heading(body)
    raw = _fast(body, delimiter, heading, heading_line, limits) if len(body) >= FAST_FROM else None
    if raw is None:
        raw = _careful(body, delimiter, limits)
    notices = []
    if encoding == "cp1252":
        notices.append("The file is not UTF-8; it was read as Windows-1252. Check letters with accents.")
    return replace(_understand(file, stem, encoding, delimiter, raw, notices, aliases), payload=payload)


def refused(name: str, payload: bytes, problem: str, fix: str, stem: str = "", encoding: str = "") -> Upload:
    """A file that cannot be read at all, with the one reason."""
    file = _shown_name(name)
    wrong = [Problem(file, 0, "", "", problem, fix)]
    nothing = np.empty(0, dtype=np.int64)
    return Upload(file, stem, encoding, "", pa.table({}), nothing, (), None, wrong, [], payload=payload)


# ---- bytes to text

_SIGNATURES = (
    (b"PK\x03\x04", "a spreadsheet or zip archive"),
    (b"\xd0\xcf\x11\xe0", "an old or locked spreadsheet"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"%PDF", "a PDF"),
    (b"\x1f\x8b", "a compressed archive"),
    (b"7z\xbc\xaf", "a compressed archive"),
)
_BOMS = ((codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))


def _foreign(payload: bytes) -> str:
    return next((what for start, what in _SIGNATURES if payload.startswith(start)), "")


def _decode(payload: bytes) -> tuple[bytes, str] | None:
    """Payload as UTF-8 without byte-order mark, and the encoding it had; None when it is not text."""
    if payload.startswith(codecs.BOM_UTF8):
        payload = payload[len(codecs.BOM_UTF8) :]
    for bom, encoding in _BOMS:
        if payload.startswith(bom):
            try:
                return payload[len(bom) :].decode(encoding).encode(), "utf-16"
            except UnicodeDecodeError:
                return None
    if _is_utf8(payload):
        return payload, "utf-8"
    try:
        return payload.decode("cp1252").encode(), "cp1252"
    except UnicodeDecodeError:
        return None


def _is_utf8(payload: bytes) -> bool:
    if payload.isascii():
        return True
    decoder = codecs.getincrementaldecoder("utf-8")()
    view = memoryview(payload)
    try:
        for start in range(0, len(view), 1 << 20):
            decoder.decode(view[start : start + (1 << 20)])
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


# ---- text to rows


@dataclass(frozen=True)
class _Raw:
    """Rows of text. `broken` holds line, cells as written, problem and fix of what is not a row."""

    heading: list[str]
    heading_line: int
    columns: list[pa.DictionaryArray]
    lines: Lines
    broken: list[tuple[int, list[str], str, str]]


def _heading(body: bytes) -> tuple[str, list[str], int]:
    """Delimiter, headings and their line: of , ; and tab the one that gives the most known headings."""
    start = body[: 1 << 20].decode("utf-8", errors="ignore")

    def rank(delimiter: str) -> tuple[int, int]:
        heading = _first_row(start, delimiter)[0]
        names = (any(_name_of(cell, stem)[0] for stem in schema.FILES) for cell in heading[:WIDEST])
        return sum(names), len(heading)

    delimiter = max(",;\t", key=rank)
    return delimiter, *_first_row(start, delimiter)


def _first_row(text: str, delimiter: str) -> tuple[list[str], int]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    line = 1
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                return row, line
            line = reader.line_num + 1
    except csv.Error:
        pass
    return [], line


def _fast(body: bytes, delimiter: str, heading: list[str], heading_line: int, limits: Limits) -> _Raw | None:
    """Rows by Arrow's reader, or None unless every row certainly stands on its own line."""
    end = body.find(b"\n")
    if heading_line != 1 or not 0 < len(heading) <= WIDEST or end < 0 or end == len(body) - 1:
        return None
    if b"\r" in body and body.count(b"\r") != body.count(b"\r\n"):
        return None
    first = body[:end].decode()
    if _first_row(first, delimiter)[0] != heading or not _quotes_are_plain(body, delimiter.encode()):
        return None
    count = body.count(b"\n") - 1 + (not body.endswith(b"\n"))
    if count > limits.rows:
        return None
    names = [str(position) for position in range(len(heading))]
    try:
        table = arrow_csv.read_csv(
            pa.BufferReader(body),
            read_options=arrow_csv.ReadOptions(column_names=names, skip_rows=1, block_size=len(body)),
            parse_options=arrow_csv.ParseOptions(
                delimiter=delimiter,
                quote_char='"',
                double_quote=True,
                escape_char=False,
                ignore_empty_lines=False,
            ),
            convert_options=arrow_csv.ConvertOptions(
                column_types=dict.fromkeys(names, pa.dictionary(pa.int32(), pa.string())),
                null_values=[],
                strings_can_be_null=False,
                quoted_strings_can_be_null=False,
            ),
        )
    except pa.ArrowInvalid:
        return None
    if table.num_rows != count:
        return None
    columns = [column.combine_chunks() for column in table.columns]
    return _Raw(heading, 1, columns, np.arange(2, count + 2, dtype=np.int64), [])


def _quotes_are_plain(body: bytes, delimiter: bytes) -> bool:
    """Whether every quote opens, closes or is doubled in a whole cell, and no quoted cell spans lines."""
    if b'"' not in body:
        return True
    pieces = body.split(b'"')
    outside, inside = pieces[::2], b"".join(pieces[1::2])
    if len(pieces) % 2 == 0 or b"\n" in inside or b"\r" in inside:
        return False
    # nothing between two quotes: they stand for one within a cell
    heads = {piece[:2] for piece in outside[1:] if piece}
    tails = {piece[-1:] for piece in outside[:-1] if piece}
    closes = (delimiter, b"\n", b"\r\n")
    return tails <= {delimiter, b"\n"} and all(head.startswith(closes) for head in heads)


def _careful(body: bytes, delimiter: str, limits: Limits) -> _Raw:
    """Rows by `csv.reader`; rows that are not rows are told with their line."""
    written: list[str] = []

    def lines() -> Iterator[str]:
        for line in io.StringIO(body.decode(), newline=""):
            written.append(line)
            yield line

    reader = csv.reader(lines(), delimiter=delimiter, strict=True)
    heading: list[str] = []
    heading_line = 1
    rows: list[list[str]] = []
    at: list[int] = []
    broken: list[tuple[int, list[str], str, str]] = []
    while True:
        line = reader.line_num + 1
        written.clear()
        try:
            row = next(reader)
        except StopIteration:
            break
        except csv.Error as error:
            broken.append((line, ["".join(written)], *_torn(str(error))))
            continue
        if not any(cell.strip() for cell in row):
            continue
        if not heading:
            if len(row) > WIDEST:
                problem = f"{len(row):,} headings; {WIDEST} are allowed"
                broken.append((line, row[:WIDEST], problem, "Send only the columns that are asked for."))
                break
            heading, heading_line = row, line
        elif len(rows) == limits.rows:
            problem = f"more than {limits.rows:,} rows"
            broken.append((line, row, problem, "Send the rows in several files."))
            break
        elif len(row) != len(heading):
            problem = f"{len(row)} cells where the heading has {len(heading)}"
            fix = f"Write {len(heading)} cells; put a cell that holds the separator in double quotes."
            broken.append((line, row, problem, fix))
        else:
            rows.append(row)
            at.append(line)
    columns = [pa.array(column, pa.string()).dictionary_encode() for column in zip(*rows, strict=True)]
    if not rows:
        columns = [pa.array([], pa.string()).dictionary_encode() for _ in heading]
    return _Raw(heading, heading_line, columns, np.array(at, dtype=np.int64), broken)


def _torn(error: str) -> tuple[str, str]:
    if "unexpected end" in error:
        return (
            "a quoted cell that is never closed",
            'Close it with ", or write a quote inside a cell twice ("").',
        )
    if "field larger" in error:
        return f"a cell longer than {LONGEST_CELL:,} characters", "Shorten it, or close the quotes before it."
    return "a quoted cell with text behind its closing quote", 'Write a quote inside a cell twice ("").'


# ---- headings


def plain_heading(heading: str) -> tuple[str, str]:
    """Heading as a column name, and the unit that stood in brackets behind it."""
    text, unit = heading.strip(), ""
    if text.endswith((")", "]")):
        text, _, unit = text[:-1].replace("[", "(").rpartition("(")
    return re.sub(r"[\s_-]+", "_", text.casefold()).strip("_"), unit.strip()


@lru_cache(maxsize=4096)
def _name_of(heading: str, stem: str) -> tuple[str, str]:
    """Column that a heading stands for (also a converted one), or "" and why not."""
    columns = schema.columns(stem)
    text, unit = plain_heading(heading)
    known = [*columns, *(name for name, (to, _, _) in schema.CONVERTED.items() if to in columns)]
    joined = f"{text}_{unit.casefold()}" if unit else text
    if joined in known:
        return joined, ""
    if not unit:
        return "", ""
    for name in (text, *(column for column in columns if column.rpartition("_")[0] == text)):
        if name in columns:
            if cells.same_unit(unit, columns[name].unit):
                return name, ""
            if columns[name].unit:
                return "", f"in {_shown_value(unit)}; {name} is in {columns[name].unit}"
    return "", ""


def _which_file(file: str, heading: Sequence[str]) -> str:
    """Stem by the exact file name, else by the most headings known, else by a word of the file name."""
    bare = file.casefold().removesuffix(".csv").removesuffix(".txt").removesuffix(".tsv")
    if bare in schema.FILES:
        return bare
    parts = set(re.split(r"[^a-z]+", bare))
    fits = []
    for stem in schema.FILES:
        names = {_name_of(cell, stem)[0] for cell in heading[:WIDEST]} - {""}
        is_whole = all(name in names for name, column in schema.columns(stem).items() if column.required)
        if is_whole or len(names) >= 3 or (names and stem in parts):
            fits.append((len(names), is_whole, stem in parts, stem))
    if fits:
        return max(fits)[-1]
    return next((stem for stem in schema.FILES if stem in parts), "")


# ---- rows to values

_CONTROL = r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x{9f}\x{202a}-\x{202e}\x{2066}-\x{2069}]"
_FORMULA = r"^[=+\-@\t\r]"
_PLAIN_NUMBER = r"^[+-]?[0-9]+([.,][0-9]+)?$"
_CASTABLE = r"^-?[0-9]{1,15}(\.[0-9]{1,15})?$"
_TYPES = {
    schema.NUMBER: pa.float64(),
    schema.WHOLE: pa.int64(),
    schema.YES_NO: pa.bool_(),
    schema.DATE: pa.timestamp("us"),
    schema.YEAR_OR_DATE: pa.timestamp("us"),
    schema.MOMENT: pa.timestamp("us"),
}


def _type_of(column: Column) -> pa.DataType:
    return _TYPES.get(column.form, pa.string())


@dataclass
class _Read:
    """One column understood: distinct texts and values, the code of each row, problems and notes."""

    codes: Codes
    texts: pa.Array
    values: pa.Array
    wrong: dict[int, cells.UnreadError]
    notes: dict[int, str]
    formulas: int = 0

    def column(self) -> pa.Array:
        """Typed value of each row."""
        return self.values.take(pa.array(self.codes))


def _codes_and_texts(column: pa.DictionaryArray) -> tuple[Codes, pa.Array]:
    codes: Codes = column.indices.to_numpy(zero_copy_only=False).astype(np.int32, copy=False)
    return codes, pc.utf8_trim_whitespace(column.dictionary)


def _read_column(raw: pa.DictionaryArray, column: Column, decimal_comma: bool, aliases: Aliases) -> _Read:
    codes, texts = _codes_and_texts(raw)
    wrong = _unfit(texts)
    empties = pc.equal(texts, "").to_numpy(zero_copy_only=False)
    if column.required:
        wrong.update(dict.fromkeys(np.flatnonzero(empties).tolist(), cells.UnreadError("empty", column.mend)))
    if column.form == schema.TEXT:
        return _read_text(codes, texts, empties, wrong)
    todo = ~empties
    todo[list(wrong)] = False
    values: npt.NDArray[Any] = np.full(len(texts), None, dtype=object)
    numbers = None
    if column.form == schema.NUMBER and len(texts) > CAST_FROM:
        numbers, is_cast = _cast(texts, todo, column)
        todo &= ~is_cast
    notes: dict[int, str] = {}
    understand = cells.reader(column, decimal_comma, aliases.get(column.aliases, {}))
    where = np.flatnonzero(todo)
    for position, text in zip(where.tolist(), texts.take(pa.array(where)).to_pylist(), strict=True):
        try:
            values[position], note = understand(text)
        except cells.UnreadError as unread:
            wrong[position] = unread
        else:
            if note:
                notes[position] = note
    if numbers is not None:
        numbers[todo] = np.array([np.nan if value is None else value for value in values[todo]], dtype=float)
        typed = pa.array(numbers, from_pandas=True)
    else:
        if column.default is not None:
            values[empties] = column.default
        typed = pa.array(values.tolist(), _type_of(column))
    return _Read(codes, texts, typed, wrong, notes)


def _cast(texts: pa.Array, todo: npt.NDArray[np.bool_], column: Column) -> tuple[npt.NDArray[Any], Any]:
    """Plain numbers within the range, cast together; the others NaN and left to be read one by one."""
    plain = pc.match_substring_regex(texts, _CASTABLE).to_numpy(zero_copy_only=False) & todo
    numbers = pc.if_else(pa.array(plain), texts, pa.scalar(None, pa.string())).cast(pa.float64())
    values = numbers.to_numpy(zero_copy_only=False).copy()
    low = -np.inf if column.low is None else column.low
    high = np.inf if column.high is None else column.high
    is_cast = plain & (values >= low) & (values <= high)
    values[~is_cast] = np.nan
    return values, is_cast


def _read_text(
    codes: Codes, texts: pa.Array, empties: npt.NDArray[np.bool_], wrong: dict[int, cells.UnreadError]
) -> _Read:
    # An apostrophe that `neutralise` put there is taken off again.
    texts_back = pc.replace_substring_regex(texts, r"^'([=+\-@\t\r])", r"\1")
    looks = pc.and_not(
        pc.match_substring_regex(texts_back, _FORMULA), pc.match_substring_regex(texts, _PLAIN_NUMBER)
    )
    is_formula = looks.to_numpy(zero_copy_only=False)
    formulas = int(is_formula[codes].sum()) if is_formula.any() else 0
    values = pc.if_else(pa.array(empties), pa.scalar(None, pa.string()), texts_back)
    return _Read(codes, texts, values, wrong, {}, formulas)


def _unfit(texts: pa.Array) -> dict[int, cells.UnreadError]:
    """Texts that no cell may hold."""
    wrong = {}
    for position in _where(pc.match_substring_regex(texts, _CONTROL)):
        wrong[position] = cells.UnreadError("text with control characters", "Type the text again.")
    for position in _where(pc.greater(pc.utf8_length(texts), LONGEST_CELL)):
        wrong[position] = cells.UnreadError(f"longer than {LONGEST_CELL:,} characters", "Shorten it.")
    return wrong


def _where(mask: pa.Array) -> list[int]:
    found: list[int] = np.flatnonzero(mask.to_numpy(zero_copy_only=False)).tolist()
    return found


class _Findings:
    """Problems of one file, counted whole and listed up to a cap."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.count = 0
        self._listed: list[tuple[int, int, Problem]] = []

    def add(self, line: int, order: int, column: str, value: str, problem: str, fix: str) -> None:
        """One problem; `order` is the place of its column in the file."""
        self.count += 1
        self._listed.append(
            (line, order, Problem(self.file, line, column, _shown_value(value), _seen(problem, "�"), fix))
        )

    def first(self, found: list[T]) -> list[T]:
        """As many as can be listed; the others are only counted."""
        self.count += max(0, len(found) - LISTED_PROBLEMS)
        return found[:LISTED_PROBLEMS]

    def add_column(self, order: int, name: str, read: _Read, lines: Lines) -> None:
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

    def listed(self) -> list[Problem]:
        """In the order of the file."""
        return [
            problem for _, _, problem in sorted(self._listed, key=lambda found: found[:2])[:LISTED_PROBLEMS]
        ]


def _understand(
    file: str, stem: str, encoding: str, delimiter: str, raw: _Raw, notices: list[str], aliases: Aliases
) -> Upload:
    findings = _Findings(file)
    for line, _, problem, fix in findings.first(raw.broken):
        findings.add(line, 0, "", "", problem, fix)
    stem = stem or _which_file(file, raw.heading)
    raw = _without_empty_rows(raw)
    names: tuple[str, ...] = ("",) * len(raw.heading)
    table = None
    if not raw.heading and not raw.broken:
        findings.add(0, 0, "", "", "no headings", "Write the headings in the first line.")
    elif raw.heading and not stem:
        fix = f"Name it after what it holds: {', '.join(f'{known}.csv' for known in schema.FILES)}."
        findings.add(0, 0, "", "", "neither name nor headings tell which file it is", fix)
    elif raw.heading:
        names = _check_headings(stem, raw, findings, notices)
        table = _type_rows(file, stem, delimiter != ",", raw, names, findings, notices, aliases)
        if not len(raw.lines) and not findings.count:
            findings.add(
                0, 0, "", "", "no rows below the headings", "Write a row in each line below the headings."
            )
    problems = findings.listed()
    if findings.count > len(problems):
        more = findings.count - len(problems)
        notices.append(f"{more:,} more problems are not listed; mend these first and send the file again.")
    rows = pa.Table.from_arrays(raw.columns, names=raw.heading)
    torn = {line: written for line, written, _, _ in raw.broken}
    accepted = None if findings.count else table
    return Upload(file, stem, encoding, delimiter, rows, raw.lines, names, accepted, problems, notices, torn)


def _without_empty_rows(raw: _Raw) -> _Raw:
    """Without empty rows and nameless empty columns; what an annotated copy adds does not fill a row."""
    keep = [
        position
        for position, heading in enumerate(raw.heading)
        if heading.strip() or not _is_empty(raw.columns[position])
    ]
    heading = [raw.heading[position] for position in keep]
    columns = [raw.columns[position] for position in keep]
    rows = np.arange(len(raw.lines))
    for name, column in zip(heading, columns, strict=True):
        if plain_heading(name)[0] in ADDED:
            continue
        codes, texts = _codes_and_texts(column)
        is_empty = pc.equal(texts, "").to_numpy(zero_copy_only=False)
        rows = rows[is_empty[codes[rows]]] if is_empty.any() else rows[:0]
        if not len(rows):
            return _Raw(heading, raw.heading_line, columns, raw.lines, raw.broken)
    filled = np.ones(len(raw.lines), dtype=bool)
    filled[rows] = False
    kept = pa.array(filled)
    return _Raw(
        heading, raw.heading_line, [column.filter(kept) for column in columns], raw.lines[filled], raw.broken
    )


def _is_empty(column: pa.DictionaryArray) -> bool:
    codes, texts = _codes_and_texts(column)
    empty: npt.NDArray[np.bool_] = pc.equal(texts, "").to_numpy(zero_copy_only=False)
    return not len(codes) or bool(empty[codes].all())


def _check_headings(stem: str, raw: _Raw, findings: _Findings, notices: list[str]) -> tuple[str, ...]:
    """Name of each heading; a name that comes twice, a wrong unit or a missing column is a problem."""
    columns = schema.columns(stem)
    names: list[str] = []
    first: dict[str, str] = {}
    unknown: dict[str, str] = {}
    for order, heading in enumerate(raw.heading):
        name, problem = _name_of(heading, stem)
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
            problem = f'a heading that stands already as "{_shown_value(first[name or plain])}"'
            findings.add(raw.heading_line, order, "heading", heading, problem, fix)
            name = ""
        elif not name and plain not in ADDED:
            close = difflib.get_close_matches(plain, [known for known in columns if known not in first], n=1)
            unknown[heading.strip()] = close[0] if close else ""
        first.setdefault(name or plain, heading)
        names.append(name)
    for missing, column in columns.items():
        if column.required and missing not in names:
            near = next((heading for heading, known in unknown.items() if known == missing), "")
            fix = f'Rename "{_shown_value(near)}" to {missing}.' if near else f"Add it. {column.description}"
            findings.add(raw.heading_line, len(names), missing, "", "the column is missing", fix)
    for heading, near in unknown.items():
        hint = f" Did you mean {near}?" if near and near not in names else ""
        notices.append(f'The column "{_shown_value(heading)}" is not known; it is kept and not used.{hint}')
    return tuple(names)


def _type_rows(
    file: str,
    stem: str,
    decimal_comma: bool,
    raw: _Raw,
    names: tuple[str, ...],
    findings: _Findings,
    notices: list[str],
    aliases: Aliases,
) -> pa.Table:
    """Every column of the contract, typed; what is wrong goes to `findings`."""
    columns = schema.columns(stem)
    asked = [_as_sent(name, columns) for name in names]
    sent = (raw.columns, asked, repeat(decimal_comma), repeat(aliases))
    if len(raw.lines) < THREADS_FROM:
        reads = list(map(_read_column, *sent))
    else:
        with ThreadPoolExecutor(max_workers=2) as pool:
            reads = list(pool.map(_read_column, *sent))
    count = len(raw.lines)
    typed: dict[str, pa.Array] = {}
    orders = {name: order for order, name in enumerate(names) if name}
    formulas = 0
    for order, (name, heading, read) in enumerate(zip(names, raw.heading, reads, strict=True)):
        shown = name or _shown_value(heading.strip())
        findings.add_column(order, shown, read, raw.lines)
        formulas += read.formulas
        _tell_notes(shown, read, notices)
        if name:
            typed[name] = read.column()
    if formulas:
        notices.append(
            "One cell begins like a formula; it is kept as text and never worked out."
            if formulas == 1
            else f"{formulas:,} cells begin like a formula; they are kept as text and never worked out."
        )
    for name, (to, _, _) in schema.CONVERTED.items():
        if name in typed:
            _merge_converted(name, to, typed, orders, raw.lines, findings)
    for name, column in columns.items():
        if name not in typed:
            typed[name] = pa.array([column.default] * 1, _type_of(column)).take(
                pa.array(np.zeros(count, np.int32))
            )
        if column.default_from and column.default_from in typed:
            typed[name] = pc.coalesce(typed[name], typed[column.default_from])
    _check_orders(stem, typed, orders, raw.lines, findings)
    _check_key(stem, typed, orders, raw.lines, findings)
    where = {"line": pa.array(raw.lines), "file": pa.array([file]).take(pa.array(np.zeros(count, np.int32)))}
    return pa.table({**where, **{name: typed[name] for name in columns}})


def _as_sent(name: str, columns: dict[str, Column]) -> Column:
    """Column as it stands in the file: the contract's, the converted one with its range, or any text."""
    if name in columns:
        return columns[name]
    if name in schema.CONVERTED:
        to, unit, factor = schema.CONVERTED[name]
        column = columns[to]
        low = None if column.low is None else column.low / factor
        high = None if column.high is None else column.high / factor
        mend = column.mend.replace(f"in {column.unit} from {column.low:g} to {column.high:g}", f"in {unit}")
        return Column(**{**vars(column), "name": name, "unit": unit, "low": low, "high": high, "mend": mend})
    return Column(name, schema.TEXT, name, "", "", None, None, "", (), "", False, None, "", "")


def _tell_notes(name: str, read: _Read, notices: list[str]) -> None:
    counts = np.bincount(read.codes, minlength=len(read.texts)) if read.notes else np.empty(0)
    told = 0
    for code, note in read.notes.items():
        if not counts[code]:
            continue
        told += 1
        if told <= LISTED_NOTICES:
            rows = "1 row" if counts[code] == 1 else f"{counts[code]:,} rows"
            notices.append(f'{name}: "{_shown_value(read.texts[code].as_py())}" {note} ({rows}).')
    if told > LISTED_NOTICES:
        notices.append(f"{name}: {told - LISTED_NOTICES:,} more texts were read so.")


def _merge_converted(
    name: str, to: str, typed: dict[str, pa.Array], orders: dict[str, int], lines: Lines, findings: _Findings
) -> None:
    written = typed.pop(name)
    converted = pc.multiply(written, schema.CONVERTED[name][2])
    if to not in typed:
        typed[to] = converted
        return
    both = pc.and_(pc.is_valid(written), pc.is_valid(typed[to]))
    for row in findings.first(_where(both)):
        value = f"{written[row].as_py():g}"
        findings.add(
            int(lines[row]), orders[name], name, value, f"written beside {to}", "Keep one of the two cells."
        )
    typed[to] = pc.coalesce(typed[to], converted)


def _check_orders(
    stem: str, typed: dict[str, pa.Array], orders: dict[str, int], lines: Lines, findings: _Findings
) -> None:
    for pair in schema.orders(stem):
        if pair.low not in orders or pair.high not in orders:
            continue
        low, high = typed[pair.low], typed[pair.high]
        limit = pc.multiply(high, pair.factor) if pair.factor != 1 else high
        outside = pc.greater_equal(low, limit) if pair.strict else pc.greater(low, limit)
        column = schema.columns(stem)[pair.low]
        for row in findings.first(_where(pc.fill_null(outside, False))):
            above, bound = _spoken(low[row].as_py(), column), _spoken(high[row].as_py(), column)
            less = f"{pair.factor:g} times {pair.high}" if pair.factor != 1 else pair.high
            if column.unit or column.form == schema.NUMBER:
                problem = f"{'not below' if pair.strict else 'above'} {less} ({bound})"
            else:
                problem = f"{'not before' if pair.strict else 'after'} {less} ({bound})"
            findings.add(
                int(lines[row]), orders[pair.low], pair.low, above, problem, "Mend one of the two cells."
            )


def _spoken(value: Any, column: Column) -> str:
    if column.form == schema.MOMENT:
        return f"{value:%Y-%m-%dT%H:%M}"
    return f"{value:%Y-%m-%d}" if column.form in (schema.DATE, schema.YEAR_OR_DATE) else f"{value:g}"


def _check_key(
    stem: str, typed: dict[str, pa.Array], orders: dict[str, int], lines: Lines, findings: _Findings
) -> None:
    key = schema.key(stem)
    if not key or any(name not in orders for name in key):
        return
    frame = pd.DataFrame({name: typed[name].to_pandas() for name in key}).dropna()
    repeated = frame[frame.duplicated(keep=False)]
    first: dict[tuple[str, ...], int] = {}
    for row, values in zip(repeated.index.tolist(), repeated.itertuples(index=False, name=None), strict=True):
        line = first.setdefault(values, int(lines[row]))
        if line != lines[row]:
            value = ", ".join(values)
            problem = f"written already in {counted(findings.file)} {line}"
            findings.add(
                int(lines[row]), orders[key[-1]], key[-1], value, problem, "Keep one of the two rows."
            )


# ---- what is shown and sent back

# Categories of characters that cannot be seen, or that change how others are shown.
_UNSEEN = ("Cc", "Cf", "Cs", "Zl", "Zp")
_NUMBER = re.compile(r"[+-]?[0-9]+([.,][0-9]+)?(e[+-]?[0-9]+)?")


def _seen(text: str, instead: str) -> str:
    """Text with each character that cannot be seen replaced."""
    return "".join(instead if unicodedata.category(c) in _UNSEEN else c for c in text)


def _shown_name(name: str) -> str:
    last = re.split(r"[/\\]", name)[-1]
    return _seen(last[-1000:], "").strip()[:100] or "upload"


def _shown_value(value: str) -> str:
    clean = _seen(value[:100], "�")
    return clean if len(value) <= 80 else clean[:80] + "…"


def neutralise(cell: str) -> str:
    """Cell that a spreadsheet takes as text: an apostrophe before what begins a formula; numbers stay."""
    if cell.startswith(("=", "+", "-", "@", "\t", "\r")) and not _NUMBER.fullmatch(cell):
        return "'" + cell
    return cell


def problems_csv(upload: Upload) -> bytes:
    """All listed problems as CSV, UTF-8 with byte-order mark."""
    rows = [
        (found.file, str(found.line or ""), found.column, found.value, found.problem, found.fix)
        for found in upload.problems
    ]
    return _csv([("file", counted(upload.file), "column", "value", "problem", "fix"), *rows], ",")


def annotated_copy(upload: Upload) -> bytes:
    """The upload as it was sent with two more columns, what is wrong with each row and what to write.

    Every cell is kept, also of rows that do not fit the heading; formula cells are neutralised. Problems
    of the file as a whole stand in a row of their own below the headings. The copy can be mended and sent
    again.
    """
    said: dict[int, list[Problem]] = {}
    at = set(upload.lines.tolist()) | set(upload.torn)
    for found in upload.problems:
        said.setdefault(found.line if found.line in at else 0, []).append(found)

    def row(line: int, written: Iterable[str]) -> list[str]:
        here = said.get(line, [])
        what = "; ".join(
            f"{found.column}: {found.problem}" if found.column else found.problem for found in here
        )
        return [*written, what, " ".join(dict.fromkeys(found.fix for found in here))]

    kept = [column.to_pylist() for column in upload.rows.columns]
    placed = [
        (name, column)
        for name, column in zip(upload.rows.column_names, kept, strict=True)
        if plain_heading(name)[0] not in ADDED
    ]
    heading = [name for name, _ in placed]
    lines = upload.lines.tolist()
    body = {line: [column[index] for _, column in placed] for index, line in enumerate(lines)} | upload.torn
    rows = [row(0, [""] * len(heading))] if 0 in said else []
    rows += [row(line, body[line]) for line in sorted(body)]
    return _csv([[*heading, *ADDED], *rows], upload.delimiter or ",")


def _csv(rows: Iterable[Sequence[str]], delimiter: str) -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter).writerows([neutralise(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")
