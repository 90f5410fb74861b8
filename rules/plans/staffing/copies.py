"""A copy of a judged club in which other posts stand and others are sent, judged anew where that bears on the answer."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from datetime import date
from typing import Any

import duckdb
import pandas as pd

from data import club
from rules import facts
from rules.engine import Assessment, lots, tables
from rules.rule import Rule

EVENT_COLUMNS = {"post_id", "post_kit_id", "event_id", "assignment_id", "want_id"}
"""Columns by which a row hangs on a post, or on who is sent there."""

SHIFTS = 4
"""About how many stand in a copy for each post."""
OF_KITS = frozenset({"suit", "way", "runtime", "far_radio", "beside", "swap", "exposure"})
"""Facts on posts that have no row where there is no kit."""


class Copy:
    """A club as it was judged, without posts, and with nobody sent anywhere.

    Attributes
    ----------
    con : all tables of the club; of what is judged, only things, kits and members, wherever they are sent
    again : numbers of the rules on kits and members that ask where they are sent
    """

    def __init__(self, assessment: Assessment) -> None:
        self._of = assessment
        ((things, posts),) = assessment.tuples(
            "select (select count(*) from item), (select count(*) from post)"
        )
        self.con, self.close = tables(assessment.policy, things, SHIFTS * posts)
        self.again = [number for number, rule in enumerate(assessment.rules) if _asks_where(rule)]
        self._fresh: set[str] = set()
        source = assessment.con.cursor()
        ours = {
            name
            for (name,) in self.con.execute(
                "select table_name from duckdb_tables() where not temporary"
            ).fetchall()
        }
        for name, columns in tables_of(source):
            if name not in ours or name in ("judgement", "scored"):
                continue
            if EVENT_COLUMNS & set(columns) and name != "event":
                self._fresh.add(name)
                continue
            if name in club.REFERENCE_TABLES:
                continue
            self.put(name, source.sql(f'from "{name}"').to_arrow_table())
        kept = source.sql(
            "from judgement where subject_kind in ('item', 'kit', 'member') and rule_no not in (select unnest($again))",
            params={"again": self.again},
        )
        self.put("judgement", kept.to_arrow_table())

    def put(self, table: str, rows: Any) -> None:
        """Add rows to a table."""
        self.con.register("put_in", rows)
        self.con.execute(f'insert into "{table}" by name select * from put_in')
        self.con.unregister("put_in")

    def send(self, posts: pd.DataFrame, sent: pd.DataFrame | None = None) -> None:
        """Let these posts stand, and these assignments, in the place of all others; what hung on those is forgotten."""
        for name in self._fresh:
            self.con.execute(f'delete from "{name}"')
        self.con.execute("delete from judgement where subject_kind not in ('item', 'kit', 'member')")
        self.put("post", posts)
        if sent is not None and len(sent):
            self.put("assignment", sent)

    def answer(self, numbers: Collection[int], again_on: date | None = None, has_kits: bool = True) -> None:
        """Work out the facts on posts that some rules read, and judge by these; no evidence is kept of what is met.

        Parameters
        ----------
        has_kits : whether kits are sent to posts, or might be
        again_on : the day of the rules on kits and members that ask where they are sent; today unless given
        """
        of, con = self._of, self.con
        rules = [(number, of.rules[number]) for number in sorted(numbers)]
        con.execute(
            "delete from judgement where rule_no in (select unnest($numbers))", {"numbers": list(numbers)}
        )
        needed = frozenset[str]().union(*(facts.needs(rule.sql) for _, rule in rules))
        needed -= frozenset() if has_kits else OF_KITS
        for step in facts.STEPS:
            if step.__name__ in self._fresh & needed:
                for table, rows in step(con, of.policy, of.today).items():
                    facts.keep(con, table, rows)
        for day, some in (
            (again_on or of.today, [one for one in rules if one[0] in self.again]),
            (of.today, [one for one in rules if one[0] not in self.again]),
        ):
            for _, judge in lots(some, of.policy, day, keep_met=False):
                judge(con)

    def on(self, *subjects: str) -> list[int]:
        """Numbers of the rules on some kinds of subjects."""
        return [number for number, rule in enumerate(self._of.rules) if rule.subject in subjects]


def tables_of(con: duckdb.DuckDBPyConnection) -> Sequence[tuple[str, list[str]]]:
    """Every table of a club with its columns."""
    return con.execute(
        "select table_name, list(column_name) from duckdb_columns() where schema_name = 'main' and not internal "
        "and table_name in (select table_name from duckdb_tables() where not temporary) group by all"
    ).fetchall()


def _asks_where(rule: Rule) -> bool:
    """Whether a rule on a person or a kit hangs on where they are sent."""
    return rule.subject in ("kit", "member") and re.search(r"\bassignment\b", rule.sql) is not None
