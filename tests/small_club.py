"""Small clubs: told frames from plain rows, and as much of what follows from them as a test asks for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache, cached_property
from typing import Any
from weakref import finalize

import duckdb
import pandas as pd

from data import club, schema, upload
from rules import engine, facts
from rules.policy import Policy
from rules.rule import load_rules

TODAY = date(2027, 3, 1)


class Club(engine.Assessment):
    """What `engine.assess` makes of a club, worked out where it is asked for.

    To plan every fact and rule takes most of a second, however few rows there are: `table` works out the facts that
    the table rests on, `answers` those that its rules read; whatever else is asked judges the club whole.
    """

    def __init__(
        self, frames: Mapping[str, pd.DataFrame], policy: Policy | None = None, today: date = TODAY
    ) -> None:
        self.frames, self.policy, self.today = frames, policy or Policy.standard(), today
        self.rules = tuple(rule for rule in load_rules() if rule.name not in self.policy.allow)
        self._there: set[str] = set()

    @cached_property
    def _whole(self) -> engine.Assessment:
        return engine.assess(self.frames, self.policy, self.today, self.rules)

    @property
    def con(self) -> duckdb.DuckDBPyConnection:
        """The club judged whole."""
        return self._whole.con

    @cached_property
    def _part(self) -> engine.Assessment:
        """The club with the facts and answers that were asked for."""
        con, let_go = engine.tables(self.policy, engine._rows(self.frames), len(self.frames.get("posts", ())))
        club.fill(con, self.frames, self.today)
        con.execute(f"create or replace macro reviewed_on() as date '{self.today}'")
        part = engine.Assessment(con, self.rules, self.policy, self.today)
        finalize(part, let_go)
        return part

    def table(self, name: str) -> pd.DataFrame:
        if "_whole" in self.__dict__:
            return super().table(name)
        self._work_out(f"from {name}")
        return self._part.table(name)

    def part(self, *selects: str) -> engine.Assessment:
        """The club with no more than the facts that these read."""
        self._work_out(*selects)
        return self._part

    def rows(self, select: str) -> list[tuple[Any, ...]]:
        """What a select of facts answers."""
        self._work_out(select)
        return self._part.con.execute(select).fetchall()

    def answers(self, *rules: str) -> list[engine.Finding]:
        """What these rules find, met or not, worst first."""
        numbers = [number for number, rule in enumerate(self.rules) if rule.name in rules]
        assert len(numbers) == len(rules), rules
        asked = [
            (number, self.rules[number]) for number in numbers if self.rules[number].name not in self._there
        ]
        if asked:
            self._work_out("from subject", *(rule.sql for _, rule in asked))
            engine.judge(self._part.con, asked, self.policy, self.today, keep_met=True)
            self._there |= {rule.name for _, rule in asked}
        return self._part.findings("list_contains($1, rule_no)", [numbers], with_met=True)

    def _work_out(self, *selects: str) -> None:
        con = self._part.con
        needed = frozenset().union(*map(facts.needs, selects))
        has_events = bool(len(self.frames.get("events", ())))
        for fact in facts.STEPS:
            if fact.__name__ in needed - self._there and (has_events or fact not in facts.OF_EVENTS):
                for table, rows in fact(con, self.policy, self.today).items():
                    facts.keep(con, table, rows)
                self._there.add(fact.__name__)


@cache
def _untold(stem: str, rows: int) -> pd.DataFrame:
    """So many rows of a file, in which nothing is told."""
    empty = schema.empty(stem)
    return pd.DataFrame({"line": 0}, index=range(rows), columns=empty.columns).astype(empty.dtypes)


def frame(stem: str, rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """A typed frame of one file, one row per mapping, numbered as lines of the file."""
    untold = _untold(stem, len(rows))
    told = pd.DataFrame([{"line": line, "file": f"{stem}.csv", **row} for line, row in enumerate(rows, 2)])
    return untold.assign(**told.astype({name: untold.dtypes[name] for name in told}))


def assess(policy: str = "", **files: Sequence[Mapping[str, Any]]) -> Club:
    """A club reviewed on TODAY."""
    return Club({stem: frame(stem, rows) for stem, rows in files.items()}, Policy.parse(policy))


def read(policy: str = "", **texts: str) -> Club:
    """A club that sent these files, reviewed on TODAY; an empty text is a file that was not sent."""
    frames: dict[str, pd.DataFrame] = {}
    for stem, text in texts.items():
        if text:
            sent = upload.read(f"{stem}.csv", text.encode())
            assert sent.frame is not None, [str(problem) for problem in sent.problems]
            frames[stem] = sent.frame
    return Club(frames, Policy.parse(policy))


def kit(member: str, name: str, *things: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Inventory rows of one kit."""
    return [{"member": member, "kit": name, "item": thing["kind"], **thing} for thing in things]


HANDHELD = {"kind": "handheld", "module": "radio"}
PACK = {"kind": "handheld_pack", "module": "radio", "charged": pd.Timestamp(TODAY)}
MOBILE = {"kind": "mobile_vhf_uhf", "dc_plug": "genderless_30", "module": "station"}
BATTERY = {"kind": "battery_lifepo4", "dc_plug": "genderless_30", "capacity_ah": 20.0, "module": "power"}
LEAD = {"kind": "dc_lead", "dc_plug": "genderless_30", "dc_plug_far": "genderless_30", "module": "power"}
ANTENNA = {"kind": "jpole", "rf_plug": "so239", "module": "antenna"}
COAX = {"kind": "coax", "rf_plug": "pl259", "rf_plug_far": "pl259", "module": "antenna"}
FUSE = {"kind": "fuse", "amps_rated": 30.0, "module": "power"}
EVENT = {
    "event": "Ride",
    "starts": pd.Timestamp("2027-04-25 06:00"),
    "ends": pd.Timestamp("2027-04-25 12:00"),
}
