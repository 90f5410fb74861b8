"""Bring up the database of every earlier version, killed in the middle of its next step and just before its end.

python tests/faults/half_migrated.py FOLDER

leaves one database for each kill in the folder and prints them as JSON: step, statements done, file.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import get_context
from pathlib import Path
from typing import Any

TOP = Path(__file__).parents[2]
sys.path.insert(0, str(TOP))

import duckdb  # noqa: E402

from data.store import Store  # noqa: E402
from tests.store import earlier  # noqa: E402

FORK = get_context("forkserver")
FORK.set_forkserver_preload(["data.store", "tests.store.earlier"])


class Mortal:
    """A cursor whose process is killed once so many statements of one step are done."""

    def __init__(self, cur: duckdb.DuckDBPyConnection, step: str, statements: int) -> None:
        self._cur, self._step, self._statements = cur, step, statements

    def execute(self, sql: str, *given: Any) -> duckdb.DuckDBPyConnection:
        """As a cursor does it, but for the one step."""
        if sql != self._step:
            return self._cur.execute(sql, *given)
        for statement in duckdb.extract_statements(sql)[: self._statements]:
            self._cur.execute(statement)
        os.kill(os.getpid(), signal.SIGKILL)
        raise AssertionError("still alive")


def _bring_up(path: Path, step: str, statements: int) -> None:
    real = Store.changing

    @contextmanager
    def changing(store: Store) -> Iterator[Mortal]:
        with real(store) as cur:
            yield Mortal(cur, step, statements)

    Store.changing = changing
    Store(path)


def main() -> None:
    """Kill once in the middle and once before the end of every step."""
    folder, killed = Path(sys.argv[1]), []
    for number, file in earlier.steps().items():
        if number == 1:
            continue
        step = file.read_text("utf-8")
        for statements in (_count(step) // 2, _count(step)):
            name = f"killed-{number}-{len(killed)}.duckdb"
            path = earlier.unpack(number - 1, folder / name)
            process = FORK.Process(target=_bring_up, args=(path, step, statements))
            process.start()
            process.join()
            assert process.exitcode == -signal.SIGKILL
            killed.append((number, statements, name))
    print(json.dumps(killed))


def _count(step: str) -> int:
    return len(duckdb.extract_statements(step))


if __name__ == "__main__":
    main()
