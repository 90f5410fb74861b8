"""The first run: an empty store, and the invented club to look around in."""

from __future__ import annotations

import tempfile
import threading
from pathlib import Path

from dashboard.standing import club
from data import demo, upload

_loading = threading.Lock()


class NotEmptyError(Exception):
    """The store holds something already; the message says so."""


def is_empty() -> bool:
    """Whether nothing was ever sent to this store."""
    return club().store.uploads().empty


def load_demo(by: str) -> int:
    """Put the invented club into the store, whole or not at all; how many rows it has.

    Raises
    ------
    NotEmptyError
        Something was sent before.
    """
    with _loading:
        if not is_empty():
            raise NotEmptyError("This club has lists already. The invented club is only for an empty store.")
        with tempfile.TemporaryDirectory() as folder:
            sent = [
                upload.read(f"invented-{path.name}", path.read_bytes(), path.stem, upload.FOLDER)
                for path in demo.write(Path(folder))
            ]
        club().store.accept_all(sent, by)
    club().standing()
    return sum(one.table.num_rows for one in sent if one.table is not None)
