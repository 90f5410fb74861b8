"""What tests of several parts need: programs of other packages, or a sentence that says how to get them; rows; coroutines."""

from __future__ import annotations

import asyncio
import os
import shutil
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, NoReturn

import duckdb
import pytest


def program(package: str, *names: str) -> str:
    """Path of the first of these programs that is here. A test that needs another one is left out; in CI it fails."""
    path = next((found for name in names if (found := shutil.which(name))), None)
    return path or leave_out(
        f"{names[0]} is not on this machine, so this was not tried. On Debian: apt-get install {package}"
    )


def leave_out(why: str) -> NoReturn:
    """Leave a test out and say why; in CI, where nothing may go untried, it fails."""
    if os.environ.get("CI"):
        pytest.fail(why)
    pytest.skip(why)


def insert(con: duckdb.DuckDBPyConnection, table: str, *rows: dict[str, Any]) -> None:
    """Put rows into a table, of each only the columns that it tells."""
    for row in rows:
        marks = ", ".join(f"${name}" for name in row)
        con.execute(f"insert into {table} ({', '.join(row)}) values ({marks})", row)


def awaited(work: Coroutine[Any, Any, Any]) -> Any:
    """What a coroutine returns, in a thread of its own: the browser of other tests keeps a loop running in this one."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, work).result()
