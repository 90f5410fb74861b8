"""What every person and every kit can do in every shift of an event, judged by the rules on a copy of the club."""

from __future__ import annotations

import re
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
from rules.engine import HERE, Assessment, Rule, judge
from rules.facts.posts import CARRIED
from rules.plans import posts as by_kit
from rules.plans.staffing.roster import CANNOT, LIMITS, UNKNOWN, Floats, Ints, Piece

"""Posts that are doubled whatever their operators say: a controller and a logger. Net-control training slides."""
HELPS = {"net_control": {"net_control", "logger"}}
EVENT_COLUMNS = {"post_id", "post_kit_id", "event_id", "assignment_id"}
HANDS = 600
"""Kits in other hands that are judged at most; whole kits are left out beyond."""
Hands = list[tuple[int, int]]
"""Places of a kit and of a member who might bring it instead of its owner."""


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


def hands(event: Event, told: Hands) -> tuple[Hands, int]:
    """Every kit that may be lent in the hands of everyone who is available, and those told; how many kits are left out.

    Parameters
    ----------
    told : kits that somebody brings for their owner as it stands
    """
    owner = event.kits["member_id"]
    able = event.members.index[event.members["is_available"].astype(bool)].tolist()
    found, left = list(dict.fromkeys(told)), 0
    for kit in event.kits.index[event.kits["may_be_lent"].eq(True).fillna(False).astype(bool)]:
        more = [
            (int(kit), at)
            for at in able
            if event.members["member_id"][at] != owner[kit] and (kit, at) not in found
        ]
        if len(found) + len(more) > HANDS:
            left += 1
        else:
            found += more
    return found, left


def _trial(
    assessment: Assessment, event: Event, pieces: list[Piece], lent: Hands
) -> duckdb.DuckDBPyConnection:
    """A copy of the club in which every shift of the event is a post by itself and nobody is sent anywhere.

    Only the facts and rules that hang on a post are worked out again, and the rules that ask where somebody or
    something is sent: as on the last day of the event. A kit in other hands is a further kit of who brings it.
    """
    source = assessment.con.cursor()
    con = club.connect()
    try:
        con.execute((HERE / "facts.sql").read_text("utf-8"))
        con.execute((HERE / "subject.sql").read_text("utf-8"))
        again = [number for number, rule in enumerate(assessment.rules) if _asks_where(rule)]
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
        _copy(
            con,
            "judgement",
            source.sql(
                "from judgement where subject_kind in ('item', 'kit', 'member') and rule_no not in (select unnest($again))",
                params={"again": again},
            ).to_arrow_table(),
        )
        if lent:
            _put_into_other_hands(con, event, lent)
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
        last_day = max(assessment.today, event.posts["closes"].max().date())
        for number, rule in enumerate(assessment.rules):
            if rule.subject == "post_kit" or number in again:
                day = last_day if number in again else assessment.today
                judge(con, rule, number, assessment.policy, day, keep_met=False)
    except BaseException:
        con.close()
        raise
    return con


def _asks_where(rule: Rule) -> bool:
    """Whether a rule on a person or a kit hangs on where they are sent."""
    return rule.subject in ("kit", "member") and re.search(r"\bassignment\b", rule.sql) is not None


def _put_into_other_hands(con: duckdb.DuckDBPyConnection, event: Event, lent: Hands) -> None:
    """A copy of each kit, with all that is in it and all that is known of it, as a kit of the one who brings it."""
    con.register(
        "hand",
        pd.DataFrame(
            {
                "number": range(1, len(lent) + 1),
                "lent_id": [event.kits["kit_id"][kit] for kit, _ in lent],
                "borrower_id": [event.members["member_id"][member] for _, member in lent],
            }
        ),
    )
    span = {
        name: con.execute(f"select coalesce(max({name}_id), 0) + 1 from {name}").fetchall()[0][0]
        for name in ("kit", "item", "supply")
    }
    con.execute(
        "create temp table fed as select f.*, s.kit_id from feed as f join supply as s using (supply_id)"
    )
    con.execute(
        "insert into judgement by name select j.* replace (subject_id + number * $item as subject_id) from judgement as j "
        "join item on subject_kind = 'item' and subject_id = item_id join hand on lent_id = kit_id "
        "union all by name select j.* replace (subject_id + number * $kit as subject_id) from judgement as j "
        "join hand on subject_kind = 'kit' and subject_id = lent_id", {name: span[name] for name in ("kit", "item")},
    )  # fmt: skip
    tables = con.execute(
        "select table_name, list(column_name) from duckdb_columns() where schema_name = 'main' and not internal "
        "and table_name in (select table_name from duckdb_tables()) group by all"
    ).fetchall()
    shift = {"kit_id": "kit", "item_id": "item", "radio_item_id": "item", "supply_id": "supply"}
    for name, columns in tables:
        if name == "feed" or ("kit_id" in columns and not EVENT_COLUMNS & set(columns)):
            own = [column for column in shift if column in columns or column == "kit_id"]
            moved = [f"t.{column} + number * {span[shift[column]]} as {column}" for column in own]
            moved += ["borrower_id as member_id"] if "member_id" in columns else []
            left = (
                f"t.* exclude (kit_id) replace ({', '.join(moved[1:])})"
                if name == "feed"
                else f"t.* replace ({', '.join(moved)})"
            )
            source = "fed" if name == "feed" else f'"{name}"'
            con.execute(
                f'insert into "{name}" by name select {left} from {source} as t join hand on lent_id = t.kit_id'
            )
    con.unregister("hand")


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


def ability(assessment: Assessment, event: Event, pieces: list[Piece], lent: Hands) -> Ability:
    """Judge every shift with every kit and every person; kits in other hands follow the kits of the event."""
    con = _trial(assessment, event, pieces, lent)
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
        blocked = {
            kit
            for (kit,) in con.execute(
                "select subject_id from judgement where subject_kind = 'kit' and severity_no = 0 and ok is not true union "
                "select kit_id from item join judgement on subject_kind = 'item' and subject_id = item_id "
                "where severity_no = 0 and ok is not true"
            ).fetchall()
        }
    finally:
        con.close()
    rows = rows.merge(judged, on="post_kit_id")
    own = [int(kit) for kit in event.kits["kit_id"]]
    numbers = own + [own[kit] + number * (max(own) + 1) for number, (kit, _) in enumerate(lent, 1)]
    kit_at = {kit: at for at, kit in enumerate(numbers)}
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
            carried[piece_no] = [round(10 * (weights.get(kit) or 0.0)) for kit in numbers]
    blocking = {
        (int(piece), kit_at[int(kit)]): list(numbers)
        for piece, kit, numbers in zip(rows["post_id"], rows["kit_id"], rows["blocking_nos"], strict=True)
    }
    unknown = {
        (int(piece), kit_at[int(kit)]): list(numbers)
        for piece, kit, numbers in zip(rows["post_id"], rows["kit_id"], rows["unknown_nos"], strict=True)
    }
    person, words = _people(event, pieces, dark)
    available = event.members.set_index("member_id")["is_available"]
    in_reserve = np.array(
        [
            kit not in blocked and bool(available[owner])
            for kit, owner in zip(event.kits["kit_id"], event.kits["member_id"], strict=True)
        ]
        + [False] * len(lent),
        bool,
    )
    able = Ability(person, lead, charge, carried, in_reserve, blocking, unknown, {}, words)
    _leads(event, pieces, able, owners_of(event, lent))
    return able


def owners_of(event: Event, lent: Hands) -> list[int]:
    """The place of the member who brings each kit: its owner, then those with a kit in other hands."""
    owner_at = {int(member): at for at, member in enumerate(event.members["member_id"])}
    return [owner_at[int(member)] for member in event.kits["member_id"]] + [member for _, member in lent]


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


def _leads(event: Event, pieces: list[Piece], able: Ability, owners: list[int]) -> None:
    """Whoever leads needs the post's own sign-off; put that into `able.lead`."""
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
