"""What is left out of a club without events would have answered nothing; what the reference forgot is not known."""

import re
from dataclasses import replace
from datetime import date
from itertools import groupby
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd
import pytest

from data import club, column_values, kept, schema, upload
from rules import engine, facts
from rules.policy import Policy
from rules.rule import load_rules
from tests import small_club
from tests.test_few import said

TODAY = date(2027, 3, 1)
WITHOUT_EVENTS = ("kit", "item", "member", "club")


@pytest.fixture(scope="module")
def calm() -> duckdb.DuckDBPyConnection:
    """One member's kit, and no event."""
    told = {"member": "Q1AAA", "kit": "bag", "item": "thing", "line": 2, "quantity": 1}
    things = ["handheld", "mobile_vhf_uhf", "battery_lifepo4", "dc_lead", "coax", "jpole", "mast_metal"]
    rows = pd.DataFrame([told | {"kind": kind} for kind in things])
    rows = rows.reindex(columns=schema.empty("inventory").columns).astype(schema.empty("inventory").dtypes)
    con = facts.blank()
    club.fill(con, {"inventory": rows})
    return engine.judge_all(con, load_rules(), Policy.standard(), TODAY).con


@pytest.mark.parametrize("fact", sorted(facts.OF_EVENTS, key=str), ids=lambda fact: fact.__name__)
def test_a_fact_on_posts_has_no_rows_without_an_event(calm, fact):
    for table, rows in fact(calm, Policy.standard(), TODAY).items():
        facts.keep(calm, table, rows)
        assert calm.table(table).fetchall() == [], table


@pytest.mark.parametrize(
    "rule", [r for r in load_rules() if r.subject not in WITHOUT_EVENTS], ids=lambda rule: rule.name
)
def test_a_rule_on_what_is_not_there_judges_nothing(calm, rule):
    values = rule.values(Policy.standard(), TODAY)
    assert calm.execute(f"select count(*) from ({rule.sql})", values).fetchall() == [(0,)]


def test_the_rules_on_what_is_there_have_judged(calm):
    judged = {kind for (kind,) in calm.execute("select distinct subject_kind from judgement").fetchall()}
    assert judged == set(WITHOUT_EVENTS)


def test_a_kind_that_the_reference_no_longer_knows_is_not_known():
    sent = b"member,kit,item,kind\nQ1A,bag,radio,handheld\nQ1A,bag,older,scanner\n"
    told = upload.read("inventory.csv", sent, "inventory").frame
    con = club.connect()
    club.fill(con, {"inventory": told.replace({"kind": {"scanner": "no_longer_listed"}})})
    assert con.execute("select kind, role from item order by line").fetchall() == [
        ("handheld", "radio"),
        (None, None),
    ]


class Told:
    """A connection that writes down what it is asked."""

    def __init__(self, con: duckdb.DuckDBPyConnection) -> None:
        self._con = con
        self.asked: list[str] = []

    def __getattr__(self, name: str) -> Any:
        return getattr(self._con, name)

    def cursor(self) -> "Told":
        return self

    def execute(self, sql: str, *values: object) -> duckdb.DuckDBPyConnection:
        self.asked.append(sql)
        return self._con.execute(sql, *values)

    def sql(self, sql: str, **values: Any) -> duckdb.DuckDBPyRelation:
        self.asked.append(sql)
        return self._con.sql(sql, **values)


@pytest.fixture(scope="module")
def one_by_one(frames) -> tuple[duckdb.DuckDBPyConnection, dict[str, set[str]]]:
    """The invented club with every fact worked out in its turn, and the facts that each reads."""
    con = facts.blank()
    club.fill(con, frames)
    fact_of: dict[str, str] = {}
    read: dict[str, set[str]] = {}
    for fact in facts.STEPS:
        told = Told(con)
        for table, rows in fact(told, Policy.standard(), TODAY).items():
            fact_of[table] = fact.__name__
            facts.keep(told, table, rows)
        names = {name for sql in told.asked for name in kept.names_read(sql)}
        read[fact.__name__] = {fact_of[name] for name in names & fact_of.keys()} - {fact.__name__}
        if any(facts.needs(f"from {name}") >= {facts.SENT} for name in names - fact_of.keys()):
            read[fact.__name__].add(facts.SENT)
    return con, read


@pytest.mark.parametrize("coded_to", [column_values.CODED_TO, 0])
def test_a_kit_is_one_however_its_member_is_written_and_wherever_its_rows_stand(coded_to, monkeypatch):
    monkeypatch.setattr(column_values, "CODED_TO", coded_to)
    rows = ["q1a,bag,radio", "Q1B,bag,radio", "Q1A,box,radio", "Q1A,bag,older", "q1a,bag,oldest"]
    sent = "member,kit,item,kind\n" + "".join(f"{row},handheld\n" for row in rows)
    told = upload.read("inventory.csv", sent.encode(), "inventory").table
    con = club.connect()
    club.fill(con, {"inventory": told})
    assert con.execute("select member, kit, lines from kit order by kit_id").fetchall() == [
        ("Q1A", "bag", [2, 5, 6]),
        ("Q1A", "box", [4]),
        ("Q1B", "bag", [3]),
    ]
    assert con.execute("select line, kit_id from item order by line").fetchall() == [
        (2, 1), (3, 3), (4, 2), (5, 1), (6, 1),
    ]  # fmt: skip


def test_who_and_what_any_file_names_is_there_and_lines_stand_in_order():
    told = {
        "inventory": [{"member": "Q2B", "kit": "bag", "item": "radio", "line": line} for line in (7, 4)],
        "members": [{"member": "Q4D"}],
        "kits": [{"member": "Q1A", "kit": "box"}],
        "rehearsals": [{"member": "Q5E", "kit": "bag"}],
        "assignments": [{"member": "Q3C"}],
    }
    con = club.connect()
    club.fill(con, {stem: small_club.frame(stem, rows) for stem, rows in told.items()})
    members = con.execute("select member from member order by member_id").fetchall()
    assert members == [("Q1A",), ("Q2B",), ("Q3C",), ("Q4D",), ("Q5E",)]
    assert con.execute("select member, kit, lines from kit order by kit_id").fetchall() == [
        ("Q1A", "box", []),
        ("Q2B", "bag", [4, 7]),
    ]
    con = club.connect()
    club.fill(con, {"members": small_club.frame("members", told["members"])})
    assert con.execute("select member from member").fetchall() == [("Q4D",)], "and nobody has a kit"


@pytest.mark.parametrize("long", [club.LONG, 0])
def test_rows_of_a_role_and_in_it_of_a_kind_lie_together_each_once(long, monkeypatch, frames):
    monkeypatch.setattr(club, "LONG", long)
    told = frames["inventory"]
    con = club.connect()
    club.fill(con, frames)
    kinds = con.execute("select role, kind from item").fetchall()
    assert len(kinds) == len(told) > 100
    lots = [kind for kind, _ in groupby(kinds)]
    assert len(lots) <= len(set(kinds)) + 1, "one kind may lie in both halves"
    assert con.execute("select kind::varchar, line from item order by item_id").fetchall() == list(
        zip(told["kind"], told["line"], strict=True)
    )


def test_every_fact_names_the_facts_that_it_reads(one_by_one):
    """A fact that is read and not named may not be there yet."""
    assert {fact.__name__: set(reads) for fact, reads in facts.STEPS.items()} == one_by_one[1]


def test_facts_come_out_at_once_as_one_by_one(one_by_one, frames):
    con = facts.blank()
    club.fill(con, frames)
    facts.work_out(con, Policy.standard(), TODAY)
    for (table,) in con.execute("select table_name from duckdb_tables()").fetchall():
        here, there = (
            one.table(table).df().map(said).sort_values(list(one.table(table).columns)).reset_index(drop=True)
            for one in (con, one_by_one[0])
        )
        pd.testing.assert_frame_equal(here, there, obj=table)


def test_what_breaks_in_a_fact_reaches_who_asked(frames, monkeypatch):
    def station(con: object, policy: object, today: object) -> None:
        raise KeyError("broken")

    broken = {station if fact.__name__ == "station" else fact: reads for fact, reads in facts.STEPS.items()}
    monkeypatch.setattr(facts, "STEPS", broken)
    con = facts.blank()
    club.fill(con, frames)
    with pytest.raises(KeyError, match="broken"):
        facts.work_out(con, Policy.standard(), TODAY)


def test_what_breaks_beside_the_facts_reaches_who_asked(frames):
    con = facts.blank()
    club.fill(con, frames)
    with pytest.raises(duckdb.CatalogException, match="not_there"):
        facts.work_out(
            con,
            Policy.standard(),
            TODAY,
            beside=[(frozenset(), lambda cursor: cursor.execute("from not_there"))],
        )


def test_a_rule_finds_the_facts_that_it_needs():
    """The others may not be there yet: a rule that reads one of them would be judged by a fact that is half there."""
    made = {facts.SENT} | {fact.__name__ for fact in facts.STEPS}
    script = (Path(engine.__file__).parent / "facts.sql").read_text("utf-8")
    tables = set(re.findall(r"create table (\w+)", script))
    con = facts.blank()
    for rule in load_rules():
        needed = facts.needs(rule.sql)
        assert needed <= made
        filled = needed | {table for table, fact in facts.BESIDE_OWN.items() if fact.__name__ in needed}
        con.begin()
        for table in tables - filled if needed < made else ():
            con.execute(f"drop table {table}")
        con.execute(f"describe {rule.sql}", rule.values(Policy.standard(), TODAY))
        con.rollback()


def test_most_rules_do_not_wait_for_the_stations():
    waiting = [rule for rule in load_rules() if "station" in facts.needs(rule.sql)]
    assert 5 < len(waiting) < len(load_rules()) / 2


def test_every_rule_is_asked_once_after_the_facts_that_it_needs():
    rules = load_rules()
    lots = engine.lots(enumerate(rules), Policy.standard(), TODAY, True)
    asked = [(needs, number, rule) for needs, lot in lots for number, rule in lot.keywords["numbered"]]
    assert sorted(number for _, number, _ in asked) == list(range(len(rules)))
    assert all(facts.needs(rule.sql) <= needs for needs, _, rule in asked)
    sizes = [len(lot.keywords["numbered"]) for _, lot in lots]
    assert min(sizes[:-1]) >= engine.LEAST and max(sizes) <= engine.MOST


def test_a_rule_of_the_clubs_own_is_asked_by_itself():
    """Whatever its answers are of: in one statement with others it would have to return what they do."""
    some = load_rules()[:3]
    own = replace(some[1], name="of_our_own")
    lots = engine.lots(
        enumerate((some[0], own, some[2], replace(own, name="of_ours_too"))), Policy.standard(), TODAY, True
    )
    asked = [[number for number, _ in lot.keywords["numbered"]] for _, lot in lots]
    assert [1] in asked and [3] in asked


def test_what_needs_a_fact_is_done_once_it_is_there(frames):
    con = facts.blank()
    club.fill(con, frames)
    seen = []

    def counts(cursor: duckdb.DuckDBPyConnection) -> None:
        seen.append(
            cursor.execute("select (select count(*) from station), (select count(*) from kit)").fetchall()[0]
        )

    facts.work_out(con, Policy.standard(), TODAY, beside=[(facts.needs("from small_part"), counts)])
    assert seen == [(seen[0][1],) * 2]


def test_a_view_needs_the_facts_that_it_reads():
    needed = {
        "pack_held": {"battery"},
        "small_part": {"battery", "station"},
        "replacement": {facts.SENT},
        "untried": set(),
        "radio_mode": set(),
        "station_step": {"battery", "station"},
        "judgement": {facts.SENT} | {fact.__name__ for fact in facts.STEPS},
    }
    assert {name: facts.needs(f"select * from {name}") for name in needed} == needed


def test_what_is_assumed_is_marked_where_and_only_where_a_rule_or_a_fact_asks():
    rules = Path(engine.__file__).parent
    asked = "".join(path.read_text("utf-8") for end in ("sql", "py") for path in rules.rglob(f"*.{end}"))
    columns = {name for name, *_ in club.connect().execute("describe item").fetchall()}
    marks = {name for name in columns if name.endswith("_is_assumed")}
    assert marks == set(re.findall(r"\w+_is_assumed", asked))
