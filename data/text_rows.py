"""From bytes to rows of text.

Rows are read in one of two lanes with the same result: the careful lane is `csv.reader`, row by row, and can say
where a file is broken; the fast lane is Arrow's reader and is used when it is certain that row *i* stands in line
*i* + 2.
"""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pyarrow as pa
from pyarrow import csv as arrow_csv

from data.headings import WIDEST, first_row

LONGEST_CELL = 10_000
SEPARATORS = {",": "a comma", ";": "a semicolon", "\t": "a tab"}
# Bytes that the fast lane takes at a time, few enough to stay in the processor's cache.
BLOCK = 1 << 20

Lines = npt.NDArray[np.int64]
Places = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Raw:
    """Rows of text, each column with its distinct texts told apart and its empty cells NULL.

    `broken` holds line, cells as written, problem and fix of what is not a row.
    """

    heading: list[str]
    heading_line: int
    columns: list[pa.DictionaryArray]
    lines: Lines
    broken: list[tuple[int, list[str], str, str]]


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


def foreign(payload: bytes) -> str:
    """What the payload is if it is known to be no text; "" otherwise."""
    return next((what for start, what in _SIGNATURES if payload.startswith(start)), "")


def decoded(payload: bytes) -> tuple[bytes, str] | None:
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


def fast(body: bytes, delimiter: str, heading: list[str], heading_line: int, most: int) -> Raw | None:
    """Rows by Arrow's reader, or None unless every row certainly stands on its own line."""
    end = body.find(b"\n")
    if heading_line != 1 or not 0 < len(heading) <= WIDEST or end < 0 or end == len(body) - 1:
        return None
    first = body[:end].decode()
    if first_row(first, delimiter)[0] != heading:
        return None
    ends = _places(body, b"\n")
    count = len(ends) - 1 + (not body.endswith(b"\n"))
    if count > most or not _quotes_are_plain(body, delimiter.encode(), ends):
        return None
    names = [str(position) for position in range(len(heading))]
    try:
        table = arrow_csv.read_csv(
            pa.BufferReader(body),
            read_options=arrow_csv.ReadOptions(column_names=names, skip_rows=1, block_size=BLOCK),
            parse_options=arrow_csv.ParseOptions(
                delimiter=delimiter,
                quote_char='"',
                double_quote=True,
                escape_char=False,
                ignore_empty_lines=False,
            ),
            convert_options=arrow_csv.ConvertOptions(
                column_types=dict.fromkeys(names, pa.dictionary(pa.int32(), pa.string())),
                check_utf8=False,  # it is: `decoded`
                null_values=[""],
                strings_can_be_null=True,
            ),
        )
    except pa.ArrowInvalid:
        return None
    if table.num_rows != count:  # a bare carriage return ends a row, too
        return None
    columns = [column.combine_chunks() for column in table.unify_dictionaries().columns]
    return Raw(heading, 1, columns, np.arange(2, count + 2, dtype=np.int64), [])


def _quotes_are_plain(body: bytes, delimiter: bytes, ends: Places) -> bool:
    """Whether every quote opens, closes or is doubled in a whole cell, and no quoted cell spans lines."""
    quotes = _places(body, b'"')
    if len(quotes) % 2:
        return False
    for breaks in (ends, _places(body, b"\r")):
        passed = np.searchsorted(breaks, quotes)
        if (passed[::2] != passed[1::2]).any():
            return False
    # beside a quote that opens or closes stands another where the two stand for one within a cell
    text = np.frombuffer(body, np.uint8)
    before, after = (text.take(places, mode="clip") for places in (quotes[::2] - 1, quotes[1::2] + 1))
    beside = [*delimiter, *b'\n"']
    return bool(np.isin(before, beside).all() and np.isin(after, [*beside, ord("\r")]).all())


def _places(body: bytes, byte: bytes) -> Places:
    """Where a byte stands; looked for block by block, as what is compared stays in the cache."""
    if byte not in body:
        return np.empty(0, np.int64)
    text = np.frombuffer(body, np.uint8)
    starts = range(0, len(text), BLOCK)
    return np.concatenate([np.flatnonzero(text[at : at + BLOCK] == ord(byte)) + at for at in starts])


def careful(body: bytes, delimiter: str, most: int) -> Raw:
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
        elif len(rows) == most:
            problem = f"more than {most:,} rows"
            broken.append((line, row, problem, "Send the rows in several files."))
            break
        elif len(row) != len(heading):
            problem = f"{_cells(row)} where the heading has {len(heading)}"
            sign = SEPARATORS[delimiter]
            fix = f"Write {_cells(heading)}; put a cell that holds {sign} of its own in double quotes."
            broken.append((line, row, problem, fix))
        else:
            rows.append(row)
            at.append(line)
    columns = zip(*rows, strict=True) if rows else [() for _ in heading]
    texts = [
        pa.array([cell or None for cell in column], pa.string()).dictionary_encode() for column in columns
    ]
    return Raw(heading, heading_line, texts, np.array(at, dtype=np.int64), broken)


def _cells(row: list[str]) -> str:
    return "1 cell" if len(row) == 1 else f"{len(row)} cells"


def _torn(error: str) -> tuple[str, str]:
    if "unexpected end" in error:
        return (
            "a quoted cell that is never closed",
            'Close it with ", or write a quote inside a cell twice ("").',
        )
    if "field larger" in error:
        return f"a cell longer than {LONGEST_CELL:,} characters", "Shorten it, or close the quotes before it."
    return "a quoted cell with text behind its closing quote", 'Write a quote inside a cell twice ("").'
