"""Malformed and hostile files without end, and what must hold for each of them.

    uv run python tests/fuzz/hostile.py 100000

A file follows from its number and the seed alone, so that one that failed can be made again with --only.
"""

from __future__ import annotations

import argparse
import csv
import faulthandler
import io
import os
import random
import resource
import sys
import time
import unicodedata
import zipfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field
from functools import cache
from itertools import repeat
from multiprocessing import get_context
from pathlib import Path

TOP = Path(__file__).parents[2]
sys.path[:0] = [str(TOP), str(TOP / "tests")]

from workbooks import ods, ods_row, table, xlsx  # noqa: E402

from data import schema, sent_back, spreadsheet  # noqa: E402
from data.store import Store  # noqa: E402

LONGEST_S = 5.0  # processor time for one file
HANGS_S = 600.0  # a part of the run that takes longer ends with a traceback
PART = 500  # files
UNSEEN = ("Cc", "Cf", "Cs", "Zl", "Zp")
STORED = 20  # one in so many goes on into a store
NASTY = [
    b"\0", b"\xff\xfe", b"\xfe\xff", b"\xef\xbb\xbf", b"\x1a", b"\r", b"\n", b"\r\n", b'"', b'""', b'"""', b",", b";", b"\t",
    b"'", b"\\", b"=1+1", b"=cmd|' /C calc'!A0", b"@SUM(A1)", b"+1", b"-1", b"\t=1", b"<script>alert(1)</script>",
    b"![x](http://host.invalid/x.png)", b"[x](javascript:alert(1))", b"</td></table>", b"{{7*7}}", b"$where", b"%s%n%x",
    b"../../../../etc/passwd", b"C:\\con", b"'; drop table upload; --", b"\x1b[31m", b"1e999999", b"-1e999999", b"nan",
    b"inf", b"-0", b"9" * 400, b"0x10", b"1_000", b"1,5", b"0" * 500 + b"1", b"9999-99-99", b"0000-00-00", b"10000-01-01",
    b"2027-02-30", b"2027-04-25T25:61", b"A" * 10_001, b"," * 400, b"\n" * 3000, b'"' * 999, b"=HYPERLINK(\"http://x.invalid\")",
    "\u202e\u2066gnp.exe".encode(), "e\u0301".encode() * 200, "\u200b\ufeff\u00ad".encode(), "\u2028\u2029\x85".encode(),
    "\U0001f4fb\U000e0041".encode(), "\uff11\uff12".encode(), "\u0663\u017f\u0130\ufb01".encode(),
    b"\xed\xa0\x80", b"\xf4\x90\x80\x80", b"\xc0\x80", b"\xf8\x88\x80\x80\x80", b"member", b"Q1AAA", b"NULL", b"None", b"#REF!",
]  # fmt: skip
NAMES = [
    "inventory.csv", "../../etc/passwd.csv", "members.CSV.exe", "<img src=x onerror=1>.csv", "a\0b.csv", "", "/", "x" * 5000,
    "\u202evsc.yrotnevni", "posts.csv\r\nX: y", "=1+1.csv", "kits", "CON", "..", "list.xlsx", "loans.ods",
]  # fmt: skip


class BrokenPromiseError(AssertionError):
    """A file did what no file may."""


@dataclass
class Tally:
    """What came of a run: processor time in s, memory in MB."""

    files: int = 0
    slowest_s: float = 0.0
    slowest: int = -1
    peak_mb: float = 0.0
    outcomes: Counter[str] = field(default_factory=Counter)

    def add(self, number: int, outcome: str, took_s: float) -> None:
        """Count one file."""
        self.join(Tally(1, took_s, number, 0.0, Counter([outcome])))

    def join(self, other: Tally) -> None:
        """Count the files of another run."""
        self.files += other.files
        self.outcomes += other.outcomes
        self.slowest_s, self.slowest = max((self.slowest_s, self.slowest), (other.slowest_s, other.slowest))
        self.peak_mb = max(self.peak_mb, other.peak_mb)

    def __str__(self) -> str:
        kinds = ", ".join(f"{count:,} {name}" for name, count in sorted(self.outcomes.items()))
        return (
            f"{self.files:,} files ({kinds}); slowest {self.slowest_s * 1000:.0f} ms of processor time "
            f"(file {self.slowest}); most memory of a process {self.peak_mb:.0f} MB"
        )


@cache
def corpus() -> list[bytes]:
    """Files to start from: blank lists, good and bad examples, workbooks."""
    folders = (TOP / "data" / "templates", TOP / "tests" / "clubs" / "uploads")
    texts = [path.read_bytes() for folder in folders for path in sorted(folder.rglob("*.csv"))]
    rows = [["member", "kit", "item", "kind"], ["Q1AAA", "bag", "lead", "dc_lead"]]
    sheets = {"inventory": table(rows), "kits": table([["member", "kit", "hours"], ["Q1AAA", "bag", "6"]])}
    return [text for text in texts if len(text) < 50_000] + [
        xlsx(sheets),
        ods({"inventory": "".join(ods_row(*cells) for cells in rows)}),
    ]


def made(seed: int, number: int) -> tuple[str, bytes]:
    """Name and bytes of one file."""
    by = random.Random(f"{seed}/{number}")
    payload = by.choice(corpus()) if by.random() < 0.97 else by.randbytes(by.randrange(3000))
    if zipfile.is_zipfile(io.BytesIO(payload)) and by.random() < 0.8:
        payload = _repacked(by, payload)
    else:
        for _ in range(by.choice((1, 1, 2, 3, 8))):
            payload = by.choice(CHANGES)(by, payload)
    if by.random() < 0.03:
        payload = payload.decode("utf-8", "replace").encode(
            errors="replace", encoding=by.choice(("utf-16", "utf-16-le", "utf-32", "cp037"))
        )
    return by.choice(NAMES), payload


def _repacked(by: random.Random, payload: bytes) -> bytes:
    """The workbook with its parts changed, and packed as a workbook again."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(payload)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            content = old.read(part)
            if by.random() < 0.4:
                content = by.choice(CHANGES)(by, content)
            if by.random() < 0.02:
                content += b" " * by.randrange(30_000_000)
            if by.random() > 0.05:
                new.writestr(part.filename, content)
    return out.getvalue()


def _place(by: random.Random, payload: bytes) -> int:
    return by.randrange(len(payload) + 1)


def _insert(by: random.Random, payload: bytes) -> bytes:
    at = _place(by, payload)
    return payload[:at] + by.choice(NASTY) + payload[at:]


def _in_a_cell(by: random.Random, payload: bytes) -> bytes:
    cells = payload.split(b",")
    cells[by.randrange(len(cells))] = by.choice(NASTY)
    return b",".join(cells)


def _flip(by: random.Random, payload: bytes) -> bytes:
    changed = bytearray(payload)
    for _ in range(by.choice((1, 4, 40))):
        if changed:
            changed[by.randrange(len(changed))] = by.randrange(256)
    return bytes(changed)


def _cut(by: random.Random, payload: bytes) -> bytes:
    start, end = sorted((_place(by, payload), _place(by, payload)))
    return payload[:start] + payload[end:]


def _repeat(by: random.Random, payload: bytes) -> bytes:
    start, end = sorted((_place(by, payload), _place(by, payload)))
    return (
        payload[:start]
        + payload[start:end] * min(by.choice((2, 5, 300)), 300_000 // (end - start + 1) + 1)
        + payload[end:]
    )


def _splice(by: random.Random, payload: bytes) -> bytes:
    other = by.choice(corpus())
    return payload[: _place(by, payload)] + other[_place(by, other) :]


def _other_separator(by: random.Random, payload: bytes) -> bytes:
    return payload.replace(
        by.choice((b",", b"\n", b'"')), by.choice((b";", b"\t", b"|", b"\r", b"\r\n", b" "))
    )


CHANGES = (_insert, _in_a_cell, _in_a_cell, _flip, _cut, _repeat, _splice, _other_separator)


def hold(name: str, payload: bytes, store: Store | None = None) -> str:
    """See that one file is read or refused as promised; what came of it.

    Raises
    ------
    BrokenPromiseError
        It was neither, or what is handed back about it is not safe.
    """
    outcomes = set()
    for read in spreadsheet.read_files(name, payload):
        if read.is_accepted == bool(read.problems):
            raise BrokenPromiseError(f"accepted: {read.is_accepted}, and {len(read.problems)} problems")
        said = " ".join(map(str, read.problems))
        if any(unicodedata.category(c) in UNSEEN for c in set(said)):
            raise BrokenPromiseError(f"a message with what cannot be seen: {said[:200]!r}")
        _see_that_no_cell_is_a_formula(sent_back.problems_csv(read), ",")
        _see_that_no_cell_is_a_formula(sent_back.annotated_copy(read), read.delimiter or ",")
        if read.table is not None:
            missing = set(schema.columns(read.stem)) - set(read.table.column_names)
            if missing:
                raise BrokenPromiseError(f"columns are missing: {missing}")
            if store is not None:
                store.changes(read)
                store.accept(read, "fuzz")
                store.frames()
        outcomes.add("taken" if read.is_accepted else "refused")
    return " and ".join(sorted(outcomes))


def _see_that_no_cell_is_a_formula(handed_back: bytes, delimiter: str) -> None:
    text = handed_back.decode("utf-8-sig")
    shortest = csv.field_size_limit(1 << 30)  # a torn row is handed back as one cell
    try:
        cells = [
            cell for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter) for cell in row
        ]
    except csv.Error as error:
        raise BrokenPromiseError(f"what is handed back is no CSV: {error}") from error
    finally:
        csv.field_size_limit(shortest)
    for cell in cells:
        if cell[:1] in ("=", "@", "\t", "\r") or (
            cell[:1] in ("+", "-") and not cell[1:2].isdigit() and cell[1:2] not in "."
        ):
            raise BrokenPromiseError(f"a cell that a spreadsheet works out: {cell[:80]!r}")


def run(numbers: range, seed: int) -> Tally:
    """Make and hold every file; a file that breaks a promise is named and raised."""
    tally = Tally()
    faulthandler.dump_traceback_later(HANGS_S, exit=True)
    try:
        with closing(Store(None)) as store:
            for number in numbers:
                name, payload = made(seed, number)
                began = time.thread_time()
                try:
                    outcome = hold(name, payload, store if number % STORED == 0 else None)
                except BaseException as error:
                    error.add_note(f"seed {seed}, file {number}: {name[:60]!r}, {payload[:200]!r}")
                    raise
                tally.add(number, outcome, time.thread_time() - began)
    finally:
        faulthandler.cancel_dump_traceback_later()
    if tally.slowest_s > LONGEST_S:
        raise BrokenPromiseError(f"seed {seed}: {tally}")
    tally.peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return tally


def main() -> None:
    """Hold as many files as are asked for, saying how far it is; exit code 1 after a broken promise."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("files", type=int, nargs="?", default=100_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", type=int, help="number of the one file to make again")
    asked.add_argument("--jobs", type=int, default=os.cpu_count())
    told = asked.parse_args()
    if told.only is not None:
        print(run(range(told.only, told.only + 1), told.seed))
        return
    began, total = time.monotonic(), Tally()
    parts = [range(start, min(start + PART, told.files)) for start in range(0, told.files, PART)]
    with ProcessPoolExecutor(told.jobs, get_context("spawn")) as pool:
        for tally in pool.map(run, parts, repeat(told.seed)):
            total.join(tally)
            print(f"{total}; {time.monotonic() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main()
