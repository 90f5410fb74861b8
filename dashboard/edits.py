"""What people change on a page, saved as the file that they would have sent: one history, one set of checks."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

import pandas as pd

from dashboard import limits
from dashboard.standing import club
from data import schema, upload, writing

Edits = dict[str, Callable[[pd.DataFrame], pd.DataFrame]]
# A list written out with every column is larger than the file that was sent.
LIMITS = upload.Limits(4 * upload.UPLOAD.size, upload.UPLOAD.rows)
_saving = threading.Lock()  # what is read, changed and written stays one step


class EditError(Exception):
    """An edit cannot be saved; the message says why and what to do."""


@dataclass(frozen=True)
class Saved:
    """What an edit did: the changes as `Store.changes` tells them."""

    changes: pd.DataFrame


def save(edits: Edits, name: str, by: str) -> Saved:
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
        An edit cannot be made, its rows would be refused as a file, or too much was saved within an hour.
    """
    if not limits.UPLOADS.take(by):
        raise EditError(limits.TOO_MANY_FILES)
    with _saving:
        made = _made(edits, name)
        club().accept_all([read for read, _ in made], by)
    return Saved(_together(made))


def preview(edits: Edits, name: str) -> pd.DataFrame:
    """What `save` would do, as `Store.changes` tells it.

    Raises
    ------
    EditError
        As `save` says.
    """
    return _together(_made(edits, name))


def _made(edits: Edits, name: str) -> list[tuple[upload.Upload, pd.DataFrame]]:
    """The files that edits make, each with what it changes; those that change nothing are left out."""
    here = club()
    frames, aliases = here.store.frames(), here.policy().aliases
    made = []
    for stem, edit in edits.items():
        rows = edit(frames[stem])
        if rows.empty:
            continue
        payload = writing.csv_of(stem, rows)
        read = upload.read(f"{name}-{stem}.csv", payload, stem, limits=LIMITS, aliases=aliases)
        if not read.is_accepted:
            raise EditError(str(read.problems[0]))
        changes = here.store.changes(read)
        if not changes.empty:
            made.append((read, changes))
    return made


def _together(made: list[tuple[upload.Upload, pd.DataFrame]]) -> pd.DataFrame:
    told = [changes for _, changes in made]
    return pd.concat(told, ignore_index=True) if told else pd.DataFrame()


def with_row(stem: str, rows: pd.DataFrame, **cells: object) -> pd.DataFrame:
    """The rows of a file with one more."""
    empty = schema.empty(stem)
    new = pd.DataFrame([{"line": 0, "file": "", **cells}], columns=empty.columns).astype(empty.dtypes)
    return pd.concat([rows, new], ignore_index=True)
