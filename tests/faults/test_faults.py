"""Disks, clocks and processes that fail: what is said, what is kept, and the way back."""

from __future__ import annotations

import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pandas as pd
import pytest

from data import backup, store, upload
from data.store import Store

TOP = Path(__file__).parents[2]
BEGIN = """
import os, resource, signal, subprocess, sys
from pathlib import Path
from data import backup, upload
from data.database import StoreError
from data.store import Store
path = Path(sys.argv[1])
def lists(n, rows):
    text = "".join(f"Q{n}AAA,bag,lead {i} {os.urandom(20).hex()},dc_lead\\n" for i in range(rows))
    return upload.read("inventory.csv", f"member,kit,item,kind\\n{text}".encode())
def tried(work):
    try:
        print("done", work())
    except StoreError as error:
        print("said", error)
"""


def run(code: str, path: Path, *before: str) -> list[str]:
    """Lines that a process of its own prints, which may be put into other surroundings first."""
    ran = subprocess.run(
        [*before, sys.executable, "-c", BEGIN + code, str(path)],
        cwd=TOP,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stdout.splitlines()


def surroundings() -> tuple[str, ...]:
    """What lets a process mount disks that only it sees; the test is left out where that is forbidden."""
    before = ("unshare", "--map-root-user", "--mount")
    try:
        subprocess.run([*before, "true"], check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("this machine lets nobody mount a disk")
    return before


def test_a_disk_that_takes_no_more_is_said_loses_nothing_and_works_again_with_room(tmp_path):
    said = run(
        """
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
club = Store(path)
club.accept(lists(1, 10), "Q1AAA")
unlimited = resource.getrlimit(resource.RLIMIT_FSIZE)
resource.setrlimit(resource.RLIMIT_FSIZE, (path.stat().st_size + 50_000, unlimited[1]))
tried(lambda: club.accept(lists(2, 3000), "Q2AAA"))
tried(lambda: backup.make(club).name[:4])
print("kept", club.version(), len(club.frames()["inventory"]), sorted(os.listdir(path.parent / "backups")))
resource.setrlimit(resource.RLIMIT_FSIZE, unlimited)
tried(lambda: club.accept(lists(2, 3000), "Q2AAA"))
club.close()
print("reopened", len(Store(path).frames()["inventory"]))
""",
        tmp_path / "club.duckdb",
    )
    assert said[0].startswith("said The disk is full. Nothing of this was stored")
    assert "Make room" in said[0]
    assert said[-3:] == ["kept 1 10 []", "done 2", "reopened 3010"] or said[-3].startswith("kept 1 10 ['club")


def test_a_copy_that_the_disk_has_no_room_for_is_said_and_leaves_nothing(tmp_path):
    said = run(
        """
subprocess.run(["mount", "-t", "tmpfs", "-o", "size=8m", "tmpfs", path.parent], check=True)
club = Store(path)
club.accept(lists(1, 2000), "Q1AAA")
filler = path.parent / "filler"
free = os.statvfs(path.parent)
filler.write_bytes(bytes(max(free.f_bavail * free.f_frsize - 200_000, 0)))
tried(lambda: backup.make(club))
print("left", os.listdir(path.parent / "backups"), len(club.frames()["inventory"]))
filler.unlink()
tried(lambda: backup.make(club).name[:11])
""",
        tmp_path / "club.duckdb",
        *surroundings(),
    )
    assert said[0].startswith("said No backup was made:")
    assert "Make room" in said[0]
    assert said[1:] == ["left [] 2000", "done club-000001"]


def test_a_disk_that_can_only_be_read_is_said_as_what_it_is(tmp_path):
    said = run(
        """
subprocess.run(["mount", "-t", "tmpfs", "tmpfs", path.parent], check=True)
Store(path).close()
subprocess.run(["mount", "-o", "remount,ro", path.parent], check=True)
tried(lambda: Store(path))
tried(lambda: Store(path.with_name("new.duckdb")))
subprocess.run(["mount", "-o", "remount,rw", path.parent], check=True)
tried(lambda: Store(path).version())
""",
        tmp_path / "club.duckdb",
        *surroundings(),
    )
    assert all("Read-only file system" in line and "where you may write" in line for line in said[:2])
    assert not any("Move it away" in line for line in said)
    assert said[2] == "done 0"


def test_a_clock_that_jumps_changes_no_order(tmp_path, monkeypatch):
    class Clock:
        years = iter((2027, 2031, 2020, 2027))

        @classmethod
        def now(cls, zone):
            return pd.Timestamp(f"{next(cls.years)}-05-01", tz=zone)

    def send(club: Store, item: str) -> None:
        text = f"member,kit,item,kind\nQ1AAA,bag,{item},dc_lead\n"
        club.accept(upload.read("inventory.csv", text.encode()), "Q1AAA")

    with closing(Store(tmp_path / "club.duckdb")) as club:
        monkeypatch.setattr(store, "datetime", Clock)
        for item in ("first", "second", "third"):
            send(club, item)
        club.set_policy("", "Q1AAA", "why")
        assert club.frames()["inventory"]["item"].tolist() == ["third"]
        assert club.uploads()["upload_id"].tolist() == [3, 2, 1]
        assert club.changes_log()["change_id"].tolist() == [4, 3, 2, 1]


def test_fifty_members_who_send_at_once_lose_nothing_and_stand_in_the_record_in_order(tmp_path):
    rounds = 2

    def send(member: int) -> list[int]:
        numbers = []
        for size in range(1, rounds + 1):
            text = "".join(f"Q{member}AA,bag,lead {n},dc_lead\n" for n in range(size))
            read = upload.read("inventory.csv", f"member,kit,item,kind\n{text}".encode())
            numbers.append(club.accept(read, f"Q{member}AA"))
        return numbers

    with closing(Store(tmp_path / "club.duckdb")) as club:
        with ThreadPoolExecutor(50) as pool:
            given = list(pool.map(send, range(50)))
        log, uploads = club.changes_log(), club.uploads()
        sizes = club.frames()["inventory"].groupby("member").size()
        current = uploads[uploads["is_current"]]
    assert sorted(number for numbers in given for number in numbers) == list(range(1, 50 * rounds + 1))
    assert all(numbers == sorted(numbers) for numbers in given)
    assert sizes.tolist() == [rounds] * 50
    assert sorted(current["upload_id"]) == sorted(numbers[-1] for numbers in given)
    assert log["upload_id"].tolist() == log["change_id"].tolist() == list(range(50 * rounds, 0, -1))
    assert log["at"].is_monotonic_decreasing
    by = dict(zip(log["upload_id"], log["by"], strict=True))
    assert all(by[number] == f"Q{member}AA" for member, numbers in enumerate(given) for number in numbers)


def test_copies_made_while_five_lists_a_second_come_in_are_each_whole(tmp_path):
    """A copy holds everything up to one upload and nothing of the next; nobody's list is lost meanwhile."""

    def send(number: int) -> int:
        time.sleep(0.2)
        rows = "".join(f"Q1AAA,bag,lead {number},dc_lead\n" for _ in range(number))
        return club.accept(upload.read("inventory.csv", f"member,kit,item,kind\n{rows}".encode()), "Q1AAA")

    copies = []
    with closing(Store(tmp_path / "club.duckdb")) as club, ThreadPoolExecutor(1) as pool:
        given = [pool.submit(send, number) for number in range(1, 16)]
        while not given[-1].done():
            copies.append(backup.make(club, 1000))
        assert [sent.result() for sent in given] == list(range(1, 16))
        assert club.frames()["inventory"]["item"].tolist() == ["lead 15"] * 15
    assert len(copies) > 3
    for copy in copies[:: max(len(copies) // 5, 1)]:
        with closing(Store(copy)) as held:
            newest = held.version()
            assert len(held.uploads()) == newest
            assert held.frames()["inventory"]["item"].tolist() == [f"lead {newest}"] * newest


def test_processes_that_are_killed_at_any_moment_lose_and_halve_nothing():
    program = Path(__file__).with_name("killed.py")
    ran = subprocess.run(
        [sys.executable, str(program), "8", "--seed", "7"], capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr
    assert "8 processes killed" in ran.stdout
