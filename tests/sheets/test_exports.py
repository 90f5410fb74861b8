"""Findings and asks as CSV, of which no cell is a formula."""

import csv
import io

from dashboard.sheets import exports, told
from data import upload


def rows(content: bytes) -> list[dict[str, str]]:
    assert content.startswith(b"\xef\xbb\xbf")
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"))))


def test_findings_are_exported_one_a_row(small):
    found = small.findings()
    sent = rows(exports.findings_csv(found))
    assert len(sent) == len(found)
    assert [row["sentence"] for row in sent] == [upload.neutralise(f.sentence) for f in found]
    assert [row["lines"].split() for row in sent] == [[str(line) for line in f.lines] for f in found]
    assert [row["file"] for row in sent] == [f.file for f in found]
    assert any(row["lines"] for row in sent)


def test_asks_are_exported_for_every_member(assessment):
    sent = rows(exports.asks_csv(assessment))
    first = [row for row in sent if row["member"] == "QA4FGK"]
    assert [row["title"] for row in first] == [ask.finding.title for ask in told.asks(assessment, "QA4FGK")]
    assert max(int(row["number"]) for row in sent) == 3


def test_no_exported_cell_is_a_formula(small):
    sent = exports._file(["a"], [["=1+1"], ["+x"], ["-2"], ["@x"], [None]])
    assert [row["a"] for row in csv.DictReader(io.StringIO(sent.decode("utf-8-sig")))] == [
        "'=1+1",
        "'+x",
        "-2",
        "'@x",
        "",
    ]
    for row in rows(exports.findings_csv(small.findings())):
        assert not any(value.startswith(("=", "+", "@")) for value in row.values())
    assert any(
        row["subject"].startswith("'=cmd")
        for row in rows(exports.findings_csv(small.findings(with_met=True)))
    )
