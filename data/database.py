"""The file of the database: where it stands, opened for its owner alone and shut off from all else, and what to say
where that fails."""

from __future__ import annotations

import glob
import re
from contextlib import suppress
from pathlib import Path
from typing import Any

import duckdb
import platformdirs

# What the system says where a disk takes no more, or nothing at all.
FULL = ("No space left", "File too large", "Disk quota exceeded")
READ_ONLY = "Read-only file system"


class StoreError(Exception):
    """The store cannot do what was asked; the message says why and what to do."""


class InUseError(StoreError):
    """Another program has the file open."""


def default_path() -> Path:
    """Where the club's database stands unless told otherwise."""
    return platformdirs.user_data_path("kitmuster") / "kitmuster.duckdb"


def backups(path: Path) -> Path:
    """Where the copies of a database stand."""
    return path.absolute().parent / "backups"


def connect(path: Path | None) -> duckdb.DuckDBPyConnection:
    """The database, made where it is not there and shut off from all else; without a path, one in memory.

    Raises
    ------
    StoreError
        The file is in use, damaged, or no database.
    """
    con = _opened(path)
    try:
        _harden(con, path)
    except BaseException:
        con.close()
        raise
    return con


def _opened(path: Path | None) -> duckdb.DuckDBPyConnection:
    if path is None:
        return duckdb.connect(":memory:")
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        is_new = not path.exists()
        if not is_new:
            _keep_private(path)
        con = duckdb.connect(str(path))
        if is_new:
            path.chmod(0o600)
        return con
    except (duckdb.Error, OSError) as error:
        raise _cannot_open(path, error) from error


def _harden(con: duckdb.DuckDBPyConnection, path: Path | None) -> None:
    """Shut the database off from files, network and extensions. The last two lock the rest."""
    allowed = "[]" if path is None else f"[{literal(backups(path))}]"
    settings = {
        "TimeZone": "'UTC'",
        "allowed_directories": allowed,
        "autoinstall_known_extensions": "false",
        "autoload_known_extensions": "false",
        "allow_community_extensions": "false",
        "python_enable_replacements": "false",
        "memory_limit": "'1GB'",
        "threads": "2",
        "enable_external_access": "false",
        "lock_configuration": "true",
    }
    try:
        for name, value in settings.items():
            con.execute(f"set {name} = {value}")
    except duckdb.InvalidInputException as error:
        raise StoreError(
            f"{path} is already open in this program. Use the store that is open, or close it first."
        ) from error


def _keep_private(path: Path) -> None:
    """Let nobody but their owner read the file, its journal and its copies, whoever could before.

    A file that belongs to someone else stays as its owner has it.
    """
    journal = path.with_name(path.name + ".wal")
    for file in (path, journal, *backups(path).glob(f"{glob.escape(path.stem)}-*.duckdb*")):
        with suppress(PermissionError, FileNotFoundError):
            if file.stat().st_mode & 0o077:
                file.chmod(0o600)


def _cannot_open(path: Path, error: Exception) -> StoreError:
    said = str(error).splitlines()[0]
    if "Could not set lock" in said:
        holder = re.search(r"PID (\d+)", said)
        process = f" (process {holder[1]})" if holder else ""
        return InUseError(
            f"{path} is in use by another program{process}. "
            "Close the other Kit Muster, or choose another file."
        )
    if not isinstance(error, OSError) and READ_ONLY not in said and path.is_file():
        return StoreError(
            f"{path} cannot be read as a Kit Muster database: {said.rstrip('.')}. Move it away, with its .wal file, "
            f"and bring the newest copy of {backups(path)} back: kitmuster restore --db {path}. Without a copy, "
            "start with a new file and send the lists again."
        )
    return StoreError(f"{path} cannot be opened: {said} Choose a file in a folder where you may write.")


def broken(path: Path | None, error: duckdb.Error) -> Exception:
    """What to say where the disk or the file fails while the store is open; any other error stays as it is."""
    said = str(error)
    untouched = "Nothing of this was stored; what is in force is untouched."
    if any(sign in said for sign in FULL):
        return StoreError(f"The disk is full. {untouched} Make room where {path} stands, and send it again.")
    if READ_ONLY in said:
        return StoreError(
            f"The disk can only be read. {untouched} Let {path} be written to, and send it again."
        )
    if isinstance(error, duckdb.IOException | duckdb.FatalException | duckdb.InternalException):
        return StoreError(
            f"{path} can no longer be read or written. {untouched} Stop Kit Muster and start it again; if it does "
            "not start, move the file away and bring back the newest backup with the command kitmuster restore."
        )
    return error


def reason(error: Exception) -> str:
    """What the database or the system says of an error, its first line as a sentence."""
    return str(error).splitlines()[0].rstrip(".") + "."


def one(cur: duckdb.DuckDBPyConnection, sql: str) -> Any:
    """The value that a query with one row and one column answers."""
    [(value,)] = cur.execute(sql).fetchall()  # to the end: nothing is registered while an answer is open
    return value


def literal(path: Path) -> str:
    """A path as SQL writes it."""
    return "'" + str(path).replace("'", "''") + "'"
