"""Read, check, fill, compute, judge and score a whole club, beside DuckDB loading the same file as text.

Run with `uv run python tests/bench/bench_club.py [MEMBERS …]`; 1,000 and 25,000 members of 40 items unless given.
Prints seconds and the ratio measured in the same run; nothing is gated on them.
"""

from __future__ import annotations

import csv
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

import duckdb

from data import club, demo, upload
from rules import engine, facts
from rules.policy import Policy

ITEMS = 40
TODAY = date(2027, 3, 1)


def write(path: Path, members: int) -> None:
    """An inventory of `members` members with one kit of 40 lines each, made from the lines of the demo club."""
    with tempfile.TemporaryDirectory() as folder:
        demo.write(Path(folder), today=TODAY)
        told = list(csv.reader((Path(folder) / "inventory.csv").open(encoding="utf-8", newline="")))
    header, rows = told[0], told[1:]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(header)
        for number in range(members):
            start = number * 29 % len(rows)
            block = (rows + rows)[start : start + ITEMS]
            writer.writerows([f"Q{number:06d}", "Kit", *row[2:]] for row in block)


def load_as_text(path: Path) -> float:
    """Seconds in which DuckDB alone loads the file, every column as text."""
    con = duckdb.connect(config={"threads": 2})
    start = time.perf_counter()
    con.execute("create table told as from read_csv($path, all_varchar = true)", {"path": str(path)})
    return time.perf_counter() - start


def assess(path: Path) -> dict[str, float]:
    """Seconds of each stage from bytes to scores."""
    marks = {}

    def mark(name: str, since: float) -> float:
        now = time.perf_counter()
        marks[name] = now - since
        return now

    clock = time.perf_counter()
    read = upload.read(path.name, path.read_bytes(), limits=upload.FOLDER)
    assert read.frame is not None, [str(problem) for problem in read.problems[:3]]
    clock = mark("read and check", clock)
    policy = Policy.standard()
    con = club.connect()
    club.fill(con, {"inventory": read.frame})
    clock = mark("fill", clock)
    facts.work_out(con, policy, TODAY)
    clock = mark("facts", clock)
    assessment = engine.judge_all(con, engine.load_rules(), policy, TODAY, keep_met=False)
    clock = mark("rules and scores", clock)
    assert len(assessment.table("score"))
    return marks


def main() -> None:
    engine.assess({}, today=TODAY)
    for members in [int(word) for word in sys.argv[1:]] or [1_000, 25_000]:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "inventory.csv"
            write(path, members)
            text_s = load_as_text(path)
            marks = assess(path)
        whole = sum(marks.values())
        stages = ", ".join(f"{name} {seconds:.2f} s" for name, seconds in marks.items())
        print(
            f"{members:,} members x {ITEMS} items: {whole:.2f} s, {whole / text_s:.1f} x loading as text ({text_s:.2f} s); {stages}"
        )


if __name__ == "__main__":
    main()
