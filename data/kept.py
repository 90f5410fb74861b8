"""A connection for clubs of a few rows, on which every statement is planned once.

On the few rows of one member planning is most of the work. DuckDB plans a prepared statement anew each time it runs if
the plan was optimized and reads a table, since it may rest on what was in the table; a plan made without the optimizer
is kept, is made in a fraction of the time, and is as quick on few rows. Few rows that are registered are read as
variables, as a plan that scans them where they are would be good for them alone: as JSON, of which a variable is set in a
fraction of the time that a list of structs takes.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import contextmanager
from functools import lru_cache
from threading import Lock
from typing import Any

import duckdb
import pandas as pd
import pyarrow as pa

CELLS = 600
"""Up to so many a frame is handed over value by value; more are quicker read where they are, by a new plan."""
TIDIED = 16
"""Every so many times that rows go, the room that they took is given back; a checkpoint takes as long as ten statements."""
PLANS = 800
"""Plans after which a connection is given up: those of other days are never asked again."""
START = re.compile(
    r'(?:\s|--[^\n]*\n)*(?P<insert>insert into "?\w+"?(?: by name)?(?:\s*\([^)]*\))?)?'
    r"(?:\s|--[^\n]*\n)*(?P<with>with(?: recursive)?\s)?"
)
CHANGES = re.compile(r"(?:\s|--[^\n]*\n)*insert into (?P<table>\w+)")
READ = re.compile(r'\b(?:from|join)\s+\(*"?(?!from\b|select\b)(\w+)|,\s+(\w+)(?=\s+as\b)', re.IGNORECASE)


class Kept:
    """A connection on which rows come and go, and tables and plans stay.

    It answers as a DuckDB connection does where the club is filled, worked out and judged, for one thread at a time.

    Parameters
    ----------
    con : has every table and no row but in those that stay as they are, and does not optimize
    at_once : how many threads may work on these tables, each in a lane
    """

    def __init__(self, con: duckdb.DuckDBPyConnection, at_once: int = 1) -> None:
        self._con = con
        self._texts: dict[str, duckdb.Statement] = {}
        self._plans: dict[tuple[str, ...], duckdb.Statement] = {}
        self._forms: dict[str, str] = {}
        self._form_of: dict[tuple[str, str], str] = {}
        self._large: set[str] = set()
        self._filled: set[str] = set()
        self._emptied = 0
        self.lanes = (self, *(Kept(con.cursor()) for _ in range(1, at_once)))

    def __len__(self) -> int:
        """How many plans are kept."""
        return sum(len(lane._plans) for lane in self.lanes)

    def cursor(self) -> Kept:
        """Itself."""
        return self

    def empty(self) -> None:
        """Take out every row that came in."""
        for lane in self.lanes:
            for table in lane._filled:
                self._con.execute(self._parsed(f"truncate {table}"))
                self._con.complete()
            lane._filled.clear()
        self._emptied += 1
        if self._emptied % TIDIED == 0:
            self._con.execute(self._parsed("checkpoint"))
            self._con.complete()

    def close(self) -> None:
        """Let go of everything."""
        for lane in self.lanes:
            lane._con.close()

    def register(self, name: str, rows: pd.DataFrame | pa.Table) -> None:
        """Let rows be read as a table."""
        arrow = _arrow(rows)
        key = name, str(arrow.schema.remove_metadata())
        if arrow.num_rows * arrow.num_columns > CELLS:
            self._con.register(name, arrow)
            self._large.add(name)
            return
        if key not in self._form_of:
            self._con.register(name, arrow)
            asked = f'select typeof(list(x)) from "{name}" as x'
            (self._form_of[key],) = self._con.execute(asked).fetchall()[0]
            self._con.unregister(name)
        rows = json.dumps(arrow.to_pylist(), ensure_ascii=False, default=str)
        self._con.execute(self._parsed(f'set variable "{name}" = $rows'), {"rows": rows})
        self._forms[name] = self._form_of[key]

    def unregister(self, name: str) -> None:
        """Let rows go that were registered."""
        if name in self._large:
            self._con.unregister(name)
            self._large.discard(name)
        else:
            del self._forms[name]

    def execute(self, script: str, values: Mapping[str, Any] | None = None) -> duckdb.DuckDBPyConnection:
        """Run one or several statements; the result is that of the last."""
        for sql in _statements(script):
            self._con.execute(self._planned(sql, values))
            if changed := CHANGES.match(sql):
                self._con.complete()
                self._filled.add(changed["table"])
        return self._con

    def sql(self, sql: str, params: Mapping[str, Any] | None = None) -> duckdb.DuckDBPyRelation:
        """Run one select."""
        return self._con.sql(self._planned(sql, params))

    def _planned(self, sql: str, values: Mapping[str, Any] | None) -> duckdb.Statement | str:
        """What runs the plan of a statement; the statement where it reads many rows, which one plan may not fit."""
        read = names_read(sql)
        names = [name for name in read if name in self._forms]
        if not self._large.isdisjoint(read):
            lists = [_list(name, f"getvariable('{name}')", self._forms[name]) for name in names]
            return _led(lists, _put_in(sql, values))
        key = sql, str(values), *(self._forms[name] for name in names)
        if key not in self._plans:
            lists = [_list(name, f"${name}", self._forms[name]) for name in names]
            self._con.execute(f"prepare plan_{len(self._plans)} as {_led(lists, _put_in(sql, values))}")
            self._plans[key] = self._parsed(f"execute plan_{len(self._plans)}")
        return self._plans[key]

    def _parsed(self, sql: str) -> duckdb.Statement:
        """A statement whose text is read once."""
        if sql not in self._texts:
            (self._texts[sql],) = duckdb.extract_statements(sql)
        return self._texts[sql]


class Waiting:
    """Connections that wait with their plans, some 60 MB each, for whoever asks for one of the same making.

    Whoever gives one back does not wait until it is emptied, whoever is lent it next does.

    Parameters
    ----------
    most : how many may wait, however many were asked for at once
    """

    def __init__(self, most: int) -> None:
        self.most = most
        self.kept: list[tuple[object, Kept, Future[None]]] = []
        self._emptier = ThreadPoolExecutor(1)
        self._lock = Lock()

    @contextmanager
    def lent(self, made_for: object, make: Callable[[], Kept]) -> Iterator[Kept]:
        """A connection without rows for one block: one that was made for an equal thing, or a new one."""
        kept = self._taken(made_for) or make()
        try:
            yield kept
        except BaseException:
            kept.close()
            raise
        emptied = self._emptier.submit(kept.empty)
        with self._lock:
            self.kept.append((made_for, kept, emptied))
            gone = self.kept.pop(0) if len(self.kept) > self.most else None
        if gone:
            wait([gone[2]])
            gone[1].close()

    def _taken(self, made_for: object) -> Kept | None:
        with self._lock:
            fit = [place for place, (thing, _, _) in enumerate(self.kept) if thing == made_for]
            if not fit:
                return None
            _, kept, emptied = self.kept.pop(fit[-1])
        if emptied.exception() is None and len(kept) <= PLANS:
            return kept
        kept.close()
        return None


def _arrow(rows: pd.DataFrame | pa.Table) -> pa.Table:
    return rows if isinstance(rows, pa.Table) else pa.Table.from_pandas(rows, preserve_index=False)


@lru_cache(maxsize=1024)
def _statements(script: str) -> tuple[str, ...]:
    return tuple(statement.query for statement in duckdb.extract_statements(script))


@lru_cache(maxsize=1024)
def names_read(sql: str) -> tuple[str, ...]:
    """The names of what a statement reads, without those that it gives itself."""
    own = set(re.findall(r"(\w+) as \(", sql))
    named = (first or listed for first, listed in READ.findall(sql))
    return tuple(name for name in dict.fromkeys(named) if name not in own)


def _put_in(sql: str, values: Mapping[str, Any] | None) -> str:
    """The statement with its `$names` as literals."""
    given = values or {}
    return re.sub(r"\$(\w+)", lambda name: str(duckdb.ConstantExpression(given[name[1]])), sql)


def _list(name: str, rows: str, form: str) -> str:
    """The rows of a variable as a table of its name."""
    return f'"{name}" as materialized (select unnest({rows}::varchar::json::{form}, recursive := true))'


def _led(lists: list[str], sql: str) -> str:
    """The statement with the lists at its head."""
    start = START.match(sql)
    if not lists or start is None:
        return sql
    after = ", " if start["with"] else " "
    return f"{start['insert'] or ''} {start['with'] or 'with '}{', '.join(lists)}{after}{sql[start.end() :]}"
