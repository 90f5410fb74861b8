"""What every person and every kit can do in every shift of an event, judged by the rules on a copy of the club."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd

from rules.engine import Assessment
from rules.plans import posts as by_kit
from rules.plans.staffing.copies import EVENT_COLUMNS, Copy, tables_of
from rules.plans.staffing.event import Event
from rules.plans.staffing.roster import CAN, CANNOT, UNKNOWN, Floats, Ints, Piece, Want
from rules.rule import Rule, is_clubs_own

EACH = {"post_without_a_second_way": 2, "fewer_packs_than_people": None, "fewer_vests_than_people": None}
"""Rules on a post to which every kit there counts for one, and how many are enough; None: as many as people."""
HANDS = 100_000
"""Answers that are judged at most for kits in other hands; whole kits are left out beyond."""
ALIKE_POSTS = ["post_id", "post", "line"]
ALIKE_MEMBERS = ["member_id", "member", "is_available", "line"]
"""In what posts, and members, may differ for which a rule answers alike."""
Words = dict[tuple[int, int], list[tuple[int, str, str]]]
"""By piece, or post, and person: (answer, what is wrong, kind of change)."""
Hands = list[tuple[int, int]]
"""Places of a kit and of a member who might bring it instead of its owner."""


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

    A kit that its owner does not lend to everyone is tried with whoever has it by the loan book while the event lasts.

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
    opens, closes = event.posts["opens"].min(), event.posts["closes"].max()
    may_be_lent = event.kits["may_be_lent"].eq(True).fillna(False).tolist()
    held = {(kit, at) for kit, at, *_ in event.leave if event.has_leave(kit, at, opens, closes)}
    for kit in sorted({*np.flatnonzero(may_be_lent).tolist(), *(kit for kit, _ in held)}):
        more = [
            (kit, at)
            for at in able
            if name[at] != owner[kit] and (kit, at) not in told and (may_be_lent[kit] or (kit, at) in held)
        ]
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
        assessment.tuples(
            "select subject_id, list((rule_no, severity_no, ok) order by rule_no) from judgement "
            "where subject_kind = 'member' group by subject_id"
        )
    )
    return event.members.assign(told=[str(told.get(int(member))) for member in event.members["member_id"]])


def _could_lead(event: Event, at: int) -> bool:
    """Whether someone is available and, for all that they told of themselves, could lead some post of the event."""
    member = event.members.iloc[at]
    return any(
        all(
            answer < CANNOT
            for answer, *_ in [*_limits(member, post), *_lead_limits(member, post["role_needed"])]
        )
        for _, post in event.posts.iterrows()
    )


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
    shift = {"kit_id": "kit", "item_id": "item", "radio_item_id": "item", "supply_id": "supply"}
    for name, columns in tables_of(con):
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


def words_of(text: Any) -> set[str]:
    return set(text.split()) if isinstance(text, str) else set()


@dataclass
class Ability:
    """Answers of people and kits for every piece, with the rules and words behind them."""

    judged: Judged
    person: Ints
    lead: Ints
    beside: Ints
    charge: Floats
    carried: Ints
    in_reserve: npt.NDArray[np.bool_]
    against: dict[tuple[int, int], tuple[list[int], list[int]]]
    """By sort of shift and place among what is judged: the rules that block, and those that are not known."""
    wants: list[Want]
    lead_words: Words
    person_words: Words
    """By piece and person, wherever they sit."""
    beside_words: Words
    """By piece and person, what the rules say of them without a kit."""

    def blocking(self, piece: int, kit: int) -> list[int]:
        """The rules that block a kit at a piece in the hands that it is in."""
        return self.against[int(self.judged.shift_of[piece]), int(self.judged.hand_of[kit])][0]

    def unknown(self, piece: int, kit: int) -> list[int]:
        """The rules that would block a kit at a piece and are not known."""
        return self.against[int(self.judged.shift_of[piece]), int(self.judged.hand_of[kit])][1]


def ability(
    assessment: Assessment, event: Event, pieces: list[Piece], judged: Judged, bare: Collection[int]
) -> Ability:
    """Judge every shift with every kit, and with every person who may sit there without one.

    Nobody is away, and who is sent nowhere is judged as on the last day of the event. Kits in other hands, each a
    further kit of who brings it, follow the kits of the event.

    Parameters
    ----------
    bare : pieces, beside those of several people, at which somebody stands without a kit
    """
    copy = Copy(assessment)
    con = copy.con
    try:
        con.execute("update member set is_available = true")
        if judged.hands:
            _put_into_other_hands(con, event, judged.hands)
        copy.send(judged.shifts.assign(site=None))
        last_day = max(assessment.today, event.posts["closes"].max().date())
        copy.answer([*copy.on("post_kit"), *copy.again], last_day)
        said = by_kit.answers(con)
        rows = con.execute(
            "select pk.post_kit_id, pk.post_id, pk.kit_id, pk.need_h, r.runtime_h, r.is_on_mains "
            "from post_kit as pk left join runtime as r using (post_kit_id)"
        ).df()
        weights = dict(con.execute("select kit_id, weight_kg from holding").fetchall())
        blocked = {
            kit
            for (kit,) in con.execute(
                "select subject_id from judgement where subject_kind = 'kit' and severity_no = 0 and ok is not true union "
                "select kit_id from item join judgement on subject_kind = 'item' and subject_id = item_id "
                "where severity_no = 0 and ok is not true"
            ).fetchall()
        }
        rows = rows.merge(said, on="post_kit_id")
        own = [int(kit) for kit in event.kits["kit_id"]]
        numbers = own + [
            own[kit] + number * (max(own) + 1) for number, (kit, _) in enumerate(judged.hands, 1)
        ]
        kit_at = {kit: at for at, kit in enumerate(numbers)}
        at = (rows["post_id"].to_numpy(int), rows["kit_id"].map(kit_at).to_numpy(int))
        lead = np.full((len(judged.shifts), len(numbers)), CANNOT)
        lead[at] = rows["answer"].to_numpy(int)
        wants = _wants(copy, assessment, event, judged, lead)
        several = judged.shifts["operators"].to_numpy(int) > 1
        several[judged.shift_of[list(bare)]] = True
        beside = _beside(copy, assessment, event, judged, np.flatnonzero(several))
    finally:
        copy.close()
    every = np.ix_(judged.shift_of, judged.hand_of)
    charge = np.zeros((len(judged.shifts), len(numbers)))
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
    carry = [event.is_carried[piece.post] for piece in pieces]
    bodies = [*range(len(own)), *(kit for kit, _ in judged.lent)]
    tenths = [round(10 * (weights.get(own[kit]) or 0.0)) for kit in bodies]
    person, words, beside_words = _people(assessment, event, pieces, judged, beside)
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
        judged, person, lead[every], lead[every], charge[every], np.outer(carry, tenths).astype(np.int64), in_reserve, against,
        [
            Want(piece, least, gives[bodies])
            for piece, sort in enumerate(judged.shift_of.tolist())
            for least, gives in wants.get(sort, ())
        ],
        {}, words, beside_words,
    )  # fmt: skip
    _leads(event, pieces, able, np.array(owners_of(event, judged.lent), np.int64))
    return able


def _wants(
    copy: Copy, assessment: Assessment, event: Event, judged: Judged, lead: Ints
) -> dict[int, list[tuple[int, Ints]]]:
    """By sort of shift: what a post as a whole must have, as how much is enough and how much each of the event's kits gives.

    These are the rules on a post that block, that some thing mends, and that are not met by people without kits. A kit
    gives all of it where they are met with it alone.

    Parameters
    ----------
    lead : sorts of shifts x what is judged; of a kit that holds a shift in nobody's hands nothing is asked
    """
    rules = [
        number
        for number in copy.on("post")
        if assessment.rules[number].severity == "blocks" and assessment.rules[number].remedy.get("kind")
    ]
    people = event.members["member_id"].tolist()
    shifts = [(shift, people[: int(count)], None) for shift, count in enumerate(judged.shifts["operators"])]
    copy.con.execute("insert into sent_only values (true)")
    missing = _met(copy, judged, shifts, rules, is_met=False)
    of = [*range(len(event.kits)), *(kit for kit, _ in judged.hands)]
    asked = []
    for shift in sorted({shift for shift, _ in missing}):
        for kit in dict.fromkeys(of[at] for at in np.flatnonzero(lead[shift] < CANNOT)):
            owner = int(event.kits["member_id"][kit])
            count = int(judged.shifts["operators"][shift])
            others = [member for member in people if member != owner][: count - 1]
            asked.append((shift, [owner, *others], int(event.kits["kit_id"][kit])))
    met = _met(copy, judged, asked, rules, is_met=True)
    wants = defaultdict(list)
    for number, rule in sorted(missing):
        name = assessment.rules[rule].name
        least = (
            (EACH.get(name, 1) or int(judged.shifts["operators"][shifts[number][0]])) if name in EACH else 1
        )
        gives = np.full(len(event.kits), int(name in EACH))
        gives[
            [
                event.kit_at[asked[at][2]]
                for at, met_rule in met
                if met_rule == rule and asked[at][0] == number
            ]
        ] = least
        wants[number].append((least, gives))
    return wants


def _met(
    copy: Copy, judged: Judged, asked: Sequence[tuple[int, Sequence[int], int | None]], rules: Sequence[int], is_met: bool
) -> set[tuple[int, int]]:  # fmt: skip
    """Which rules are met, or not met, where some people stand together at a shift, the first with a kit: place in `asked`, rule."""
    if not asked or not rules:
        return set()
    posts = judged.shifts.iloc[[shift for shift, *_ in asked]].assign(post_id=range(len(asked)), site=None)
    sent = [
        (number, member, kit if not place else None)
        for number, (_, members, kit) in enumerate(asked)
        for place, member in enumerate(members)
    ]
    copy.send(posts, _sent(posts, sent))
    copy.answer(rules, has_kits=any(kit is not None for *_, kit in asked))
    told = copy.con.execute(
        "select subject_id, rule_no from judgement where subject_kind = 'post' and ok = $is_met",
        {"is_met": is_met},
    )
    return {(int(post), int(rule)) for post, rule in told.fetchall()}


def _sent(posts: pd.DataFrame, sent: Sequence[tuple[int, int, int | None]]) -> pd.DataFrame:
    """Rows of the table assignment for all hours of posts, of (post, member, kit); posts are numbered by their places."""
    post = [at for at, *_ in sent]
    rows = posts.iloc[post]
    return pd.DataFrame(
        {
            "assignment_id": range(1, len(sent) + 1),
            "event_id": rows["event_id"].to_numpy(),
            "post_id": post,
            "member_id": [member for _, member, _ in sent],
            "kit_id": pd.array([kit for *_, kit in sent], dtype="Int64"),
            "starts": rows["opens"].to_numpy(),
            "ends": rows["closes"].to_numpy(),
        }
    )


def _beside(
    copy: Copy, assessment: Assessment, event: Event, judged: Judged, shifts: Ints
) -> dict[tuple[int, int], tuple[int, list[int], list[int]]]:
    """What the rules say of each person at some shifts, without a kit and in company: answer, rules that block, rules not known.

    Everyone stands there at once, so that the licence of whoever leads covers the others.
    """
    sent = [(at, int(member)) for at in range(len(shifts)) for member in event.members["member_id"]]
    return {
        (int(shifts[post]), member): said
        for (post, member), said in _said_of_people(copy, assessment, event, judged, shifts, sent).items()
    }


def alone(
    assessment: Assessment, event: Event, judged: Judged, shifts: Collection[int]
) -> dict[tuple[int, int], list[int]]:
    """The rules that block each person who would hold some shifts with nobody else, by sort of shift and person.

    Nothing is asked of a kit; whoever is blocked here is so with any.
    """
    people = [int(member) for member in event.members["member_id"]]
    each = np.repeat(np.array(sorted(shifts), np.int64), len(people))
    copy = Copy(assessment)
    try:
        copy.con.execute("update member set is_available = true")
        sent = list(enumerate(people * len(shifts)))
        said = _said_of_people(copy, assessment, event, judged, each, sent)
    finally:
        copy.close()
    return {(int(each[post]), member): blocking for (post, member), (_, blocking, _) in said.items()}


def _said_of_people(
    copy: Copy, assessment: Assessment, event: Event, judged: Judged, shifts: Ints, sent: Sequence[tuple[int, int]]
) -> dict[tuple[int, int], tuple[int, list[int], list[int]]]:  # fmt: skip
    """What the rules on people say of those who are sent to shifts without a kit, as (place in `shifts`, member_id): by that
    place and the person's, answer, rules that block, rules not known."""
    posts = judged.shifts.iloc[shifts].assign(post_id=range(len(shifts)), site=None)
    copy.send(posts, _sent(posts, [(post, member, None) for post, member in sent]))
    rules = {number: assessment.rules[number] for number in copy.on("post_kit")}
    of_people = [number for number, rule in rules.items() if is_on_the_person(rule) or is_clubs_own(rule)]
    copy.answer(of_people, has_kits=False)
    said = by_kit.answers(copy.con, with_kit=False)
    place = (
        copy.con.execute("select post_kit_id, post_id, member_id from post_kit")
        .df()
        .merge(said, on="post_kit_id")
    )
    return {
        (int(post), event.member_at[int(member)]): (int(answer), list(blocking), list(unknown))
        for post, member, answer, blocking, unknown in zip(
            place["post_id"],
            place["member_id"],
            place["answer"],
            place["blocking_nos"],
            place["unknown_nos"],
            strict=True,
        )
    }


def owners_of(event: Event, lent: Hands) -> list[int]:
    """The place of the member who brings each kit: its owner, then those with a kit in other hands."""
    return [event.member_at[int(member)] for member in event.kits["member_id"]] + [
        member for _, member in lent
    ]


def is_on_the_person(rule: Rule) -> bool:
    """Whether a rule is on who brings a kit, so that in other hands it asks about somebody else."""
    return rule.subject == "member" or rule.file == "members"


def _people(
    assessment: Assessment, event: Event, pieces: list[Piece], judged: Judged,
    beside: dict[tuple[int, int], tuple[int, list[int], list[int]]],
) -> tuple[Ints, Words, Words]:  # fmt: skip
    """Answer of each person at each piece, why wherever they sit, and why without a kit.

    Parameters
    ----------
    beside : by sort of shift and person what the rules say, of the sorts at which somebody may sit without a kit
    """
    person = np.zeros((len(pieces), len(event.members)), np.int64)
    words: Words = {}
    beside_words: Words = {}
    told = [
        [_limits(member, post) for member in event.members.itertuples(index=False)]
        for _, post in event.posts.iterrows()
    ]
    title = [rule.title.lower() for rule in assessment.rules]
    for number, piece in enumerate(pieces):
        for at, found in enumerate(told[piece.post]):
            said, blocking, unknown = beside.get((int(judged.shift_of[number]), at), (CAN, (), ()))
            person[number, at] = max([said, *(answer for answer, *_ in found)])
            if found:
                words[number, at] = found
            if blocking or unknown:
                beside_words[number, at] = [
                    *((CANNOT, title[no], "more people") for no in blocking),
                    *((UNKNOWN, title[no], "") for no in unknown),
                ]
    return person, words, beside_words


def _limits(member: Any, post: pd.Series) -> list[tuple[int, str, str]]:
    """What stands against a person at a post wherever they sit, and is no rule's to say."""
    found = []
    if not member.is_available:
        found.append((CANNOT, "is not available", "more people"))
    role = post["role_needed"]
    if isinstance(role, str) and not isinstance(member.roles, str):
        found.append((UNKNOWN, f"sign-off for {role.replace('_', ' ')} is not known", "sign-off"))
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
        return [(CANNOT, f"is not signed off for {role.replace('_', ' ')}", "sign-off")]
    return []
