"""Facts: derived tables, worked out over the whole club at once, each once those are there that it reads.

The table of a fact is declared, with its grain, in rules/facts.sql. The function of the same name works it out. It is given
a connection in which the told tables are filled and the facts that it reads are there, the policy, and the day of the
review; it returns rows by the name of the table, as a select (`Select`), an Arrow table or a frame. Columns are those of the
table, in the unit in which their name ends, NULL where not known. Some fill tables beside their own, as `supply` fills `feed`.
STEPS names every function, with the facts that it reads.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, TypeAlias

import duckdb
import pandas as pd
import pyarrow as pa

from data import club
from data.kept import Lane, Room, names_read
from rules.facts import (
    coverage,
    crew,
    exposures,
    holdings,
    posts,
    power,
    runtime,
    stations,
    swaps,
    ways,
    wiring,
)
from rules.facts.select import Select
from rules.policy import Policy

RULES = Path(__file__).parents[1]
SCRIPTS = ("facts.sql", "subject.sql", "score.sql")
Rows: TypeAlias = pd.DataFrame | pa.Table | Select
AT_ONCE = 2
LOCK = "set lock_configuration = true"
SENT = "sent"
"""What the tables that are not of the gear count as among the facts: they may be filled when others are worked out."""
BESIDE = ""
"""The name of work that is no fact, for which none waits."""
Fact = Callable[[duckdb.DuckDBPyConnection, Policy, date], Mapping[str, Rows]]
Piece: TypeAlias = tuple[frozenset[str], Callable[[duckdb.DuckDBPyConnection], None]]
"""Work beside the facts, given a cursor, after those that must be there before it."""

STEPS: Mapping[Fact, tuple[str, ...]] = {
    holdings.holding: (),
    power.battery: (),
    stations.apart: (),
    stations.station: ("battery",),
    power.supply: ("apart", "battery"),
    runtime.kit_runtime: ("supply",),
    holdings.practice: (SENT,),
    wiring.lead: ("holding",),
    wiring.fuse: ("holding",),
    wiring.feedline: ("holding", "station"),
    wiring.passing: ("apart", "holding", "station", "supply"),
    ways.suit: ("battery", "station", SENT),
    posts.post_kit: ("holding", "suit", SENT),
    ways.far_radio: ("battery", SENT),
    ways.way: ("battery", "post_kit", "station", "suit", SENT),
    posts.darkness: (SENT,),
    runtime.runtime: ("apart", "post_kit", "suit", "supply", "way", SENT),
    crew.company: (SENT,),
    crew.shift: (SENT,),
    crew.watch: ("company", "post_kit", SENT),
    crew.hardship: ("post_kit", "watch", SENT),
    coverage.coverage: ("post_kit", "runtime", "station", "suit", "way", SENT),
    coverage.beside: ("post_kit", "station", "suit", SENT),
    swaps.swap: ("supply", SENT),
    exposures.exposure: ("holding", "post_kit", SENT),
    exposures.fall_zone: (SENT,),
}
"""Every fact, with those that it reads, which stand before it, and SENT where it reads a table that is not of the gear."""

BESIDE_OWN: Mapping[str, Fact] = {
    "idle_radio": holdings.holding,
    "chain": stations.apart,
    "leads_to": stations.apart,
    "station_step": stations.station,
    "feed": power.supply,
    "want": ways.suit,
    "band_part": ways.suit,
}
"""The tables that a fact fills beside its own."""

OF_EVENTS = frozenset(fact for fact, read in STEPS.items() if SENT in read and fact is not holdings.practice)
"""Facts on posts: without an event they have no rows, and no rule on an item, a kit or a member reads them."""

LENGTH: Mapping[Fact, int] = {stations.station: 8, power.supply: 3, stations.apart: 2, holdings.holding: 2}
"""How long facts take in a large club, in times of the others."""


def work_out(
    con: duckdb.DuckDBPyConnection,
    policy: Policy,
    today: date,
    has_posts: bool = True,
    beside: Iterable[Piece] = (),
    sent: club.Filling | None = None,
) -> None:
    """Work out the facts of a club that is filled into the tables of facts.sql.

    Parameters
    ----------
    has_posts
        Also those on posts (OF_EVENTS), if the club has an event.
    beside
        Other work, done where a core would wait.
    sent
        Fills the tables that are not OF_GEAR, where they are not filled yet and no fact on posts is asked for.
    """
    has_posts = has_posts and con.execute("select exists (from event)").fetchall()[0][0]
    steps = [fact for fact in STEPS if has_posts or fact not in OF_EVENTS]
    left = sorted(steps, key=lambda fact: _chain(fact, steps), reverse=True)
    others = list(beside)
    free = list[Any](con.room.lanes if isinstance(con, Lane) else [con.cursor() for _ in range(AT_ONCE)])
    running: dict[Future[None], tuple[duckdb.DuckDBPyConnection, str]] = {}
    with ThreadPoolExecutor(AT_ONCE) as pool:

        def start(name: str, work: Callable[..., None], *asked: object) -> None:
            cursor = free.pop()
            running[pool.submit(work, cursor, *asked)] = cursor, name

        if sent:
            start(SENT, sent)
        while left or others or running:
            missing = {fact.__name__ for fact in left} | {name for _, name in running.values()}
            ready = [fact for fact in left if missing.isdisjoint(STEPS[fact])]
            asked = [piece for piece in others if missing.isdisjoint(piece[0])]
            while free and (ready or asked):
                has_fact = not {name for _, name in running.values()} <= {SENT, BESIDE}
                if ready and not (has_fact and asked):
                    fact = ready.pop(0)
                    left.remove(fact)
                    start(fact.__name__, _work_out, fact, policy, today)
                else:
                    piece = asked.pop(0)
                    others.remove(piece)
                    start(BESIDE, piece[1])
            for done in wait(running, return_when=FIRST_COMPLETED).done:
                free.append(running.pop(done)[0])
                done.result()


def _chain(fact: Fact, among: Collection[Fact]) -> tuple[int, int]:
    """How long the longest row of facts takes of which each waits for the one before, from this one on; and how many wait for it."""
    waiting = [other for other in among if fact.__name__ in STEPS[other]]
    longest = max((_chain(other, among)[0] for other in waiting), default=0)
    return longest + LENGTH.get(fact, 1), len(waiting)


def _work_out(con: duckdb.DuckDBPyConnection, fact: Fact, policy: Policy, today: date) -> None:
    for table, rows in fact(con, policy, today).items():
        keep(con, table, rows)


def keep(con: duckdb.DuckDBPyConnection, table: str, rows: Rows) -> None:
    """Put the rows of a fact into its table."""
    if isinstance(rows, Select):
        con.execute(f"insert into {table} by name {rows.sql}", rows.values or None)
    elif len(rows):
        con.register("worked_out", rows)
        con.execute(f"insert into {table} by name select * from worked_out")
        con.unregister("worked_out")


def blank(is_small: bool = False) -> duckdb.DuckDBPyConnection:
    """A club with every table and nothing in it, on a connection of `club.connect` whose settings stay as they are."""
    con = _blank(is_small)
    con.execute(LOCK)
    return con


def room() -> Room:
    """The same for one small club after the other, with a lane for each piece of work at once."""
    con = _blank(is_small=True)
    made = Room(con, AT_ONCE)
    con.execute(LOCK)
    return made


def _blank(is_small: bool) -> duckdb.DuckDBPyConnection:
    con = club.connect(is_small)
    for script in SCRIPTS:
        con.execute((RULES / script).read_text("utf-8"))
    return con


@cache
def _reads() -> Mapping[str, frozenset[str]]:
    """By table of a fact and by view, also one that is asked with a figure: the facts that must be there before it is read."""
    script = "".join((RULES / script).read_text("utf-8") for script in SCRIPTS)
    of_fact = {SENT: frozenset({SENT})}
    for fact, read in STEPS.items():
        of_fact[fact.__name__] = frozenset({fact.__name__}).union(*(of_fact[name] for name in read))
    every = frozenset(of_fact)
    of_fact |= {table: of_fact[fact.__name__] for table, fact in BESIDE_OWN.items()}
    reads = {
        name: of_fact.get(name, every) for name in re.findall(r"^create table (\w+)", script, re.MULTILINE)
    }
    reads |= dict.fromkeys(club.not_of_gear(), of_fact[SENT])
    views = r"^create (?:view (\w+) as|macro (\w+)\(\w+\) as table)\n(.*?);$"
    for plain, asked, sql in re.findall(views, script, re.MULTILINE | re.DOTALL):
        reads[plain or asked] = frozenset().union(*(reads.get(name, frozenset()) for name in names_read(sql)))
    return reads


@cache
def needs(sql: str) -> frozenset[str]:
    """The facts that must be there before a statement is run: those that it reads, and those that these read."""
    reads = _reads()
    return frozenset().union(*(reads.get(name, frozenset()) for name in names_read(sql)))
