"""What is left out of a club without events would have answered nothing; what the reference forgot is not known."""

from datetime import date

import duckdb
import pandas as pd
import pytest

from data import club, schema, upload
from rules import engine, facts
from rules.policy import Policy
from rules.rule import load_rules

TODAY = date(2027, 3, 1)
WITHOUT_EVENTS = ("kit", "item", "member", "club")


@pytest.fixture(scope="module")
def calm() -> duckdb.DuckDBPyConnection:
    """One member's kit, and no event."""
    told = {"member": "Q1AAA", "kit": "bag", "item": "thing", "line": 2, "quantity": 1}
    things = ["handheld", "mobile_vhf_uhf", "battery_lifepo4", "dc_lead", "coax", "jpole", "mast_metal"]
    rows = pd.DataFrame([told | {"kind": kind} for kind in things])
    rows = rows.reindex(columns=schema.empty("inventory").columns).astype(schema.empty("inventory").dtypes)
    con = club.connect()
    club.fill(con, {"inventory": rows})
    facts.work_out(con, Policy.standard(), TODAY)
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
