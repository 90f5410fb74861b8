"""Read, check, fill, compute, judge and score a whole club, beside DuckDB loading the same file as text.

Run with `uv run python tests/bench/bench_club.py [MEMBERS …]`; 1,000 and 25,000 members of 40 items unless given.
No two kits are alike; `--alike` repeats the demo club's kits instead, as clubs that buy together do. Prints how many
kits are unlike every other, and of each stage the least of several runs: seconds on the clock, seconds of both cores
together, and their ratios to loading as text, measured by turns in one process. Nothing is gated on them.
"""

from __future__ import annotations

import csv
import random
import sys
import tempfile
import time
from datetime import date
from pathlib import Path
from typing import NamedTuple

from data import club, demo, upload
from rules import engine, facts
from rules.facts.station_parts import ROLES
from rules.policy import Policy
from rules.rule import load_rules

ITEMS = 40
CHANGED = 4
RUNS = 3
TODAY = date(2027, 3, 1)


class Seconds(NamedTuple):
    """Seconds on the clock, and of work on all cores."""

    wall: float
    work: float


def now() -> Seconds:
    """The two clocks."""
    return Seconds(time.perf_counter(), time.process_time())


def since(start: Seconds) -> Seconds:
    """What has passed on the two clocks."""
    end = now()
    return Seconds(end.wall - start.wall, end.work - start.work)


def told() -> tuple[list[str], list[list[str]]]:
    """The demo club's inventory: heading and lines."""
    with tempfile.TemporaryDirectory() as folder:
        demo.write(Path(folder), today=TODAY)
        header, *rows = csv.reader((Path(folder) / "inventory.csv").open(encoding="utf-8", newline=""))
    return header, rows


def write(path: Path, members: int, are_alike: bool = False) -> None:
    """An inventory of `members` members with one kit of 40 lines each, made from the lines of the demo club.

    Unless kits may be alike, some lines of each are taken from elsewhere, and currents, powers, weights and lengths
    differ by some percent from kit to kit.
    """
    header, rows = told()
    draw = random.Random(members)
    figures = [header.index(name) for name in ("amps_tx", "rf_watts", "capacity_ah", "length_m", "weight_kg")]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(header)
        for number in range(members):
            start = number * 29 % len(rows)
            block = [[f"Q{number:06d}", "Kit", *row[2:]] for row in (rows + rows)[start : start + ITEMS]]
            if not are_alike:
                for place in draw.sample(range(ITEMS), CHANGED):
                    block[place][2:] = draw.choice(rows)[2:]
                for row in block:
                    for column in figures:
                        if row[column]:
                            row[column] = f"{float(row[column]) * draw.uniform(0.9, 1.1):.3g}"
            writer.writerows(block)


def load_as_text(path: Path) -> Seconds:
    """Seconds in which DuckDB alone loads the file, every column as text."""
    import duckdb  # after `data`, which sets what it reads as it is imported

    con = duckdb.connect(config={"threads": 2})
    start = now()
    con.execute("create table told as from read_csv($path, all_varchar = true)", {"path": str(path)})
    return since(start)


def assess(path: Path) -> tuple[dict[str, Seconds], engine.Assessment]:
    """Seconds of each stage from bytes to scores, and what came of it."""
    marks = {}
    start = now()
    read = upload.read(path.name, path.read_bytes(), limits=upload.FOLDER)
    assert read.table is not None, [str(problem) for problem in read.problems[:3]]
    marks["read and check"], start = since(start), now()
    policy = Policy.standard()
    con = facts.blank()
    club.fill(con, {"inventory": read.table})
    marks["fill"], start = since(start), now()
    assessment = engine.judge_all(con, load_rules(), policy, TODAY, keep_met=False)
    marks["facts, rules and scores"] = since(start)
    assert len(assessment.table("score"))
    return marks, assessment


def unlike(assessment: engine.Assessment) -> str:
    """How many kits have the same parts of a station as no other, by their kinds alone and with their figures."""
    shares = assessment.con.execute(
        """
        with shape as (
            select kit_id, list(kind order by line) as kinds,
                list(hash(kind, quantity, dc_plug, dc_plug_far, rf_plug, rf_plug_far, volts_min, volts_max, amps_tx, amps_rated,
                    bands, charged) order by line) as figures
            from item where is_usable and list_contains($roles, role) group by kit_id
        )
        select sum(cast(of_kind = 1 as integer)) / count(*), sum(cast(of_figure = 1 as integer)) / count(*) from (
            select count(*) over (partition by kinds) as of_kind, count(*) over (partition by figures) as of_figure from shape
        )
        """,
        {"roles": list(ROLES)},
    ).fetchall()[0]
    return "unlike every other: {:.0%} of kits by kinds, {:.0%} with figures".format(*shares)


def least(runs: list[Seconds]) -> Seconds:
    """The least of several runs on each clock."""
    return Seconds(*map(min, zip(*runs, strict=True)))


def main() -> None:
    """Print the kits, one line of clock and one of work for each size asked for."""
    are_alike = "--alike" in sys.argv
    for members in [int(word) for word in sys.argv[1:] if word != "--alike"] or [1_000, 25_000]:
        texts, runs = [], []
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "inventory.csv"
            write(path, members, are_alike)
            for _ in range(RUNS):
                texts.append(load_as_text(path))
                marks, assessment = assess(path)
                runs.append(marks)
        print(f"{members:,} members x {ITEMS} items; {unlike(assessment)}")
        text = least(texts)
        stages = {name: least([marks[name] for marks in runs]) for name in runs[0]}
        for clock in Seconds._fields:
            base = getattr(text, clock)
            spent = {name: getattr(stage, clock) for name, stage in stages.items()}
            whole = sum(spent.values())
            by_stage = ", ".join(f"{name} {seconds / base:.1f}" for name, seconds in spent.items())
            print(
                f"  {clock}: {whole:.2f} s, {whole / base:.1f} x loading as text ({base:.2f} s): {by_stage}"
            )


if __name__ == "__main__":
    main()
