"""Facts: derived tables, worked out over the whole club at once, in the order of STEPS."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import TypeAlias

import duckdb
import pandas as pd
import pyarrow as pa

from data import club
from data.kept import Kept
from rules.facts import (
    coverage,
    crew,
    exposures,
    holdings,
    posts,
    power,
    replacements,
    stations,
    swaps,
    wiring,
)
from rules.facts.select import Select
from rules.policy import Policy

TABLES = Path(__file__).parents[1] / "facts.sql"
Rows: TypeAlias = pd.DataFrame | pa.Table | Select
Fact = Callable[[duckdb.DuckDBPyConnection, Policy, date], Mapping[str, Rows]]

STEPS: tuple[Fact, ...] = (
    holdings.holding,
    holdings.practice,
    power.battery,
    stations.station,
    wiring.lead,
    wiring.feedline,
    power.supply,
    power.kit_runtime,
    posts.post_kit,
    posts.darkness,
    power.runtime,
    crew.company,
    crew.watch,
    coverage.coverage,
    coverage.beside,
    swaps.swap,
    exposures.exposure,
    exposures.fall_zone,
    replacements.replacement,
)

# Facts on posts: without an event they have no rows, and no rule on an item, a kit or a member reads them.
OF_EVENTS: frozenset[Fact] = frozenset(
    {
        posts.post_kit,
        posts.darkness,
        power.runtime,
        crew.company,
        crew.watch,
        coverage.coverage,
        coverage.beside,
        swaps.swap,
        exposures.exposure,
        exposures.fall_zone,
    }
)


def work_out(con: duckdb.DuckDBPyConnection, policy: Policy, today: date, has_posts: bool = True) -> None:
    """Work out the facts into the tables of facts.sql, those on posts only if asked.

    A fact returns its rows by the name of the table.
    """
    con.execute(TABLES.read_text("utf-8"))
    has_posts = has_posts and con.execute("select exists (from event)").fetchall()[0][0]
    for fact in STEPS:
        if has_posts or fact not in OF_EVENTS:
            for table, rows in fact(con, policy, today).items():
                keep(con, table, rows)


def keep(con: duckdb.DuckDBPyConnection, table: str, rows: Rows) -> None:
    """Put the rows of a fact into its table."""
    if isinstance(rows, Select):
        con.execute(f"insert into {table} by name {rows.sql}", rows.values or None)
    elif isinstance(con, Kept):
        con.put(table, rows)
    elif len(rows):
        con.register("worked_out", rows)
        con.execute(f"insert into {table} by name select * from worked_out")
        con.unregister("worked_out")


def blank() -> duckdb.DuckDBPyConnection:
    """A club with every table and nothing in it, for the cases of a rule."""
    con = club.connect()
    con.execute(TABLES.read_text("utf-8"))
    return con
