"""What the sender of a file gets back: the list of its problems, and the file itself with the problems written beside."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from data.headings import ADDED, plain_heading
from data.problems import Problem, counted
from data.upload import Upload, neutralise


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
    csv.writer(out, delimiter=delimiter).writerows([neutralise(cell or "") for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")
