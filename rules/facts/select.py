"""Rows of a fact that never leave the database."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple


class Select(NamedTuple):
    """The select that makes a fact's rows, with the values of its `$names`."""

    sql: str
    values: Mapping[str, Any] = {}
