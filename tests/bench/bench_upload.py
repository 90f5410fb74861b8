"""What one member waits for: an upload of 60 rows read, and assessed with the rows that bear on that member.

Run with `uv run python tests/bench/bench_upload.py [MEMBERS]`. The upload is assessed on its own, at a post as a whole
club of one member, and as what takes the place of a kit of the member in the middle of two stored clubs, the demo club and
one of 1,000 members (or as many as given) with the demo club's events. Prints the middle and the least of several
runs, milliseconds on the clock and of work on all cores; nothing is gated on them.
"""

from __future__ import annotations

import csv
import io
import statistics
import sys
import tempfile
from collections.abc import Callable
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Any

from bench_club import TODAY, now, since, told, write

from data import allocator, demo, upload
from data.store import Store
from rules import engine

ROWS = 60
RUNS = 9
AT_A_POST = {
    "events": b"event,starts,ends\nWalk,2027-04-25T08:00,2027-04-25T13:00\n",
    "posts": b"event,post,post_type\nWalk,Ford,aid_station\n",
    "assignments": b"event,post,member,kit\nWalk,Ford,Q000000,Kit\n",
}


def payload(member: str, kit: str) -> bytes:
    """An inventory of one kit with 60 lines of the demo club."""
    header, rows = told()
    text = io.StringIO(newline="")
    csv.writer(text).writerows([header, *([member, kit, *row[2:]] for row in rows[:ROWS])])
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
    wall, work = ([1000 * time for time in times] for times in zip(*spent, strict=True))
    print(
        f"{name}: {statistics.median(wall):.0f} ms on the clock (least {min(wall):.0f}), "
        f"{statistics.median(work):.0f} ms of work (least {min(work):.0f})"
    )


def main() -> None:
    """Print one line for each step and club."""

    read = partial(upload.read, "inventory.csv", payload("Q000000", "Kit"))
    show(f"read {ROWS} rows", read)

    def judge(frames: dict[str, Any]) -> None:
        engine.assess(frames, today=TODAY, subjects=engine.OWN).scores()

    show("read and assess on its own", lambda: judge({"inventory": read().table}))
    alone = {name: upload.read(f"{name}.csv", told).table for name, told in AT_A_POST.items()}
    alone["inventory"] = read().table
    show("assess it at a post, as a club of one member", lambda: engine.assess(alone, today=TODAY))
    members = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000
    for name, size in (("the demo club", 0), (f"a club of {members:,} members", members)):
        with closing(stored(size)) as store:
            inventory = store.frames()["inventory"]
            everyone = sorted(inventory["member"].unique())
            member = everyone[len(everyone) // 2]
            kit = inventory.loc[inventory["member"] == member, "kit"].iloc[0]
            again = partial(upload.read, "inventory.csv", payload(member, kit))
            bearing = partial(store.frames_bearing_on, member)
            show(
                f"read and assess within {name}",
                lambda bearing=bearing, again=again: judge(bearing([again()])),
            )
            sent = again()
            show(
                f"  of this the rows that bear on the member in {name}",
                lambda bearing=bearing, sent=sent: bearing([sent]),
            )


if __name__ == "__main__":
    allocator.restart_with_more_at_hand()  # as the dashboard does
    main()
