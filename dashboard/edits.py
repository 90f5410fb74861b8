"""What people change on a page, saved as the file that they would have sent: one history, one set of checks."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable
from dataclasses import dataclass

import pandas as pd

from dashboard.standing import club
from data import schema, upload, writing

_saving = threading.Lock()  # what is read, changed and written stays one step


class EditError(Exception):
    """An edit cannot be saved; the message says why and what to do."""


@dataclass(frozen=True)
class Saved:
    """What an edit did: the changes as `Store.changes` tells them."""

    changes: pd.DataFrame


def save(edits: dict[str, Callable[[pd.DataFrame], pd.DataFrame]], name: str, by: str) -> Saved:
    """Put edited rows in force as ordinary uploads; nothing is stored where one of them is refused.

    Parameters
    ----------
    edits
        For each kind of file what makes the new rows of the file from all rows in force. The rows given back
        must hold everything that the upload covers (`data.store.COVERS`); no rows leave the file as it is.
    name
        What the edit is called in the records, for example `inspection`.

    Raises
    ------
    EditError
        An edit cannot be made, or its rows would be refused as a file.
    """
    here = club()
    with _saving:
        frames, aliases = here.store.frames(), here.policy().aliases
        sent, told = [], []
        for stem, edit in edits.items():
            rows = edit(frames[stem])
            if rows.empty:
                continue
            payload = writing.csv_of(stem, rows)
            read = upload.read(f"{name}-{stem}.csv", payload, stem, limits=upload.FOLDER, aliases=aliases)
            if not read.is_accepted:
                raise EditError(str(read.problems[0]))
            changes = here.store.changes(read)
            if not changes.empty:
                sent.append(read)
                told.append(changes)
        for read in sent:
            here.accept(read, by)
    return Saved(pd.concat(told, ignore_index=True) if told else pd.DataFrame())


def file_name(*words: str) -> str:
    """Words as the stem of a file name that any system takes."""
    return re.sub(r"[^\w]+", "-", "-".join(words), flags=re.ASCII).strip("-").lower()[:80] or "unnamed"


def with_row(stem: str, rows: pd.DataFrame, **cells: object) -> pd.DataFrame:
    """The rows of a file with one more."""
    empty = schema.empty(stem)
    new = pd.DataFrame([{"line": 0, "file": "", **cells}], columns=empty.columns).astype(empty.dtypes)
    return pd.concat([rows, new], ignore_index=True)
