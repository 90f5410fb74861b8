"""Findings and asks as CSV for a spreadsheet; no cell can act as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from dashboard.sheets import told
from data import upload
from rules.engine import Assessment, Finding

FINDING = (
    "status", "severity", "family", "rule", "title", "subject", "member", "kit", "event", "post", "sentence", "fix",
    "source", "file",
)  # fmt: skip


def _file(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """Rows as CSV, UTF-8 with byte-order mark; what is not known is an empty cell."""
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\r\n")
    writer.writerow(heads)
    writer.writerows(
        [["" if value is None else upload.neutralise(str(value)) for value in row] for row in rows]
    )
    return held.getvalue().encode("utf-8-sig")


def findings_csv(findings: Iterable[Finding]) -> bytes:
    """Findings, one row each, with the lines of the files that they rest on."""
    rows = ([*(getattr(f, name) for name in FINDING), " ".join(map(str, f.lines))] for f in findings)
    return _file([*FINDING, "lines"], rows)


def asks_csv(assessment: Assessment) -> bytes:
    """What every member is asked to do first, one row for each ask."""
    members = [row["member"] for row in told.rows(assessment, "select member from member order by member")]
    rows = (
        [member, number, f.severity, f.status, f.title, f.sentence, f.fix, ask.cost, " ".join(ask.cautions)]
        for member in members
        for number, ask in enumerate(told.asks(assessment, member), 1)
        for f in [ask.finding]
    )
    heads = ["member", "number", "severity", "status", "title", "sentence", "fix", "cost", "cautions"]
    return _file(heads, rows)
