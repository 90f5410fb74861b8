"""Who must not come back with an older copy: members who were erased, and people who were taken out.

Beside the copies of a database stands a small file (`club.gone` for `club.duckdb`), which is read whenever a copy of
its folder is restored. It names nobody: it holds what scrypt makes of a call sign or of the name of a sign-in, which
tells whether one that is at hand is meant. Whoever tries all call signs that there are can still find out, at the
price of one such calculation for each.
Source: RFC 7914 (scrypt), section 2, for the parameters: block size 8, parallelisation 1, memory 128 · 8 · N bytes.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Collection, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import astuple, dataclass
from datetime import UTC
from functools import partial
from pathlib import Path

import duckdb

from data import disk
from data.database import StoreError, backups, one
from data.store import Store

SUFFIX = ".gone"
MEMBER, LOGIN = "member", "login"
COST = 1 << 14  # N of scrypt: 16 MB and about 50 ms for each call sign
AT_ONCE = 4  # such calculations, each on a core of its own where there are as many
Going = list[tuple[str, str]]


@dataclass(frozen=True, order=True)
class Gone:
    """Someone who is gone.

    Attributes
    ----------
    club : when the record began in which that stands, which no two clubs have alike
    change : number of the change by which they went; a copy that holds it knows already
    what : MEMBER or LOGIN
    digest : of the call sign, or of the name of the sign-in
    """

    club: str
    change: int
    what: str
    digest: str


class GoneError(StoreError):
    """The file that says who is gone cannot be read."""


def began(cur: duckdb.DuckDBPyConnection, database: str) -> str:
    """When the record of a database begins; "" where it has none."""
    at = one(cur, f'select min_by("at", change_id) from "{database}".main.change')
    return at.astimezone(UTC).isoformat() if at else ""


def digest(club: str, word: str) -> str:
    """What stands for a word in the records of one club."""
    return hashlib.scrypt(word.encode(), salt=club.encode(), n=COST, r=8, p=1, dklen=32).hex()


def read(folder: Path, is_forced: bool = False) -> set[Gone]:
    """Everyone whom a folder of copies calls gone.

    Parameters
    ----------
    is_forced : leave out files that cannot be read

    Raises
    ------
    GoneError
        A file cannot be read.
    """
    found: set[Gone] = set()
    for file in sorted(folder.glob(f"*{SUFFIX}")):
        try:
            found |= _read(file)
        except GoneError:
            if not is_forced:
                raise
    return found


@contextmanager
def changing(store: Store) -> Iterator[tuple[duckdb.DuckDBPyConnection, Going]]:
    """A change by which someone goes, whole or not at all, and with it the line that keeps them from coming back.

    It yields a cursor, and a list that takes who goes: MEMBER and a call sign, or LOGIN and the name of a sign-in.

    Raises
    ------
    StoreError
        The line cannot be written; then nothing is changed.
    """
    going: Going = []
    with store.alone(), _kept(store.path) as path, store.changing() as cur:
        yield cur, going
        name = str(one(cur, "select current_database()"))
        club, number = began(cur, name), int(one(cur, "select max(change_id) from change"))
        if path and going:
            add(path, [Gone(club, number, what, digest(club, word)) for what, word in going])


@contextmanager
def _kept(path: Path | None) -> Iterator[Path | None]:
    """The path of a database, whose file of those gone is put back as it was where what follows fails."""
    file = path and of(path)
    before = file.read_bytes() if file and file.is_file() else None
    try:
        yield path
    except BaseException:
        if path and file and (file.read_bytes() if file.is_file() else None) != before:
            with suppress(OSError):
                file.unlink() if before is None else _write(file, before, path)
        raise


def add(path: Path, gone: Iterable[Gone], is_forced: bool = False) -> None:
    """Write down who is gone, beside those who stand there already.

    Parameters
    ----------
    is_forced : where the file that is there cannot be read, put it aside as `.damaged` and begin anew

    Raises
    ------
    StoreError
        The file that is there cannot be read, or the new one cannot be written.
    """
    file = of(path)
    try:
        file.parent.mkdir(mode=0o700, exist_ok=True)
        disk.hand_over(file.parent, path)
        known = _known(file, is_forced) if file.exists() else set()
        held = [list(astuple(who)) for who in sorted({*known, *gone})]
        text = json.dumps({"sha256": _sum(held), "gone": held}, indent=1)
        _write(file, text.encode(), path)
    except OSError as error:
        raise StoreError(
            f"{file} cannot be written: {error.strerror}. Nothing was erased or taken out, since it would come back "
            f"with an older copy. Make room, or see that {file.parent} can be written to, and do it again."
        ) from error


def of(path: Path) -> Path:
    """Where it stands who is gone from a database."""
    return backups(path) / f"{path.stem}{SUFFIX}"


def are(gone: Collection[Gone], what: str, club: str, words: Iterable[str]) -> list[str]:
    """Those of some words that are gone."""
    sought = {who.digest for who in gone if (who.what, who.club) == (what, club)}
    if not sought:
        return []
    known = sorted(set(words))
    with ThreadPoolExecutor(max_workers=AT_ONCE) as pool:
        made = pool.map(partial(digest, club), known)
        return [word for word, sealed in zip(known, made, strict=True) if sealed in sought]


def _known(file: Path, is_forced: bool) -> set[Gone]:
    try:
        return _read(file)
    except GoneError:
        if not is_forced:
            raise
        file.replace(file.with_name(f"{file.name}.damaged"))
        return set()


def _read(file: Path) -> set[Gone]:
    try:
        told = json.loads(file.read_text("utf-8"))
        if told["sha256"] != _sum(told["gone"]):
            raise ValueError("it is not as it was written")
        return {
            Gone(str(club), int(change), str(what), str(seal)) for club, change, what, seal in told["gone"]
        }
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise GoneError(
            f"{file} says who was erased and taken out, and cannot be read. Put it back from another copy of the "
            "folder backups. Without one: kitmuster restore --with-erased brings a copy back all the same, and with "
            "it those who were erased after it was made; move the file away to erase or take out somebody else."
        ) from error


def _sum(held: object) -> str:
    return hashlib.sha256(json.dumps(held).encode()).hexdigest()


def _write(file: Path, content: bytes, path: Path) -> None:
    fresh = file.with_name(f"{file.name}.new")
    fresh.unlink(missing_ok=True)
    with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        out.write(content)
    disk.hand_over(fresh, path)
    disk.flush(fresh)
    fresh.replace(file)
    disk.flush(file.parent)
