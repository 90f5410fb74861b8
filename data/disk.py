"""Files that outlast a power cut, and that belong to whoever the database belongs to."""

from __future__ import annotations

import os
from pathlib import Path


def hand_over(file: Path, database: Path) -> None:
    """Let a file that root makes belong to whoever the database belongs to, so that the dashboard can use it.

    A link that somebody put in its place is handed over itself, never what it points to.
    """
    if os.name == "posix" and os.geteuid() == 0:
        owner = database.stat()
        os.lchown(file, owner.st_uid, owner.st_gid)


def flush(path: Path) -> None:
    """Wait until a file, or the names in a folder, would outlast a power cut."""
    number = os.open(path, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)
