"""Who is at a post with whom, in the dark or by day, and whether a licence covers it: small posts known by thought."""

from collections.abc import Iterator
from datetime import date
from typing import Any

import duckdb
import pandas as pd
import pytest

from rules import facts
from rules.facts import crew
from rules.facts.select import Select
from rules.policy import Policy

TODAY = date(2027, 3, 1)
NOON, EVENING, MIDNIGHT = "2027-03-20T12:00", "2027-03-20T18:00", "2027-03-21T00:00"


@pytest.fixture
def con() -> Iterator[duckdb.DuckDBPyConnection]:
    con = facts.blank()
    yield con
    con.close()


def insert(con: duckdb.DuckDBPyConnection, table: str, *rows: dict[str, Any]) -> None:
    for row in rows:
        con.execute(
            f"insert into {table} ({', '.join(row)}) values ({', '.join(f'${name}' for name in row)})", row
        )


def post(con: duckdb.DuckDBPyConnection, *shifts: tuple[int, str, str], **told: Any) -> None:
    """One post at the equator from noon to midnight, and who is there from when to when, each with a kit."""
    event = {"event_id": 1, "lat": 0.0, "lon": 0.0, "utc_offset_h": 0.0} | told.pop("event", {})
    insert(con, "event", event)
    insert(con, "post", {"post_id": 1, "event_id": 1, "opens": NOON, "closes": MIDNIGHT} | told)
    for number, (member, begin, end) in enumerate(shifts, 1):
        row = {"assignment_id": number, "post_id": 1, "member_id": member, "kit_id": member}
        insert(con, "assignment", row | {"starts": begin, "ends": end})


def made(con: duckdb.DuckDBPyConnection, rows: Select) -> pd.DataFrame:
    """The rows that a fact's select makes."""
    return con.execute(rows.sql, dict(rows.values) or None).df()


def others(con: duckdb.DuckDBPyConnection) -> list[int]:
    frame = made(con, crew.company(con, Policy.standard(), TODAY)["company"])
    return [int(count) for count in frame.sort_values("assignment_id")["others"]]


def watch(con: duckdb.DuckDBPyConnection, **classes: str | None) -> list[dict[str, Any]]:
    """The watch of each member m1, m2 … by licence class; a kit is assigned where the post has it."""
    for number, (member, licence) in enumerate(classes.items(), 1):
        insert(con, "member", {"member_id": number, "member": member, "licence_class": licence})
        insert(con, "post_kit", {"post_kit_id": number, "post_id": 1, "kit_id": number, "member_id": number})
    con.register("found", made(con, crew.company(con, Policy.standard(), TODAY)["company"]))
    con.execute("insert into company by name select * from found")
    frame = crew.watch(con, Policy.standard(), TODAY)["watch"].sort_values("post_kit_id")
    return [
        {name: None if value is None or value != value else value for name, value in row.items()}
        for row in frame.astype(object).to_dict("records")
    ]


def test_company_is_the_fewest_at_any_moment(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, MIDNIGHT), (2, NOON, EVENING), (3, NOON, MIDNIGHT))
    assert others(con) == [1, 2, 1]


def test_relief_on_the_minute_leaves_nobody_alone(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, MIDNIGHT), (2, NOON, EVENING), (3, EVENING, MIDNIGHT))
    assert others(con) == [1, 1, 1]


def test_whoever_stays_after_the_last_one_left_is_alone(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, MIDNIGHT), (2, NOON, EVENING))
    assert others(con) == [0, 1]


def test_the_same_person_twice_is_no_company(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, MIDNIGHT), (1, NOON, MIDNIGHT))
    assert others(con) == [0, 0]


def test_dark_hours_are_those_of_the_own_shift(con: duckdb.DuckDBPyConnection) -> None:
    # At the equator on the equinox the sun sets at about 18:10 by the clock (its disc and the air add
    # some minutes to six hours after a noon at 12:07) and is 6 degrees lower 21 minutes later.
    post(con, (1, NOON, EVENING), (2, EVENING, MIDNIGHT))
    first, second, spare = watch(con, m1="general", m2="general", m3="general")
    assert first["dark_h"] == 0
    assert second["dark_h"] == pytest.approx(5.5, abs=0.1)
    assert spare["dark_h"] == pytest.approx(5.5, abs=0.1)


@pytest.mark.parametrize("missing", ["lat", "utc_offset_h"])
def test_dark_hours_are_not_known_without_place_or_clock(
    con: duckdb.DuckDBPyConnection, missing: str
) -> None:
    post(con, event={missing: None})
    assert watch(con, m1="general")[0]["dark_h"] is None


def test_a_spare_kit_makes_its_member_alone_only_at_an_empty_post_for_one(
    con: duckdb.DuckDBPyConnection,
) -> None:
    post(con, operators=1)
    assert watch(con, m1="general")[0]["is_alone"]


def test_a_post_for_two_makes_nobody_alone_in_the_plan(con: duckdb.DuckDBPyConnection) -> None:
    post(con, operators=2)
    assert not watch(con, m1="general")[0]["is_alone"]


@pytest.mark.parametrize(
    ("bands", "licence", "covered"),
    [
        ("40m 80m", "technician", False),
        ("40m", "general", True),
        ("2m", "technician", True),
        ("2m 40m", "technician", False),
        (None, "technician", True),
        (None, "none", False),
        ("40m", None, None),
    ],
)
def test_licence_covers_the_bands(
    con: duckdb.DuckDBPyConnection, bands: str | None, licence: str | None, covered: bool | None
) -> None:
    post(con, bands=bands)
    assert watch(con, m1=licence)[0]["has_licence"] is covered


def test_a_control_operator_covers_the_others_only_while_there(con: duckdb.DuckDBPyConnection) -> None:
    post(con, (1, NOON, EVENING), (2, NOON, EVENING), (3, EVENING, MIDNIGHT), bands="40m")
    general, beside, after = watch(con, m1="general", m2="technician", m3="technician")
    assert general["has_licence"] and beside["has_licence"]
    assert not after["has_licence"]
