"""Processes killed at random moments of their work, and what must be true of the database afterwards.

uv run python tests/faults/killed.py 200
"""

from __future__ import annotations

import argparse
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from contextlib import closing, suppress
from itertools import count
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path

TOP = Path(__file__).parents[2]
sys.path.insert(0, str(TOP))

from data import backup, restoring, upload  # noqa: E402
from data.store import Store  # noqa: E402
from tests.store import earlier  # noqa: E402

FORK = get_context("forkserver")  # with everything imported already, so that a trial is short
FORK.set_forkserver_preload(["data.backup", "data.restoring", "data.upload", "data.store"])
Say = Callable[[object], None]


def _lead(name: str) -> upload.Upload:
    return upload.read("inventory.csv", f"member,kit,item,kind\nQ1AAA,bag,{name},dc_lead\n".encode())


def _uploads(path: Path, say: Say) -> None:
    club = Store(path)
    for n in count():
        rows = "".join(f"Q{n % 5}AAA,bag,lead {n} {i},dc_lead\n" for i in range(40 + n % 7))
        read = upload.read("inventory.csv", f"member,kit,item,kind\n{rows}".encode())
        say(club.accept(read, "Q1AAA"))


def _restores(path: Path, say: Say) -> None:
    club = Store(path)
    say(club.accept(_lead("first"), "Q1AAA"))
    copy = backup.make(club, 10_000)
    for n in count():
        club.accept(_lead(f"number {n}"), "Q1AAA")
        restoring.restore(club, copy, "coordinator")
        say("restored")


def _backups(path: Path, say: Say) -> None:
    club = Store(path)
    say(club.accept(_lead("first"), "Q1AAA"))
    while True:
        say(backup.make(club, 5).name)


def _migrations(path: Path, say: Say) -> None:
    fresh = path.with_name("fresh.duckdb")
    while True:
        shutil.copy(path.with_name("old.duckdb"), fresh)
        fresh.replace(path)  # at once: only the migration is to be broken off, not the copying
        say("opening")
        backup.opened(path).close()


# Each says what it did once it was acknowledged.
WORK = {"upload": _uploads, "restore": _restores, "backup": _backups, "migrate": _migrations}


def _work(kind: str, path: Path, out: Connection) -> None:
    WORK[kind](path, out.send)


class LostError(AssertionError):
    """Something acknowledged is gone, or something is there by halves."""


def trial(folder: Path, work: str, moment: random.Random) -> None:
    """Kill one process at one moment of one kind of work, and look at what it left.

    Raises
    ------
    LostError
        Something acknowledged is gone, or something is there by halves.
    """
    path = folder / "club.duckdb"
    if work == "migrate":
        earlier.unpack(moment.choice(list(earlier.steps())[:-1]), folder / "old.duckdb")
    heard, out = FORK.Pipe(duplex=False)
    process = FORK.Process(target=_work, args=(work, path, out))
    process.start()
    out.close()
    said = [heard.recv()]
    time.sleep(moment.uniform(0.0, 0.6))
    process.kill()
    with suppress(EOFError):
        while True:
            said.append(heard.recv())
    process.join()
    if process.exitcode != -9:
        raise LostError(f"{work} ended by itself with {process.exitcode}")
    with closing(Store(path)) as club:
        _see_that_all_is_whole(club, work, said)


def _see_that_all_is_whole(club: Store, work: str, said: list[object]) -> None:
    uploads, log = club.uploads(), club.changes_log()
    numbers = [told for told in said if isinstance(told, int)]
    if work == "migrate":
        with club.reading() as cur:
            held = cur.execute("select count(*) from told_kits").fetchone()
            done = [row[0] for row in cur.execute("select version from schema_version order by 1").fetchall()]
        if held != (2,) or done != list(earlier.steps()):
            raise LostError(f"migrate left {held} rows in versions {done}")
        return
    if log["change_id"].tolist() != sorted(set(log["change_id"]), reverse=True):
        raise LostError("the record of changes has a number twice")
    with club.reading() as cur:
        held = dict(cur.execute("select upload_id, count(*) from told_inventory group by all").fetchall())
    current = uploads[uploads["is_current"]]
    if held != dict(zip(current["upload_id"], current["rows"], strict=True)):
        raise LostError(f"rows in force {held} are not those of the uploads in force")
    if work == "upload" and not set(numbers) <= set(uploads["upload_id"]):
        raise LostError(f"acknowledged {numbers[-1]}, there are {uploads['upload_id'].max()}")
    restored = int((log["what"] == "backup restored").sum())
    if work == "restore":
        told = said.count("restored")
        if restored < told:
            raise LostError(f"{told} restores were acknowledged, {restored} are in the record")
        _see_that_copies_open(club)
    if work == "backup":
        names = [told for told in said if isinstance(told, str)]
        kept = {file.name for file in _see_that_copies_open(club)}
        newest = names[-1] if names else None
        if newest and newest not in kept:
            raise LostError(f"the acknowledged copy {newest} is gone")


def _see_that_copies_open(club: Store) -> list[Path]:
    """Every copy that bears a full name must open and hold the first upload."""
    assert club.path is not None
    copies = backup.listed(club.path)
    for copy in copies[-2:]:
        with closing(Store(copy)) as opened:
            if opened.uploads().empty:
                raise LostError(f"{copy.name} is empty")
    return copies


def run(trials: int, seed: int) -> Counter[str]:
    """As many trials as are asked for, each kind of work in turn; how many of each."""
    moment, done = random.Random(seed), Counter[str]()
    for number in range(trials):
        work = list(WORK)[number % len(WORK)]
        with tempfile.TemporaryDirectory(prefix="kitmuster-") as folder:
            trial(Path(folder), work, moment)
        done[work] += 1
    return done


def main() -> None:
    """Run the trials and say how many held; exit code 1 after a loss."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("trials", type=int, nargs="?", default=200)
    asked.add_argument("--seed", type=int, default=1)
    told = asked.parse_args()
    began, done = time.monotonic(), Counter[str]()
    for start in range(0, told.trials, 20):
        done += run(min(20, told.trials - start), told.seed + start)
        took = time.monotonic() - began
        print(
            f"{done.total()} processes killed, nothing lost or halved {dict(done)}; {took:.0f} s", flush=True
        )


if __name__ == "__main__":
    main()
