"""A club in memory: the told frames of every file, numbered and filled from the kinds, in one DuckDB connection."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import cache
from pathlib import Path
from typing import TypeAlias

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from data import clocks, column_values, failures, items, naming, reference, schema, spreadsheet, upload
from data.problems import Problem

HERE = Path(__file__).parent
REFERENCE_TABLES = {
    "kind": "kinds", "connector": "connectors", "mating": "mating", "chemistry": "chemistries", "wire": "wire",
    "coax": "coax", "duty": "duty", "post_type": "post_types", "band": "bands", "mode": "modes",
    "price": "prices",
}  # fmt: skip
LONG = 100_000
"""Rows from which an inventory is filled in halves."""
ITEMS = "items_as_told"
OF_GEAR = ("member", "kit", "item")
"""Tables that are filled first: most facts read no other, and the others are filled by their numbers."""
NAMES = {
    "events": ("shelter", "channel", "channel_alternate", "channel_simplex"),
    "posts": ("site", "missed_check_in", "shelter"),
}
"""Columns that name a thing that is there, by file."""
NONE = frozenset({"none", "none yet", "no", "nothing", "nil", "n/a", "na"})
"""What is written in these where there is no such thing."""
UNKNOWN = frozenset({"unknown", "not known", "to be decided", "tba", "tbc", "tbd", "?"})
"""What is written in these where nobody knows it."""
INSTEAD = {("posts", "shelter"): ("none", "unknown")}
"""What stands for the one and the other, by file and column, where a column left empty tells something else."""
Filling: TypeAlias = Callable[[duckdb.DuckDBPyConnection], None]
MEMORY = "2GB"  # that the tables of a club, and what is asked of them, may take
TOO_LARGE = (
    "This club takes more memory than its tables may take. "
    "Leave out kits and members that nobody asks about, or review it in parts, for example a district at a time."
)
"""What is said where DuckDB ends with an OutOfMemoryException, here or in the store, whose share is another."""


@dataclass
class Told:
    """The files of one folder: typed frames by stem, and what is wrong with the files that did not make it."""

    frames: dict[str, pd.DataFrame] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)


def read_folder(
    folder: Path, progress: Callable[[str], None] | None = None, aliases: upload.Aliases = upload.NO_ALIASES
) -> Told:
    """Read every CSV file and spreadsheet of a folder; several files of one kind are joined.

    Raises
    ------
    FileNotFoundError
        The folder is not there, or holds no such file.
    """
    paths = (
        sorted(path for path in folder.iterdir() if path.suffix.lower() in spreadsheet.ENDINGS)
        if folder.is_dir()
        else []
    )
    if not paths:
        raise FileNotFoundError(
            f"{folder}: no CSV file or spreadsheet here. Write the name of a folder that holds inventory.csv."
        )
    told, parts = Told(), dict[str, list[pd.DataFrame]]()
    for path in paths:
        if progress:
            progress(path.name)
        for read in spreadsheet.read_files(path.name, path.read_bytes(), upload.FOLDER, aliases):
            told.problems += read.problems
            told.notices += [f"{read.file}: {notice}" for notice in read.notices]
            if read.frame is not None:
                parts.setdefault(read.stem, []).append(read.frame)
    told.frames = {
        stem: frames[0] if len(frames) == 1 else pd.concat(frames, ignore_index=True)
        for stem, frames in parts.items()
    }
    return told


def kit_owner(sent: pd.DataFrame) -> pd.Series:
    """Whose kit each row of assignments.csv means: the member's own unless another lends it."""
    return sent["kit_owner"].fillna(sent["member"])


def connect(is_small: bool = False) -> duckdb.DuckDBPyConnection:
    """An empty club in memory: all tables of tables.sql and the reference tables; no file or network from here on.

    What is asked of it may take `MEMORY`, whatever the machine has, and none of it is written to the disk. A statement
    has one thread: two statements side by side are less work than each in two halves.

    Parameters
    ----------
    is_small : joins stay in the order in which they are written, as to seek a better one takes longer than it saves
    """
    con = duckdb.connect(
        config={
            "threads": 1,
            "disabled_optimizers": "join_order" if is_small else "",
            "memory_limit": MEMORY,
            "temp_directory": "",
            "autoinstall_known_extensions": False,
            "python_enable_replacements": False,
        }
    )
    for table, arrow in _reference().items():
        con.register("incoming", arrow)
        con.execute(f"create table {table} as select * from incoming")
        con.unregister("incoming")
    con.execute((HERE / "tables.sql").read_text("utf-8"))
    con.execute("set enable_external_access = false")
    return con


@cache
def _reference() -> dict[str, pa.Table]:
    return {table: _as_words(reference.table(stem)) for table, stem in REFERENCE_TABLES.items()}


def _as_words(rows: pd.DataFrame) -> pa.Table:
    """Rows of a reference table; a column without any value takes words, as a policy may fill it."""
    table = pa.Table.from_pandas(rows, preserve_index=False)
    fields = [each.with_type(pa.string()) if pa.types.is_null(each.type) else each for each in table.schema]
    return table.cast(pa.schema(fields))


def fill(
    con: duckdb.DuckDBPyConnection, frames: Mapping[str, pd.DataFrame | pa.Table], today: date | None = None
) -> None:
    """Put told rows (as upload.read types them) into the tables, numbered and filled from the kinds.

    Where `today` is told, a day after it on which something was done counts as not told; tomorrow is today east of here.
    """
    for part in filling(frames, today):
        part(con)


def filling(
    frames: Mapping[str, pd.DataFrame | pa.Table], today: date | None = None
) -> tuple[Filling, Filling]:
    """Two functions that fill the tables of a connection, as `fill` does: the first those OF_GEAR, the second the others.

    The second may be called with another connection to the same tables, while facts on the gear are worked out.
    """
    told = {stem: _told(stem, frames.get(stem), today) for stem in schema.FILES}
    told["events"] = clocks.with_clocks(told["events"])
    members, kits, inventory = naming.numbered(told)
    inventory = failures.doubted(inventory, kits, told["rehearsals"], today)
    rows = {"named_member": members, "named_kit": kits}
    rows |= {f"told_{stem}": told[stem] for stem in schema.FILES if stem != "inventory"}

    def gear(con: duckdb.DuckDBPyConnection) -> None:
        _insert(con, rows, is_gear=True)
        if inventory.num_rows:
            _fill_items(con, inventory)

    def others(con: duckdb.DuckDBPyConnection) -> None:
        _insert(con, rows, is_gear=False)

    return gear, others


def not_of_gear() -> list[str]:
    """The tables that are filled after those OF_GEAR."""
    return [table for table, _, _ in _fill_sql() if table not in OF_GEAR]


def _insert(con: duckdb.DuckDBPyConnection, rows: Mapping[str, pa.Table], is_gear: bool) -> None:
    """Run those statements of fill.sql that have rows to read and fill tables of the gear, or of the rest."""
    asked = [
        (names, insert)
        for table, names, insert in _fill_sql()
        if (table in OF_GEAR) == is_gear and any(rows[name].num_rows for name in names)
    ]
    read = {name for names, _ in asked for name in names}
    for name in read:
        con.register(name, rows[name])
    for _, insert in asked:
        con.execute(insert)
    for name in read:
        con.unregister(name)


def _told(stem: str, sent: pd.DataFrame | pa.Table | None, today: date | None) -> pa.Table:
    """What a file tells, numbered: the columns that are asked for, without days to come on which something was done."""
    whole: pa.Table = _nothing(stem) if sent is None else sent
    if isinstance(sent, pd.DataFrame):
        whole = pa.Table.from_pandas(sent, preserve_index=False)
    rows = whole.select([name for name in whole.column_names if name in _asked(stem)])
    if today is not None:
        rows = _done_by(rows, stem, today + timedelta(days=1))
    for name in NAMES.get(stem, ()):
        if name in rows.column_names:
            texts = column_values.plain(rows[name].combine_chunks())
            named = _named(texts, *INSTEAD.get((stem, name), (None, None)))
            rows = rows.set_column(rows.column_names.index(name), name, named)
    return rows.append_column("row_no", pa.array(np.arange(1, rows.num_rows + 1, dtype=np.int32)))


def _named(texts: pa.Array, none: str | None, unknown: str | None) -> pa.Array:
    """What somebody wrote of things that are there; what stands for it where they wrote that there is none, or do not know it."""

    def said(text: str | None) -> str | None:
        word = text.strip().lower() if text else ""
        if word in UNKNOWN:
            return unknown
        return none if word in NONE or (text and not any(map(str.isalnum, text))) else text

    return pa.array([said(text) for text in texts.to_pylist()], texts.type)


def _done_by(rows: pa.Table, stem: str, last: date) -> pa.Table:
    """Rows without the days after the last on which something that they tell can have been done."""
    for name, told in schema.columns(stem).items():
        if not told.is_done or name not in rows.column_names:
            continue
        column = rows[name]
        days = [chunk.dictionary if pa.types.is_dictionary(chunk.type) else chunk for chunk in column.chunks]
        latest = [pc.max(some).as_py() for some in days if len(some)]
        if any(day is not None and day.date() > last for day in latest):
            plain = pa.chunked_array([column_values.plain(chunk) for chunk in column.chunks])
            is_late = pc.greater(plain, pa.scalar(datetime.combine(last, time()), plain.type))
            kept = pc.if_else(is_late, pa.scalar(None, plain.type), plain)
            rows = rows.set_column(rows.column_names.index(name), name, kept)
    return rows


def _fill_items(con: duckdb.DuckDBPyConnection, inventory: pa.Table) -> None:
    """Make an item of each row of an inventory, by role and kind; of a long one, one half beside the other."""

    def put(con: duckdb.DuckDBPyConnection, part: npt.NDArray[np.int32]) -> None:
        con.register(ITEMS, items.items(inventory.take(part)))
        con.execute(f"insert into item by name from {ITEMS}")
        con.unregister(ITEMS)

    order = items.by_role(inventory["kind"].combine_chunks())
    if len(order) <= LONG:
        put(con, order)
        return
    with ThreadPoolExecutor(2) as pool, closing(con.cursor()) as one, closing(con.cursor()) as other:
        list(pool.map(put, (one, other), np.array_split(order, 2)))


@cache
def _nothing(stem: str) -> pa.Table:
    return pa.Table.from_pandas(schema.empty(stem), preserve_index=False)


@cache
def _asked(stem: str) -> frozenset[str]:
    """What is read of a file, among other words: a column that is none of them need not be handed over."""
    if stem == "inventory":
        return naming.TOLD | items.TOLD
    inserts = [insert for _, names, insert in _fill_sql() if f"told_{stem}" in names]
    return frozenset(word for insert in inserts for word in re.findall(r"\w+", insert))


@cache
def _fill_sql() -> list[tuple[str, list[str], str]]:
    """Each statement of fill.sql, with the table that it fills and the names of the rows that it reads."""
    inserts = [part for part in (HERE / "fill.sql").read_text("utf-8").split(";") if part.strip()]
    return [
        (re.findall(r"insert into (\w+)", insert)[0], re.findall(r"\b(?:told|named)_\w+", insert), insert)
        for insert in inserts
    ]
