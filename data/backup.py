"""Copies of the club's database: made while it is open, and read back before they count.

A copy stands in the folder `backups` beside the database and carries a number that only grows, so that the
newest one is known even where the clock was wrong.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

import duckdb

from data import disk
from data.database import StoreError, backups, literal, one, reason
from data.store import Store

KEPT = 14
UNFINISHED = ".unfinished"
COPIED = "copied"  # a copy as long as it is attached
_NUMBERED = re.compile(r"-(\d{6,})-\d{8}T\d{6}Z$")
# Rows of a table, and the sum of a number worked out from each whole row.
Digest = tuple[int, int]


def listed(path: Path) -> list[Path]:
    """The copies of a database, oldest first."""
    found = _numbered(path)
    return [found[number] for number in sorted(found)]


def opened(path: Path) -> Store:
    """The club's database; before the tables of an earlier version are brought up, they are copied as they are.

    Raises
    ------
    StoreError
        As for `Store`, or no copy could be made: then the tables stay as they are.
    """
    return Store(path, before_upgrade=make)


def make(store: Store, keep: int = KEPT) -> Path:
    """Copy the open database, read the copy back, let go of all but the newest copies, and return the new one.

    Writers wait while the copy is made; readers do not.

    Parameters
    ----------
    keep : how many copies stay, at least 1

    Raises
    ------
    StoreError
        The store is in memory only, the copy cannot be written, or it does not hold what the store holds.
    """
    path = path_of(store)
    there = backups(path)
    try:
        there.mkdir(mode=0o700, exist_ok=True)
        disk.hand_over(there, path)
        with store.alone() as cur:
            number = max(_numbered(path), default=0) + 1
            copy = there / f"{path.stem}-{number:06}-{datetime.now(UTC):%Y%m%dT%H%M%SZ}.duckdb"
            unfinished = copy.with_suffix(UNFINISHED)
            sweep(path, UNFINISHED)
            try:
                _copy(cur, unfinished)
                unfinished.chmod(0o600)
                disk.hand_over(unfinished, path)
                disk.flush(unfinished)
                unfinished.rename(copy)
                disk.flush(there)
            finally:
                sweep(path, UNFINISHED)
    except (duckdb.Error, OSError) as error:
        raise StoreError(
            f"No backup was made: {reason(error)} What is in force is untouched. "
            f"Make room, or see that {there} can be written to, and ask for it again."
        ) from error
    for file in listed(path)[: -max(keep, 1)]:
        file.unlink(missing_ok=True)
    return copy


def digests(cur: duckdb.DuckDBPyConnection, database: str) -> dict[str, Digest]:
    """What each table of an attached database holds, in two numbers that differ when the rows do."""
    found: dict[str, Digest] = {}
    for table in tables(cur, database):
        counted = cur.execute(
            f'select count(*), coalesce(sum(hash(row)::hugeint), 0) from "{database}".main."{table}" as row'
        ).fetchone()
        assert counted is not None
        found[table] = (int(counted[0]), int(counted[1]))
    return found


# ---- copying


def _copy(cur: duckdb.DuckDBPyConnection, to: Path) -> None:
    """Copy the database into a new file, then read the file back and compare."""
    name = name_of(cur)
    with attached(cur, to):
        cur.execute(f'copy from database "{name}" to {COPIED}')
    with attached(cur, to, "(read_only)"):
        if digests(cur, name) != digests(cur, COPIED):
            raise StoreError("The backup was read back and differs from the database. Ask for it again.")


@contextmanager
def attached(cur: duckdb.DuckDBPyConnection, file: Path, how: str = "") -> Iterator[None]:
    """The file as the database `COPIED`."""
    cur.execute(f"attach {literal(file)} as {COPIED} {how}")
    try:
        yield
    finally:
        with suppress(duckdb.Error):
            cur.execute(f"detach {COPIED}")


# ---- files and names


def path_of(store: Store) -> Path:
    """File of the database.

    Raises
    ------
    StoreError
        It is in memory only.
    """
    if store.path is None:
        raise StoreError("This store is in memory only. Open one with a file to make backups.")
    return store.path


def _numbered(path: Path) -> dict[int, Path]:
    """Copies of a database by their number."""
    found = {}
    for file in backups(path).glob("*.duckdb"):
        number = _NUMBERED.search(file.stem)
        if number and file.stem[: number.start()] == path.stem:
            found[int(number[1])] = file
    return found


def sweep(path: Path, suffix: str) -> None:
    """Remove what a copy of a database that was broken off has left; another of the same folder may be at work."""
    for file in backups(path).glob(f"*{suffix}*"):
        if _NUMBERED.sub("", file.name.partition(suffix)[0]) == path.stem:
            file.unlink(missing_ok=True)


def name_of(cur: duckdb.DuckDBPyConnection) -> str:
    """What the open database is called, to tell its tables from those of a copy."""
    return str(one(cur, "select current_database()"))


def tables(cur: duckdb.DuckDBPyConnection, database: str) -> list[str]:
    """The tables of an attached database."""
    found = cur.execute(
        "select table_name from duckdb_tables() where database_name = ? and not internal order by all",
        [database],
    )
    return [row[0] for row in found.fetchall()]
