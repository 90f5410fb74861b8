"""Which edition of the rules judges: a digest of everything that an answer is worked out from."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import data

TOP = Path(__file__).parent
ENDINGS = (".sql", ".py", ".toml", ".csv")
SHOWN = 12  # hexadecimal digits


def digest(own_rules: Path | None = None) -> str:
    """The first digits of a SHA-256 over the rules, facts, formulas and reference tables, and a club's own rules.

    The policy is not in it: it has a number of its own.
    """
    whole = hashlib.sha256(_shipped().encode())
    if own_rules is not None:
        whole.update(_over(own_rules).encode())
    return whole.hexdigest()[:SHOWN]


@cache
def _shipped() -> str:
    told = Path(data.__file__).parent
    return _over(TOP) + _over(told / "reference") + _over(told, deep=False)


def _over(folder: Path, deep: bool = True) -> str:
    whole = hashlib.sha256()
    for file in _files(folder, deep):
        whole.update(f"{file.relative_to(folder).as_posix()}\n".encode())
        whole.update(file.read_bytes())
    return whole.hexdigest()


def _files(folder: Path, deep: bool) -> Iterator[Path]:
    found = folder.rglob("*") if deep else folder.glob("*.sql")
    yield from sorted(file for file in found if file.suffix in ENDINGS)
