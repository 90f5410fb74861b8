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
from rules.engine import Assessment, judge
from rules.facts.posts import CARRIED
from rules.plans import posts as by_kit
from rules.plans.staffing.roster import CANNOT, LIMITS, UNKNOWN, Floats, Ints, Piece
from rules.rule import Rule

HELPS = {"net_control": {"net_control", "logger"}}
"""Sign-offs that serve a role, where its own is not the only one: a controller and a logger share net control.
Net-control training slides."""
EVENT_COLUMNS = {"post_id", "post_kit_id", "event_id", "assignment_id", "want_id"}
HANDS = 100_000
"""Answers that are judged at most for kits in other hands; whole kits are left out beyond."""
ALIKE_POSTS = ["post_id", "post", "line"]
ALIKE_MEMBERS = ["member_id", "member", "is_available", "line"]
"""In what posts, and members, may differ for which a rule answers alike."""
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


@dataclass
class Judged:
    """What is judged for all that is alike: shifts of posts that differ by name alone, a kit in hands of people alike.

    Attributes
    ----------
    shifts : a row of post for each sort of shift; shift_of : by piece, its place there
    lent : kits in other hands, each with whoever brings it; left : kits that may be lent and are not among them
    hands : of those, one of each sort; hand_of : by kit, the event's own and then those lent, its place among the event's
        own and then `hands`
    """

    shifts: pd.DataFrame
    shift_of: Ints
    lent: Hands
    hands: Hands
    hand_of: Ints
    left: int


def judged_of(assessment: Assessment, event: Event, pieces: list[Piece], told: Hands) -> Judged:
    """Every shift, and every kit that may be lent in the hands of everyone who is available and could lead, and those told.

    Parameters
    ----------
    told : kits that somebody brings for their owner as it stands
    """
    split = event.posts.iloc[[p.post for p in pieces]].reset_index(drop=True)
    split["opens"] = [event.moment(p.start) for p in pieces]
    split["closes"] = [event.moment(p.end) for p in pieces]
    split["shift_h"] = [p.minutes / 60 for p in pieces]
    split["operators"] = [p.people for p in pieces]
    shift_of, first = _alike(split, ALIKE_POSTS)
    shifts = split.iloc[first].reset_index(drop=True)
    shifts["post_id"] = range(len(shifts))

    sort_of, _ = _alike(_members(assessment, event), ALIKE_MEMBERS)
    owner, name = event.kits["member_id"].tolist(), event.members["member_id"].tolist()
    able = [at for at in event.members.index if _could_lead(event, at)]
    lent, left = list(dict.fromkeys(told)), 0
    place: dict[tuple[int, int], int] = {}
    one: Hands = []
    for kit, at in lent:
        if (kit, sort_of[at]) not in place:
            place[kit, sort_of[at]] = len(one)
            one.append((kit, at))
    for kit in map(int, event.kits.index[event.kits["may_be_lent"].eq(True).fillna(False).astype(bool)]):
        more = [(kit, at) for at in able if name[at] != owner[kit] and (kit, at) not in told]
        new = {(kit, int(sort_of[at])): (kit, at) for _, at in reversed(more)}
        new = {key: pair for key, pair in new.items() if key not in place}
        if (len(one) + len(new)) * len(shifts) > HANDS:
            left += 1
            continue
        for key, pair in new.items():
            place[key] = len(one)
            one.append(pair)
        lent += more
    own = len(event.kits)
    hand_of = [*range(own), *(own + place[kit, sort_of[at]] for kit, at in lent)]
    return Judged(shifts, shift_of, lent, one, np.array(hand_of, np.int64), left)


def _alike(rows: pd.DataFrame, but: list[str]) -> tuple[Ints, list[int]]:
    """The sort of each row, rows that differ in some columns alone being of one, and the first row of each sort."""
    said = [tuple(map(str, row)) for row in rows.drop(columns=but).itertuples(index=False)]
    sorts = {row: number for number, row in enumerate(dict.fromkeys(said))}
    of = np.array([sorts[row] for row in said], np.int64)
    return of, [int(at) for at in np.unique(of, return_index=True)[1]] if len(of) else []


def _members(assessment: Assessment, event: Event) -> pd.DataFrame:
    """The members of an event with all that the rules say of each."""
    told = dict(
        assessment.con.cursor()
        .execute(
            "select subject_id, list((rule_no, severity_no, ok) order by rule_no) from judgement "
            "where subject_kind = 'member' group by subject_id"
        )
        .fetchall()
    )
    return event.members.assign(told=[str(told.get(int(member))) for member in event.members["member_id"]])


def _could_lead(event: Event, at: int) -> bool:
    """Whether someone is available and, for all that they told of themselves, could lead some post of the event."""
    member = event.members.iloc[at]
    return any(
        all(
            answer < CANNOT
            for answer, *_ in [
                *_limits(member, post, event.place, False),
                *_lead_limits(member, post["role_needed"]),
            ]
        )
        for _, post in event.posts.iterrows()
    )


def _trial(assessment: Assessment, event: Event, judged: Judged) -> duckdb.DuckDBPyConnection:
    """A copy of the club in which every sort of shift is a post by itself, nobody is sent anywhere and nobody is away.

    Only the facts and rules that hang on a post are worked out again, and the rules that ask where somebody or
    something is sent: as on the last day of the event. A kit in other hands is a further kit of who brings it.
    """
    source = assessment.con.cursor()
    con = facts.blank()
    try:
        again = [number for number, rule in enumerate(assessment.rules) if _asks_where(rule)]
        tables = source.execute(
            "select table_name, list(column_name) from duckdb_columns() where schema_name = 'main' and not internal group by all"
        ).fetchall()
        ours = {name for (name,) in con.execute("select table_name from duckdb_tables()").fetchall()}
        fresh = set()
        for name, columns in tables:
            if name not in ours or name in club.REFERENCE_TABLES or name in ("judgement", "scored"):
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
        con.execute("update member set is_available = true")
        if judged.hands:
            _put_into_other_hands(con, event, judged.hands)
        _copy(con, "post", judged.shifts)
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

    judged: Judged
    person: Ints
    lead: Ints
    charge: Floats
    carried: Ints
    in_reserve: npt.NDArray[np.bool_]
    against: dict[tuple[int, int], tuple[list[int], list[int]]]
    """By sort of shift and place among what is judged: the rules that block, and those that are not known."""
    lead_words: dict[tuple[int, int], list[tuple[int, str, str]]]
    person_words: dict[tuple[int, int], list[tuple[int, str, str]]]

    def blocking(self, piece: int, kit: int) -> list[int]:
        """The rules that block a kit at a piece in the hands that it is in."""
        return self.against[int(self.judged.shift_of[piece]), int(self.judged.hand_of[kit])][0]

    def unknown(self, piece: int, kit: int) -> list[int]:
        """The rules that would block a kit at a piece and are not known."""
        return self.against[int(self.judged.shift_of[piece]), int(self.judged.hand_of[kit])][1]


def ability(assessment: Assessment, event: Event, pieces: list[Piece], judged: Judged) -> Ability:
    """Judge every shift with every kit and every person; kits in other hands follow the kits of the event."""
    con = _trial(assessment, event, judged)
    try:
        said = by_kit.answers(con)
        rows = con.execute(
            "select pk.post_kit_id, pk.post_id, pk.kit_id, pk.need_h, r.runtime_h, r.is_on_mains "
            "from post_kit as pk left join runtime as r using (post_kit_id)"
        ).df()
        weights = dict(con.execute("select kit_id, weight_kg from holding").fetchall())
        dark = dict(
            con.execute(
                "select post_id, bool_or(is_dark) from watch join post_kit using (post_kit_id) group by post_id"
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
    rows = rows.merge(said, on="post_kit_id")
    own = [int(kit) for kit in event.kits["kit_id"]]
    numbers = own + [own[kit] + number * (max(own) + 1) for number, (kit, _) in enumerate(judged.hands, 1)]
    kit_at = {kit: at for at, kit in enumerate(numbers)}
    every = np.ix_(judged.shift_of, judged.hand_of)
    lead = np.full((len(judged.shifts), len(numbers)), CANNOT)
    charge = np.zeros((len(judged.shifts), len(numbers)))
    at = (rows["post_id"].to_numpy(int), rows["kit_id"].map(kit_at).to_numpy(int))
    lead[at] = rows["answer"].to_numpy(int)
    hours = rows["runtime_h"].to_numpy(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = rows["need_h"].to_numpy(float) / hours
    is_fed = rows["is_on_mains"].fillna(False).to_numpy(bool)
    charge[at] = np.where(is_fed | np.isnan(share), 0.0, np.minimum(share, 9.0))
    against = {
        (int(shift), kit_at[int(kit)]): (list(blocking), list(unknown))
        for shift, kit, blocking, unknown in zip(
            rows["post_id"], rows["kit_id"], rows["blocking_nos"], rows["unknown_nos"], strict=True
        )
    }
    carry = [event.posts["access"][piece.post] in CARRIED for piece in pieces]
    tenths = [
        round(10 * (weights.get(own[kit]) or 0.0)) for kit in [*range(len(own)), *(k for k, _ in judged.lent)]
    ]
    person, words = _people(
        event, pieces, {at: dark.get(int(sort)) for at, sort in enumerate(judged.shift_of)}
    )
    available = event.members.set_index("member_id")["is_available"]
    in_reserve = np.array(
        [
            kit not in blocked and bool(available[owner])
            for kit, owner in zip(event.kits["kit_id"], event.kits["member_id"], strict=True)
        ]
        + [False] * len(judged.lent),
        bool,
    )
    able = Ability(
        judged, person, lead[every], charge[every], np.outer(carry, tenths).astype(np.int64), in_reserve, against, {}, words
    )  # fmt: skip
    _leads(event, pieces, able, np.array(owners_of(event, judged.lent), np.int64))
    return able


def owners_of(event: Event, lent: Hands) -> list[int]:
    """The place of the member who brings each kit: its owner, then those with a kit in other hands."""
    owner_at = {int(member): at for at, member in enumerate(event.members["member_id"])}
    return [owner_at[int(member)] for member in event.kits["member_id"]] + [member for _, member in lent]


def _people(
    event: Event, pieces: list[Piece], dark: Mapping[int, bool | None]
) -> tuple[Ints, dict[tuple[int, int], list[tuple[int, str, str]]]]:
    """Answer of each person at each piece, and why: (answer, what is wrong, kind of change).

    A further seat asks for the declared limits and, as a limit only, for the sign-off.
    """
    person = np.zeros((len(pieces), len(event.members)), np.int64)
    words: dict[tuple[int, int], list[tuple[int, str, str]]] = defaultdict(list)
    people = list(event.members.itertuples(index=False))
    asked: dict[tuple[int, bool], list[list[tuple[int, str, str]]]] = {}
    for number, piece in enumerate(pieces):
        is_dark = bool(dark.get(number))
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


def _leads(event: Event, pieces: list[Piece], able: Ability, owners: Ints) -> None:
    """Whoever leads needs the post's own sign-off; put that into `able.lead`."""
    people = list(event.members.itertuples(index=False))
    roles = event.posts["role_needed"].tolist()
    answer = np.zeros((len(roles), len(people)), np.int64)
    for post, role in enumerate(roles):
        for at, member in enumerate(people):
            able.lead_words[post, at] = found = _lead_limits(member, role)
            answer[post, at] = max((word for word, *_ in found), default=0)
    for number, piece in enumerate(pieces):
        np.maximum(able.lead[number], answer[piece.post, owners], out=able.lead[number])


def _lead_limits(member: Any, role: Any) -> list[tuple[int, str, str]]:
    if isinstance(role, str) and isinstance(member.roles, str) and role not in member.roles.split():
        return [(CANNOT, f"is not signed off for {role}", "sign-off")]
    return []
