"""What one member waits for: an upload of 60 rows read, and assessed with the rows that bear on that member.

Run with `uv run python tests/bench/bench_upload.py [MEMBERS]`. The upload is assessed on its own, and within two stored
clubs, the demo club and one of 1,000 members (or as many as given) with the demo club's events. Prints the middle of
several runs, milliseconds on the clock and of work on all cores; nothing is gated on them.
"""

from __future__ import annotations

import csv
import io
import statistics
import sys
import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from bench_club import TODAY, now, since, told, write

from data import demo, upload
from data.store import Store
from rules import engine

ROWS = 60
RUNS = 9
MEMBER = "QZ9ZZZ"


def payload() -> bytes:
    """An inventory of one member with one kit of 60 lines of the demo club."""
    header, rows = told()
    text = io.StringIO(newline="")
    csv.writer(text).writerows([header, *([MEMBER, "Kit", *row[2:]] for row in rows[:ROWS])])
    return text.getvalue().encode()


def stored(members: int) -> Store:
    """A club in memory: the demo club's files, with an inventory of so many members in place of its own if any."""
    store = Store(None)
    with tempfile.TemporaryDirectory() as folder:
        demo.write(Path(folder), today=TODAY)
        if members:
            write(Path(folder) / "inventory.csv", members)
        for path in sorted(Path(folder).glob("*.csv")):
            read = upload.read(path.name, path.read_bytes(), limits=upload.FOLDER)
            if read.is_accepted:
                store.accept(read, by="bench")
    return store


def show(name: str, step: Callable[[], object]) -> None:
    """Print the middle of several runs of one step, after one to warm up."""
    step()
    spent = []
    for _ in range(RUNS):
        start = now()
        step()
        spent.append(since(start))
    wall, work = (1000 * statistics.median(times) for times in zip(*spent, strict=True))
    print(f"{name}: {wall:.0f} ms on the clock, {work:.0f} ms of work")


def main() -> None:
    """Print one line for each step and club."""
    sent = payload()

    def read() -> upload.Upload:
        return upload.read("inventory.csv", sent)

    show(f"read {ROWS} rows", read)
    show("read and assess on its own", lambda: engine.assess({"inventory": read().table}, today=TODAY))
    members = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000
    for name, size in (("the demo club", 0), (f"a club of {members:,} members", members)):
        with closing(stored(size)) as store:
            frames = store.frames_of(MEMBER)
            events = len(frames["events"])

            def within(store: Store = store) -> engine.Assessment:
                mine = {**store.frames_of(MEMBER), "inventory": read().table}
                return engine.assess(mine, today=TODAY)

            show(f"read and assess within {name}, {events} events", within)
            show(f"  of this the member's rows of {name}", lambda store=store: store.frames_of(MEMBER))


if __name__ == "__main__":
    main()
