"""What every person and every kit can do in every shift of an event, judged by the rules on a copy of the club."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd

from data import club
from rules import facts
from rules.engine import HERE, Assessment, judge
from rules.facts.posts import CARRIED
from rules.plans import posts as by_kit
from rules.plans.staffing.roster import CANNOT, LIMITS, UNKNOWN, Floats, Ints, Piece

"""Posts that are doubled whatever their operators say: a controller and a logger. Net-control training slides."""
HELPS = {"net_control": {"net_control", "logger"}}
EVENT_COLUMNS = {"post_id", "post_kit_id", "event_id", "assignment_id"}


@dataclass
class Event:
    """What an assessment tells of one event, in the order of the roster's numbers."""

    name: str
    zero: datetime
    posts: pd.DataFrame
    members: pd.DataFrame
    kits: pd.DataFrame
    place: pd.Series

    def minute(self, at: datetime) -> int:
        return round((at - self.zero).total_seconds() / 60)

    def moment(self, minute: int) -> datetime:
        return self.zero + timedelta(minutes=minute)


class NoSuchEventError(ValueError):
    """An event that no file names, or that has no posts; the message says what to write."""


def read_event(assessment: Assessment, event: str) -> Event:
    con = assessment.con.cursor()
    known = [name for (name,) in con.execute("select event from event order by event").fetchall()]
    if event not in known:
        raise NoSuchEventError(
            f'"{event}" is not an event. Write one of: {", ".join(known)}.'
            if known
            else f'"{event}" is not an event: none is listed. Send events.csv and posts.csv.'
        )
    posts = con.execute("from post where event = ? order by post_id", [event]).df()
    if posts.empty:
        raise NoSuchEventError(f'"{event}" has no posts. Add them to posts.csv.')
    members = con.execute("from member order by member_id").df()
    kits = con.execute("from kit order by kit_id").df()
    place = con.execute("from event where event = ?", [event]).df().iloc[0]
    zero = posts["opens"].min().to_pydatetime()
    return Event(event, zero, posts, members, kits, place)


def _trial(assessment: Assessment, event: Event, pieces: list[Piece]) -> duckdb.DuckDBPyConnection:
    """A copy of the club in which every shift of the event is a post by itself and nobody is sent anywhere.

    Only the facts and rules that hang on a post are worked out again.
    """
    source = assessment.con.cursor()
    con = club.connect()
    try:
        con.execute((HERE / "facts.sql").read_text("utf-8"))
        con.execute((HERE / "subject.sql").read_text("utf-8"))
        tables = source.execute(
            "select table_name, list(column_name) from duckdb_columns() where schema_name = 'main' and not internal group by all"
        ).fetchall()
        ours = {name for (name,) in con.execute("select table_name from duckdb_tables()").fetchall()}
        fresh = set()
        for name, columns in tables:
            if name not in ours or name in club.REFERENCE_TABLES or name in ("judgement", "subject"):
                continue
            if EVENT_COLUMNS & set(columns) and name != "event":
                fresh.add(name)
                continue
            _copy(con, name, source.sql(f'from "{name}"').to_arrow_table())
        split = event.posts.iloc[[p.post for p in pieces]].reset_index(drop=True)
        split["post_id"] = range(len(pieces))
        split["opens"] = [event.moment(p.start) for p in pieces]
        split["closes"] = [event.moment(p.end) for p in pieces]
        split["shift_h"] = [p.minutes / 60 for p in pieces]
        split["operators"] = [p.people for p in pieces]
        _copy(con, "post", split)
        for step in facts.STEPS:
            if step.__name__ in fresh:
                for table, rows in step(con, assessment.policy, assessment.today).items():
                    facts.keep(con, table, rows)
        _copy(
            con,
            "judgement",
            source.sql("from judgement where subject_kind in ('item', 'kit', 'member')").to_arrow_table(),
        )
        for number, rule in enumerate(assessment.rules):
            if rule.subject == "post_kit":
                judge(con, rule, number, assessment.policy, assessment.today, keep_met=False)
    except BaseException:
        con.close()
        raise
    return con


def _copy(con: duckdb.DuckDBPyConnection, table: str, rows: Any) -> None:
    con.register("copied", rows)
    con.execute(f'insert into "{table}" by name select * from copied')
    con.unregister("copied")


def words_of(text: Any) -> set[str]:
    return set(text.split()) if isinstance(text, str) else set()


@dataclass
class Ability:
    """Answers of people and kits for every piece, with the rules and words behind them."""

    person: Ints
    lead: Ints
    charge: Floats
    carried: Ints
    in_reserve: npt.NDArray[np.bool_]
    blocking: dict[tuple[int, int], list[int]]
    unknown: dict[tuple[int, int], list[int]]
    lead_words: dict[tuple[int, int], list[tuple[int, str, str]]]
    person_words: dict[tuple[int, int], list[tuple[int, str, str]]]


def ability(assessment: Assessment, event: Event, pieces: list[Piece]) -> Ability:
    """Judge every shift with every kit and every person."""
    con = _trial(assessment, event, pieces)
    try:
        judged = by_kit.answers(con)
        rows = con.execute(
            "select pk.post_kit_id, pk.post_id, pk.kit_id, pk.carried_kg, pk.need_h, r.runtime_h, r.is_on_mains "
            "from post_kit as pk left join runtime as r using (post_kit_id)"
        ).df()
        weights = dict(con.execute("select kit_id, weight_kg from holding").fetchall())
        dark = dict(
            con.execute(
                "select post_id, max(dark_h) from watch join post_kit using (post_kit_id) group by post_id"
            ).fetchall()
        )
    finally:
        con.close()
    rows = rows.merge(judged, on="post_kit_id")
    kit_at = {int(kit): at for at, kit in enumerate(event.kits["kit_id"])}
    kits = len(kit_at)
    lead = np.full((len(pieces), kits), CANNOT)
    charge = np.zeros((len(pieces), kits))
    carried = np.zeros((len(pieces), kits), np.int64)
    at = (rows["post_id"].to_numpy(int), rows["kit_id"].map(kit_at).to_numpy(int))
    lead[at] = rows["answer"].to_numpy(int)
    hours = rows["runtime_h"].to_numpy(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = rows["need_h"].to_numpy(float) / hours
    is_fed = rows["is_on_mains"].fillna(False).to_numpy(bool)
    charge[at] = np.where(is_fed | np.isnan(share), 0.0, np.minimum(share, 9.0))
    carry = {post for post, access in enumerate(event.posts["access"]) if access in CARRIED}
    for piece_no, piece in enumerate(pieces):
        if piece.post in carry:
            carried[piece_no] = [round(10 * (weights.get(kit) or 0.0)) for kit in event.kits["kit_id"]]
    blocking = {
        (int(piece), kit_at[int(kit)]): list(numbers)
        for piece, kit, numbers in zip(rows["post_id"], rows["kit_id"], rows["blocking_nos"], strict=True)
    }
    unknown = {
        (int(piece), kit_at[int(kit)]): list(numbers)
        for piece, kit, numbers in zip(rows["post_id"], rows["kit_id"], rows["unknown_nos"], strict=True)
    }
    person, words = _people(event, pieces, dark)
    blocked = {
        kit
        for (kit,) in assessment.con.cursor()
        .execute(
            "select kit_id from kit join judgement on subject_kind = 'kit' and subject_id = kit_id "
            "where severity_no = 0 and ok is not true union "
            "select kit_id from item join judgement on subject_kind = 'item' and subject_id = item_id "
            "where severity_no = 0 and ok is not true"
        )
        .fetchall()
    }
    available = event.members.set_index("member_id")["is_available"]
    in_reserve = np.array(
        [
            kit not in blocked and bool(available[owner])
            for kit, owner in zip(event.kits["kit_id"], event.kits["member_id"], strict=True)
        ],
        bool,
    )
    able = Ability(person, lead, charge, carried, in_reserve, blocking, unknown, {}, words)
    _leads(event, pieces, able)
    return able


def _people(
    event: Event, pieces: list[Piece], dark: Mapping[int, float | None]
) -> tuple[Ints, dict[tuple[int, int], list[tuple[int, str, str]]]]:
    """Answer of each person at each piece, and why: (answer, what is wrong, kind of change).

    A further seat asks for the declared limits and, as a limit only, for the sign-off.
    """
    person = np.zeros((len(pieces), len(event.members)), np.int64)
    words: dict[tuple[int, int], list[tuple[int, str, str]]] = defaultdict(list)
    people = list(event.members.itertuples(index=False))
    asked: dict[tuple[int, bool], list[list[tuple[int, str, str]]]] = {}
    for number, piece in enumerate(pieces):
        is_dark = (dark.get(number) or 0) > 0
        key = (piece.post, is_dark)
        if key not in asked:
            post = event.posts.iloc[piece.post]
            asked[key] = [_limits(member, post, event.place, is_dark) for member in people]
        for at, found in enumerate(asked[key]):
            if found:
                person[number, at] = max(answer for answer, *_ in found)
                words[number, at] = found
    return person, words


def _limits(member: Any, post: pd.Series, place: pd.Series, is_dark: bool) -> list[tuple[int, str, str]]:
    found = []
    if not member.is_available:
        found.append((CANNOT, "is not available", "more people"))
    for value, limit, sign, what in (
        (
            post["walk_km"],
            member.walk_limit_km,
            1,
            "walks at most {limit:g} km, the post asks for {value:g} km",
        ),
        (place["temp_max_c"], member.heat_limit_c, 1, "works up to {limit:g} °C, {value:g} °C are forecast"),
        (
            place["temp_min_c"],
            member.cold_limit_c,
            -1,
            "works down to {limit:g} °C, {value:g} °C are forecast",
        ),
    ):
        if pd.notna(value) and pd.notna(limit) and sign * (value - limit) > 0:
            found.append((CANNOT, what.format(limit=limit, value=value), "more people"))
    if is_dark and pd.notna(member.night_ok) and not member.night_ok:
        found.append((CANNOT, "does not work in the dark", "more people"))
    role = post["role_needed"]
    if isinstance(role, str):
        if not isinstance(member.roles, str):
            found.append((UNKNOWN, f"sign-off for {role} is not known", "sign-off"))
        elif not words_of(member.roles) & HELPS.get(role, {role}):
            found.append((LIMITS, f"is not signed off for {role}", "sign-off"))
    return found


def _leads(event: Event, pieces: list[Piece], able: Ability) -> None:
    """Whoever leads needs the post's own sign-off; put that into `able.lead`."""
    owner_at = {int(member): at for at, member in enumerate(event.members["member_id"])}
    owners = [owner_at[int(member)] for member in event.kits["member_id"]]
    people = list(event.members.itertuples(index=False))
    said = able.lead_words  # by post and member
    for number, piece in enumerate(pieces):
        post = event.posts.iloc[piece.post]
        for at, owner in enumerate(owners):
            key = (piece.post, owner)
            if key not in said:
                said[key] = _lead_limits(people[owner], post["role_needed"])
            for answer, *_ in said[key]:
                able.lead[number, at] = max(able.lead[number, at], answer)


def _lead_limits(member: Any, role: Any) -> list[tuple[int, str, str]]:
    if isinstance(role, str) and isinstance(member.roles, str) and role not in member.roles.split():
        return [(CANNOT, f"is not signed off for {role}", "sign-off")]
    return []
