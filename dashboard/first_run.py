"""The first run: an empty store, the invented club to look around in, and how it goes again."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

from dashboard.standing import club
from data import backup, demo, invented, upload


class NotEmptyError(Exception):
    """The store holds something already; the message says so."""


@dataclass(frozen=True)
class Removed:
    """What became of the invented club.

    Attributes
    ----------
    copy : name of the file with everything as it was before; "" where the store is only in memory
    left : how many rows are the club's own, by file stem
    """

    copy: str
    left: dict[str, int]


def is_empty() -> bool:
    """Whether nothing of what was sent to this store is in force."""
    return not club().store.uploads()["is_current"].any()


def has_demo() -> bool:
    """Whether the invented club, or something of it, is in force; looked up once for each version."""
    here = club()
    return here.standing().kept.once("has demo", lambda: invented.is_there(here.store))


def remove_demo(by: str) -> Removed:
    """Copy the database, then take the invented club out of force; what was added of one's own stays.

    Raises
    ------
    data.database.StoreError
        No copy could be made; then nothing is taken out.
    """
    here = club()
    copy = backup.make(here.store).name if here.store.path else ""
    left = invented.remove(here.store, by, here.policy().aliases)
    here.standing()
    return Removed(copy, left)


def load_demo(by: str) -> int:
    """Put the invented club into the store, whole or not at all; how many rows it has.

    Raises
    ------
    NotEmptyError
        Something was sent before.
    """
    with tempfile.TemporaryDirectory() as folder:
        sent = [
            upload.read(f"{invented.MARK}{path.name}", path.read_bytes(), path.stem, upload.FOLDER)
            for path in demo.write(Path(folder))
        ]
    store = club().store
    with store.alone():  # nobody sends anything between the look and what follows
        if not is_empty():
            raise NotEmptyError("This club has lists already. The invented club is only for an empty store.")
        store.accept_all(sent, by)
    club().standing()
    return sum(one.table.num_rows for one in sent if one.table is not None)
