"""From bytes to rows of text.

Rows are read in one of two lanes with the same result: the careful lane is `csv.reader`, row by row, and can say
where a file is broken; the fast lane is Arrow's reader and is used when it is certain that row *i* stands in line
*i* + 2.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
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


PICTURE = "a picture"
# How a file begins that is no text; of those in TABLES a program can save the sheet as CSV.
_SIGNATURES = (
    (b"PK\x03\x04", "a spreadsheet or zip archive"),
    (b"\xd0\xcf\x11\xe0", "an old or locked spreadsheet"),
    (b"\x89PNG", PICTURE),
    (b"\xff\xd8\xff", PICTURE),
    (b"GIF8", PICTURE),
    (b"II*\0", PICTURE),
    (b"MM\0*", PICTURE),
    (b"%PDF", "a PDF"),
    (b"\x1f\x8b", "a compressed archive"),
    (b"7z\xbc\xaf", "a compressed archive"),
    (b"<!doctype html", "a web page"),
    (b"<html", "a web page"),
    (b"<?xml", "an XML file"),
    (b"{\\rtf", "a text document"),
    (b'{"', "a JSON file"),
    (b"[{", "a JSON file"),
)
TABLES = (
    "a spreadsheet or zip archive",
    "an old or locked spreadsheet",
    "a compressed archive",
    "a JSON file",
    "an XML file",
)
# A line that some spreadsheets write above the headings.
_SEPARATOR_LINE = re.compile(rb"\Asep=[,;\t]\r?(?=\n)")
_BOMS = ((codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))


def foreign(payload: bytes) -> str:
    """What the payload is if it is known to be no text; "" otherwise."""
    if payload[4:8] == b"ftyp" or (payload[:4] == b"RIFF" and payload[8:12] == b"WEBP"):
        return PICTURE
    begin = payload[:64].removeprefix(codecs.BOM_UTF8).lstrip()
    begins = (payload, begin.lower())
    return next((what for start, what in _SIGNATURES if any(one.startswith(start) for one in begins)), "")


def decoded(payload: bytes) -> tuple[bytes, str] | None:
    """Payload as UTF-8 without byte-order mark, and the encoding it had; None when it is not text.

    A first line that only names the separator is left blank, so that every other keeps its number.
    """
    found = _decoded(payload)
    line = _SEPARATOR_LINE.match(found[0]) if found else None
    return (found[0][line.end() :], found[1]) if found and line else found


def _decoded(payload: bytes) -> tuple[bytes, str] | None:
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
    breaks = _Breaks(body)
    count = len(breaks.ends) - 1 + (not body.endswith(b"\n"))
    if count > most or not breaks.quotes_are_plain(delimiter):
        return None
    middle = int(breaks.ends[count // 2]) + 1 if count > 1 else len(body)
    parts = [(0, middle), (middle, len(body))][:count]
    names = [str(position) for position in range(len(heading))]
    whole = pa.py_buffer(body)

    def rows_of(part: tuple[int, int]) -> pa.Table:
        start, stop = part
        return arrow_csv.read_csv(
            pa.BufferReader(whole.slice(start, stop - start)),
            read_options=arrow_csv.ReadOptions(
                column_names=names, skip_rows=int(start == 0), block_size=BLOCK, use_threads=False
            ),
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

    # half of the rows by each of two threads: less work than Arrow's own, which pass every column of a block around
    with ThreadPoolExecutor(len(parts)) as pool:
        try:
            table = pa.concat_tables(pool.map(rows_of, parts))
        except pa.ArrowInvalid:
            return None
        if table.num_rows != count:  # a bare carriage return ends a row, too
            return None
        columns = list(pool.map(_as_one, table.columns))
    return Raw(heading, 1, columns, np.arange(2, count + 2, dtype=np.int64), [])


def _as_one(column: pa.ChunkedArray) -> pa.DictionaryArray:
    return column.unify_dictionaries().combine_chunks()


class _Breaks:
    """Where lines end, quotes and carriage returns stand in a text, in their order."""

    def __init__(self, body: bytes) -> None:
        self._text = np.frombuffer(body, np.uint8)
        self._signs = [sign for sign in b'\n"\r' if sign in body]
        # block by block, as what is compared stays in the cache
        with ThreadPoolExecutor(2) as pool:
            self._places = np.concatenate(list(pool.map(self._signs_from, range(0, len(body), BLOCK))))
        self._at = self._text[self._places]
        self.ends: Places = self._places[self._at == ord("\n")]

    def _signs_from(self, at: int) -> Places:
        """Where signs stand in the block that begins there."""
        block = self._text[at : at + BLOCK]
        is_sign = block == self._signs[0]
        for sign in self._signs[1:]:
            is_sign |= block == sign
        places: Places = np.flatnonzero(is_sign) + at
        return places

    def quotes_are_plain(self, delimiter: str) -> bool:
        """Whether every quote opens, closes or is doubled in a whole cell, and no quoted cell spans lines."""
        quotes = np.flatnonzero(self._at == ord('"'))
        if len(quotes) % 2 or (quotes[1::2] - quotes[::2] != 1).any():
            return False
        # beside a quote that opens or closes stands another where the two stand for one within a cell
        places = self._places[quotes]
        before, after = (
            self._text.take(places, mode="clip") for places in (places[::2] - 1, places[1::2] + 1)
        )
        beside = [*delimiter.encode(), *b'\n"']
        return bool(np.isin(before, beside).all() and np.isin(after, [*beside, ord("\r")]).all())


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
