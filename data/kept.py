"""Room for clubs of a few rows, one after the other, in which every statement is planned once.

On few rows planning is most of the work. DuckDB plans a prepared statement anew each time it runs if the plan was
optimized and reads a table, since it may rest on what was in the table; a plan made without the optimizer is kept, is made
in a fraction of the time, and is as quick on few rows. It is made anew as well where tables or macros came or went, so
temporary tables stay and are filled again. Few rows that are registered are read as variables, as a plan that scans them
where they are would be good for them alone: as JSON, of which a variable is set in a fraction of the time that a list of
structs takes.
"""

from __future__ import annotations

import json
import re
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from functools import lru_cache
from threading import Lock
from typing import Any, cast
from weakref import WeakSet

import duckdb
import pandas as pd
import pyarrow as pa

CELLS = 600
"""Up to so many a frame is handed over value by value; more are quicker read where they are, by a new plan."""
TIDIED = 16
"""Every so many times that rows go, the room that they took is given back; a checkpoint takes as long as ten statements."""
PLANS = 800
"""Plans after which a room is given up: those of other days are never asked again."""
MOST = 200e6
"""Bytes from which on it is given up: a plan holds what it put down last."""
START = re.compile(
    r'(?:\s|--[^\n]*\n)*(?P<insert>insert into "?\w+"?(?: by name)?(?:\s*\([^)]*\))?)?'
    r"(?:\s|--[^\n]*\n)*(?P<with>with(?: recursive)?\s)?"
)
TEMPORARY = re.compile(r"(?:\s|--[^\n]*\n)*create (?:or replace )?temp table (?P<table>\w+) as\b")
MACRO = re.compile(r"\s*create or replace macro (?P<name>\w+)")
CHANGES = re.compile(r"(?:\s|--[^\n]*\n)*(?:insert|delete|update)\b")
READ = re.compile(r'\b(?:from|join)\s+\(*"?(?!from\b|select\b)(\w+)|,\s+(\w+)(?=\s+as\b)', re.IGNORECASE)


class Room:
    """Tables in which rows come and go, and lanes in which these are filled and read, whose plans stay.

    Parameters
    ----------
    con : has every table, and no row but in those that stay as they are; its settings can still be changed
    at_once : how many threads may work on these tables, each in a lane
    """

    def __init__(self, con: duckdb.DuckDBPyConnection, at_once: int = 1) -> None:
        self.con = con
        self.lanes: tuple[Lane, ...] = tuple(Lane(con.cursor(), self) for _ in range(at_once))
        self.macros: dict[str, str] = {}
        self._emptied = 0
        self._stays = self._filled()

    def __len__(self) -> int:
        """How many plans are kept."""
        return sum(map(len, self.lanes))

    def takes(self) -> float:
        """Bytes that DuckDB holds for it."""
        asked = "select sum(memory_usage_bytes) from duckdb_memory()"
        return float(self.con.execute(asked).fetchall()[0][0])

    def _filled(self) -> set[str]:
        """Tables that have rows, or had."""
        asked = "select table_name from duckdb_tables() where estimated_size > 0"
        return {name for (name,) in self.con.execute(asked).fetchall()}

    def empty(self) -> None:
        """Take out every row that came in."""
        self._emptied += 1
        for table in self._filled() - self._stays:
            self.lanes[0].execute(f"delete from {table}")  # as planned before, which truncate is not
        for lane in self.lanes:
            lane.forget(self._emptied % TIDIED == 0)
        if self._emptied % TIDIED == 0:
            self.con.execute("checkpoint")

    def close(self) -> None:
        """Let go of everything."""
        for lane in self.lanes:
            lane.close()
        self.con.close()


class Lane:
    """Answers as a DuckDB connection does where a club is filled, worked out and judged, for one thread at a time."""

    def __init__(self, con: duckdb.DuckDBPyConnection, room: Room) -> None:
        con.execute("pragma disable_optimizer")
        self.room = room
        self._con = con
        self._texts: dict[str, duckdb.Statement] = {}
        self._plans: dict[tuple[str, ...], duckdb.Statement] = {}
        self._forms: dict[str, str] = {}
        self._form_of: dict[tuple[str, str], str] = {}
        self._large: set[str] = set()
        self._temporary: set[str] = set()
        self._made = 0

    def __len__(self) -> int:
        """How many plans are kept."""
        return len(self._plans)

    def cursor(self) -> Lane:
        """Itself."""
        return self

    def forget(self, is_tidied: bool) -> None:
        """Let go what is registered; where it is tidied, temporary tables too."""
        for name in self._large:
            self._con.unregister(name)
        self._large.clear()
        self._forms.clear()
        if is_tidied:
            for table in self._temporary:
                self._con.execute(f"drop table {table}")
            self._plans = {
                key: plan
                for key, plan in self._plans.items()
                if self._temporary.isdisjoint(names_read(key[0]))
            }
            self._temporary.clear()

    def close(self) -> None:
        """Let go of its plans."""
        self._con.close()

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

    def execute(
        self, script: str, values: Mapping[str, Any] | Sequence[Any] | None = None
    ) -> duckdb.DuckDBPyConnection:
        """Run one or several statements; the result is that of the last. One whose values stand by their place is planned anew."""
        if isinstance(values, Sequence) and values:
            return self._con.execute(script, values)
        values = cast(Mapping[str, Any] | None, values)
        for sql in _statements(script):
            if macro := MACRO.match(sql):
                self._define(macro["name"], sql)
            elif temporary := TEMPORARY.match(sql):
                self._keep(temporary["table"], sql[temporary.end() :], values)
            else:
                self._con.execute(self._planned(sql, values))
                if CHANGES.match(sql):
                    self._con.complete()
        return self._con

    def _define(self, name: str, sql: str) -> None:
        """Define a macro, unless it is as it was; plans that were made before would be made anew each time they run."""
        if self.room.macros.get(name) != sql:
            self._con.execute(sql)
            self.room.macros[name] = sql
            for lane in self.room.lanes:
                lane._plans.clear()

    def _keep(self, table: str, select: str, values: Mapping[str, Any] | None) -> None:
        """Put the rows of a select, and no others, into a temporary table, which always has the same columns."""
        if table not in self._temporary:
            lists = [_list(name, f"getvariable('{name}')", self._forms[name]) for name in self._few(select)]
            rows = _led(lists, _put_in(select, values))
            self._con.execute(f"create temp table {table} as {rows}")
            self._temporary.add(table)
            return
        self._con.execute(self._parsed(f"truncate {table}"))
        self._con.complete()
        self._con.execute(self._planned(f"insert into {table} {select}", values))
        self._con.complete()

    def sql(self, sql: str, params: Mapping[str, Any] | None = None) -> duckdb.DuckDBPyRelation:
        """Run one select."""
        return self._con.sql(self._planned(sql, params))

    def _planned(self, sql: str, values: Mapping[str, Any] | None) -> duckdb.Statement | str:
        """What runs the plan of a statement; the statement where it reads many rows, which one plan may not fit."""
        names = self._few(sql)
        if not self._large.isdisjoint(names_read(sql)):
            lists = [_list(name, f"getvariable('{name}')", self._forms[name]) for name in names]
            return _led(lists, _put_in(sql, values))
        key = sql, str(values), *(self._forms[name] for name in names)
        if key not in self._plans:
            lists = [_list(name, f"${name}", self._forms[name]) for name in names]
            self._made += 1
            self._con.execute(f"prepare plan_{self._made} as {_led(lists, _put_in(sql, values))}")
            self._plans[key] = self._parsed(f"execute plan_{self._made}")
        return self._plans[key]

    def _few(self, sql: str) -> list[str]:
        """The few registered rows that a statement reads."""
        return [name for name in names_read(sql) if name in self._forms]

    def _parsed(self, sql: str) -> duckdb.Statement:
        """A statement whose text is read once."""
        if sql not in self._texts:
            (self._texts[sql],) = duckdb.extract_statements(sql)
        return self._texts[sql]


class Waiting:
    """Rooms that wait with their plans, some 120 MB each, for whoever asks for one of the same making.

    Parameters
    ----------
    most : how many may wait
    lent : how many there may be, with those that somebody has
    """

    def __init__(self, most: int, lent: int) -> None:
        self.most, self.lent = most, lent
        self.kept = deque[tuple[object, Room]]()
        self._lock = Lock()
        self._there = WeakSet[Room]()

    def lend(self, made_for: object, make: Callable[[], Room]) -> Room | None:
        """A room without rows: one that was made for an equal thing, or a new one; none where there are enough."""
        room = self._taken(made_for)
        if room is not None:
            with suppress(duckdb.Error):
                room.empty()
                if len(room) <= PLANS and room.takes() <= MOST:
                    return room
            self._close(room)
        if len(self._there) >= self.lent:
            return None
        room = make()
        self._there.add(room)
        return room

    def give_back(self, made_for: object, room: Room) -> None:
        """Let it wait as it is. It may be called wherever what held the room is let go, so it waits for nobody."""
        self.kept.append((made_for, room))
        while len(self.kept) > self.most:
            with suppress(IndexError):
                self._close(self.kept.popleft()[1])

    def _close(self, room: Room) -> None:
        room.close()
        self._there.discard(room)

    def _taken(self, made_for: object) -> Room | None:
        passed: list[tuple[object, Room]] = []
        with self._lock, suppress(IndexError):
            try:
                while True:
                    thing, room = self.kept.pop()
                    if thing == made_for:
                        return room
                    passed.append((thing, room))
            finally:
                self.kept.extend(reversed(passed))
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
