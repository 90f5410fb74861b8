"""Copies of the club's database: made while it is open, read back before they count, put in force again whole.

A copy stands in the folder `backups` beside the database and carries a number that only grows, so that the
newest one is known even where the clock was wrong.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

import duckdb
import pandas as pd
from pyarrow import parquet

from data import belongings, schema, upload
from data.store import Store, StoreError, backups, literal, one

KEPT = 14
MOST_ROWS = 50_000_000  # of all tables together; what holds more was made to fill a disk
FORMS = ("csv", "parquet")
UNFINISHED, CHOSEN = ".unfinished", ".chosen"
COPIED = "copied"  # a copy as long as it is attached
RESTORED = "backup restored"  # in the record of changes
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
    path = _path(store)
    there = backups(path)
    try:
        there.mkdir(mode=0o700, exist_ok=True)
        hand_over(there, path)
        with store.alone() as cur:
            number = max(_numbered(path), default=0) + 1
            copy = there / f"{path.stem}-{number:06}-{datetime.now(UTC):%Y%m%dT%H%M%SZ}.duckdb"
            unfinished = copy.with_suffix(UNFINISHED)
            _sweep(there, UNFINISHED)
            try:
                _copy(cur, unfinished)
                unfinished.chmod(0o600)
                hand_over(unfinished, path)
                _to_disk(unfinished)
                unfinished.rename(copy)
                _to_disk(there)
            finally:
                _sweep(there, UNFINISHED)
    except (duckdb.Error, OSError) as error:
        raise StoreError(
            f"No backup was made: {_said(error)} What is in force is untouched. "
            f"Make room, or see that {there} can be written to, and ask for it again."
        ) from error
    for file in listed(path)[: -max(keep, 1)]:
        file.unlink(missing_ok=True)
    return copy


def restore(store: Store, file: Path, by: str) -> Path | None:
    """Put a copy in force, all of it or nothing, and return the copy made of what was in force before.

    Into an empty store the copy comes whole, and there is nothing to return. Into the store that it was made
    of it brings back the rows and the policy of its day, and nothing else: the record goes on, nobody who was
    taken out and no key that was revoked comes back, and what was erased stays erased. Into any other store it
    comes whole, with its record and people. A line more in the record says who restored which copy; its number
    is higher than any before it. Where a copy comes whole, nobody knows which keys and sign-ins were ended after it
    was made: every key in it ends, and everyone signs in anew.

    Raises
    ------
    StoreError
        The file is no copy of a Kit Muster database, is damaged, or comes from a newer version.
    """
    there = backups(_path(store))
    chosen = there / f"restoring{CHOSEN}"
    with store.alone() as cur:  # nobody writes between the copy and what takes its place
        try:
            there.mkdir(mode=0o700, exist_ok=True)
            _sweep(there, CHOSEN)
            _bring_up(file, chosen)
            before = None if _is_empty(store) else make(store)
            with _attached(cur, chosen, "(read_only)"):
                _replace(cur, file, by, is_new=before is None)
        except (duckdb.Error, OSError) as error:
            raise StoreError(
                f"{file.name} was not restored: {_said(error)} What is in force is untouched. "
                f"Choose another file of {there}."
            ) from error
        finally:
            _sweep(there, CHOSEN)
    return before


def export(file: Path, out: Path, form: str = "csv") -> list[Path]:
    """Write every table of a copy into a new folder, with `schema.sql` that says their form; the files written.

    As CSV, cells that a spreadsheet would take for a formula get an apostrophe, and the files as they were sent
    stand in `uploads`, named by their number. As Parquet every value is exactly as stored.

    Raises
    ------
    StoreError
        The folder holds something already or cannot be written to, or the copy cannot be read.
    """
    if form not in FORMS:
        raise ValueError(f'form: "{form}" is not known. Write one of {", ".join(FORMS)}.')
    try:
        out.mkdir(parents=True, exist_ok=True)
        if any(out.iterdir()):
            raise StoreError(f"{out}: is not an empty folder. Write the name of a new one.")
        with duckdb.connect(str(file), read_only=True) as con:
            con.execute("set TimeZone = 'UTC'")
            form_of = dict(con.execute("select table_name, sql from duckdb_tables() order by all").fetchall())
            written = [_write_table(con, table, out, form) for table in form_of]
            if form == "csv":
                written += _write_payloads(con, out / "uploads")
        schema = out / "schema.sql"
        schema.write_text("\n".join(form_of.values()) + "\n", "utf-8")
    except (duckdb.Error, OSError) as error:
        raise StoreError(f"{out}: not everything was written: {_said(error)} Write it again.") from error
    return [*written, schema]


def digests(cur: duckdb.DuckDBPyConnection, database: str) -> dict[str, Digest]:
    """What each table of an attached database holds, in two numbers that differ when the rows do."""
    found: dict[str, Digest] = {}
    for table in _tables(cur, database):
        counted = cur.execute(
            f'select count(*), coalesce(sum(hash(row)::hugeint), 0) from "{database}".main."{table}" as row'
        ).fetchone()
        assert counted is not None
        found[table] = (int(counted[0]), int(counted[1]))
    return found


# ---- copying


def _copy(cur: duckdb.DuckDBPyConnection, to: Path) -> None:
    """Copy the database into a new file, then read the file back and compare."""
    name = _name(cur)
    with _attached(cur, to):
        cur.execute(f'copy from database "{name}" to {COPIED}')
    with _attached(cur, to, "(read_only)"):
        if digests(cur, name) != digests(cur, COPIED):
            raise StoreError("The backup was read back and differs from the database. Ask for it again.")


def _replace(cur: duckdb.DuckDBPyConnection, file: Path, by: str, is_new: bool) -> None:
    """Put the attached copy in force, in one transaction."""
    _see_that_it_is_no_bomb(cur, file)
    cur.begin()
    try:
        if _is_earlier(cur):
            _go_back(cur, file, by)
        else:
            _take_whole(cur, file, by, is_new)
        cur.commit()
    except BaseException:
        with suppress(duckdb.Error):
            cur.rollback()
        raise


def _take_whole(cur: duckdb.DuckDBPyConnection, file: Path, by: str, is_new: bool) -> None:
    """Put every row of the attached copy in the place of all rows."""
    number = one(cur, "select coalesce(max(change_id), 0) from change")
    for table in _tables(cur, COPIED):
        _take(cur, table)
    if digests(cur, _name(cur)) != digests(cur, COPIED):
        raise StoreError(f"{file.name} was not restored: what was read from it differs from it.")
    now = datetime.now(UTC)
    cur.execute("update token set revoked = ? where revoked is null", [now])
    cur.execute("update person set valid_from = ?", [now])
    if not is_new:
        cur.execute(
            "insert into change select greatest(?, coalesce(max(change_id), 0)) + 1, ?, ?, ?, NULL, ?, NULL "
            "from change",
            [number, now, by, RESTORED, file.name],
        )


def _go_back(cur: duckdb.DuckDBPyConnection, file: Path, by: str) -> None:
    """Put the rows and the policy that were in force when the attached copy was made in force again.

    The record goes on: changes, files as sent, policies and judgements since then stay. So do people, keys,
    agreements and what is shared; what was erased since stays erased.
    """
    told = [f"told_{stem}" for stem in schema.FILES]
    for table in told:
        _take(cur, table)
    now, then = digests(cur, _name(cur)), digests(cur, COPIED)
    if any(now[table] != then[table] for table in told):
        raise StoreError(f"{file.name} was not restored: what was read from it differs from it.")
    belongings.erase_again(cur, COPIED)
    sources = " union ".join(f"select upload_id from {table}" for table in told)
    cur.execute(f"update upload set is_current = upload_id in ({sources})")
    moment = datetime.now(UTC)
    before, after = (
        one(cur, f"select coalesce(max_by(text, policy_id), '') from \"{name}\".main.policy")
        for name in (_name(cur), COPIED)
    )
    if before != after:
        Store.put_policy(cur, moment, by, f"as in {file.name}", after)
    version = one(cur, f"select max(change_id) from {COPIED}.main.change")
    Store.log(cur, moment, by, RESTORED, None, f"{file.name}, version {version}", version)


def _see_that_it_is_no_bomb(cur: duckdb.DuckDBPyConnection, file: Path) -> None:
    """A few kilobytes can hold a billion rows of the same; refuse them before they are written out."""
    rows = one(
        cur, f"select coalesce(sum(estimated_size), 0) from duckdb_tables() where database_name = '{COPIED}'"
    )
    if rows > MOST_ROWS:
        raise StoreError(
            f"{file.name} was not restored: it holds {int(rows):,} rows, and {MOST_ROWS:,} are allowed. "
            "Choose another file of the folder backups."
        )


def _is_earlier(cur: duckdb.DuckDBPyConnection) -> bool:
    """Whether the attached copy holds this database as it once was: its record is how ours began."""
    copied, ours = (
        set(cur.execute(f'select change_id, "at" from "{name}".main.change').fetchall())
        for name in (COPIED, _name(cur))
    )
    return bool(copied) and copied <= ours


def _take(cur: duckdb.DuckDBPyConnection, table: str) -> None:
    """Put the rows of a table of the attached copy in the place of ours."""
    ours = f'"{_name(cur)}".main."{table}"'
    cur.execute(f"delete from {ours}")
    cur.execute(f'insert into {ours} by name from {COPIED}.main."{table}"')


def _bring_up(file: Path, to: Path) -> None:
    """Copy a chosen file, bring its tables to the newest version, and see that it is whole."""
    if not file.is_file() or file.stat().st_size == 0:
        raise StoreError(f"{file}: there is no backup here. Write the name of a file of the folder backups.")
    shutil.copyfile(file, to)
    if (log := file.with_name(file.name + ".wal")).is_file():
        shutil.copyfile(log, to.with_name(to.name + ".wal"))
    try:
        Store(to).close()
    except StoreError as error:
        raise StoreError(
            f"{file.name} is not a backup that can be restored: it is damaged, something else, or from a newer "
            f"Kit Muster. Choose another file of {to.parent}."
        ) from error


@contextmanager
def _attached(cur: duckdb.DuckDBPyConnection, file: Path, how: str = "") -> Iterator[None]:
    """The file as the database `COPIED`."""
    cur.execute(f"attach {literal(file)} as {COPIED} {how}")
    try:
        yield
    finally:
        with suppress(duckdb.Error):
            cur.execute(f"detach {COPIED}")


def _is_empty(store: Store) -> bool:
    with store.reading() as cur:
        held = digests(cur, _name(cur))
    return not any(rows for table, (rows, _) in held.items() if table != "schema_version")


# ---- writing out


def _write_table(con: duckdb.DuckDBPyConnection, table: str, out: Path, form: str) -> Path:
    path = out / f"{table}.{form}"
    columns = [row[0] for row in con.execute(f'describe "{table}"').fetchall()]
    if form == "parquet":
        parquet.write_table(con.sql(f'from "{table}"').to_arrow_table(), path)
        return path
    shown = ", ".join(
        """'uploads/' || lpad(upload_id::varchar, 6, '0') as payload"""
        if (table, name) == ("upload", "payload")
        else f'"{name}"::varchar as "{name}"'
        for name in columns
    )
    text = con.execute(f'select {shown} from "{table}" order by all').df()
    for name in text.columns:
        text[name] = [cell if pd.isna(cell) else upload.neutralise(cell) for cell in text[name]]
    text.to_csv(path, index=False, lineterminator="\n")
    return path


def _write_payloads(con: duckdb.DuckDBPyConnection, there: Path) -> list[Path]:
    there.mkdir()
    written = []
    for number, payload in con.execute("select upload_id, payload from upload").fetchall():
        path = there / f"{number:06}"
        path.write_bytes(payload)
        written.append(path)
    return written


# ---- files and names


def hand_over(file: Path, database: Path) -> None:
    """Let a file that root makes belong to whoever the database belongs to, so that the dashboard can use it.

    A link that somebody put in its place is handed over itself, never what it points to.
    """
    if os.name == "posix" and os.geteuid() == 0:
        owner = database.stat()
        os.lchown(file, owner.st_uid, owner.st_gid)


def _path(store: Store) -> Path:
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


def _sweep(there: Path, suffix: str) -> None:
    """Remove what a copy that was broken off has left."""
    for file in there.glob(f"*{suffix}*"):
        file.unlink(missing_ok=True)


def _to_disk(path: Path) -> None:
    """Wait until a file, or the names in a folder, would outlast a power cut."""
    number = os.open(path, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)


def _name(cur: duckdb.DuckDBPyConnection) -> str:
    return str(one(cur, "select current_database()"))


def _tables(cur: duckdb.DuckDBPyConnection, database: str) -> list[str]:
    found = cur.execute(
        "select table_name from duckdb_tables() where database_name = ? and not internal order by all",
        [database],
    )
    return [row[0] for row in found.fetchall()]


def _said(error: Exception) -> str:
    return str(error).splitlines()[0].rstrip(".") + "."
