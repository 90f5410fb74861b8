"""Read the rules, judge a whole club with them at once, and say what was found.

Told rows are filled into tables (`data.club`), facts are worked out from these (`rules.facts`), each rule puts its answers
into the table `judgement`, and these are counted to verdicts and scores (`rules.verdicts`). `assess` does so for a whole
club, or for one member by `OWN`. It gives an `Assessment`, which puts judgements into words when asked for its findings.
"""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache, partial
from typing import Any, cast
from weakref import finalize

import duckdb
import pandas as pd
import pyarrow as pa

from data import club, reference
from data.kept import Lane, Room, Waiting
from rules import facts, own_rules, verdicts
from rules.policy import Policy
from rules.rule import FIND_OUT, Rule, RuleError, fill, is_clubs_own, load_rules, sentence
from rules.verdicts import SEVERITIES, SUBJECTS

DUTIES = reference.words("duty")
LEAST, MOST = 8, 16
"""Rules in one statement: so many, and more where they wait for nothing else."""
FEW = 1_000
"""Told rows up to which joins in the order in which they are written pay."""
PAIRS = 10_000
"""Of these, times one more than the posts for which they are looked at, up to how many kept plans pay."""
EVIDENCE = "to_json(struct_pack(*columns(r.* exclude (subject, ok))))"
"""Of the row `r` that a rule returns, what does not stand in columns of judgement."""
OWN = ("item", "kit", "member")
"""Subjects that are judged by the rows that bear on one member; the others hang on what everyone brings."""


Values = Sequence[Any] | Mapping[str, Any]
"""What stands for the `?` or `$name` of a select."""
_waiting = Waiting(most=2, lent=6)


@dataclass(frozen=True)
class Finding:
    """What one rule says of one subject, with the evidence and the upload lines it rests on.

    Attributes
    ----------
    status : met, not met or not known
    evidence : what the rule returned, by column; rules/evidence.toml has the label and unit of each
    file, lines : stem of the file that the lines are of, and the lines; "" and none for the club
    """

    rule: str
    family: str
    title: str
    severity: str
    subject_kind: str
    subject: str
    status: str
    evidence: dict[str, Any]
    sentence: str
    fix: str
    source: str
    file: str
    lines: list[int]
    member: str | None
    kit: str | None
    event: str | None
    post: str | None

    @property
    def titled(self) -> str:
        """The title, for where no answer stands beside it: it says what is wrong, which may not be known."""
        return f"{self.title} (not known)" if self.status == "not known" else self.title


class Assessment:
    """A club with its facts, judgements and scores, in one in-memory connection.

    Tables beside those of data/tables.sql and rules/facts.sql: `judgement` (one row per rule and subject judged),
    `subject` (one row per thing that can be judged, with its label) and `score`. `set_aside` holds what is wrong with each
    rule of the club's own that is not among `rules`, as its answers cannot be used.
    """

    def __init__(
        self, con: duckdb.DuckDBPyConnection, rules: tuple[Rule, ...], policy: Policy, today: date,
        set_aside: tuple[str, ...] = (),
    ) -> None:  # fmt: skip
        self.con, self.rules, self.policy, self.today = con, rules, policy, today
        self.set_aside = set_aside

    def tuples(self, sql: str, values: Values = ()) -> list[tuple[Any, ...]]:
        """The rows of a select over the tables of the club."""
        return self.con.cursor().execute(sql, values).fetchall()

    def frame(self, sql: str, values: Values = ()) -> pd.DataFrame:
        """The same as a frame."""
        return self.con.cursor().execute(sql, values).df()

    def table(self, name: str) -> pd.DataFrame:
        """A table of the club as a frame."""
        return self.frame(f'from "{name}"')

    def scores(self) -> pd.DataFrame:
        """One row per item, kit, member, post, event and the club: verdict and score range, 0 to 100."""
        return self.frame(
            "select subject_kind::varchar as subject_kind, subject, verdict, low, high, member, kit, event, post "
            "from score join subject using (subject_kind, subject_id) order by subject_kind::varchar, subject"
        )

    def findings(
        self, where: str = "true", values: Iterable[Any] = (), with_met: bool = False
    ) -> list[Finding]:
        """The findings, worst first; `where` is SQL over columns of judgement and subject.

        A rule on a kit at a post speaks of the post, and only where the kit is assigned to it.
        """
        rows = self.tuples(
            "select rule_no, j.subject_kind, s.subject, j.ok, j.evidence, s.lines, s.member, s.kit, s.event, s.post "
            "from judgement as j join subject as s using (subject_kind, subject_id) "
            f"where s.is_reported and (j.ok is not true or {str(with_met).lower()}) and ({where}) "
            "order by j.severity_no, j.ok is null, j.rule_no, s.subject, s.subject_id",
            list(values),
        )
        return [self._say(*row) for row in rows]

    def _say(
        self, rule_no: int, subject_kind: str, subject: str, ok: bool | None, evidence: str | None,
        own_lines: list[int] | None, member: str | None, kit: str | None, event: str | None, post: str | None,
    ) -> Finding:  # fmt: skip
        rule = self.rules[rule_no]
        found: dict[str, Any] = json.loads(evidence) if evidence else {}
        spoken = {**found, "subject": subject, "member": member, "kit": kit, "event": event, "post": post}
        named = found.pop("lines", [])
        lines = [line for line in named or (evidence and own_lines) or [] if line is not None]
        status = {True: "met", False: "not met", None: "not known"}[ok]
        fix = "" if ok else fill(rule, rule.fix, spoken, self.policy)
        if ok is None and not fix.startswith("Write"):
            fix = f"{FIND_OUT[rule.told_by]} {fix[:1].lower()}{fix[1:]}"
        return Finding(
            rule.name, rule.family, rule.title, rule.severity, "post" if subject_kind == "post_kit" else subject_kind,
            subject, status, found, sentence(rule, spoken | {"ok": ok}, self.policy), fix, rule.source,
            rule.file if lines else "", lines,
            member, kit, event, post,
        )  # fmt: skip

    def tally(self) -> pd.DataFrame:
        """One row per rule: how many subjects meet it, do not, or are not known."""
        counts = self.frame(
            "select rule_no, count(*) filter (ok) as met, count(*) filter (not ok) as not_met, "
            "count(*) filter (ok is null) as not_known from judgement join subject using (subject_kind, subject_id) "
            "where is_reported group by rule_no"
        ).set_index("rule_no")
        named = pd.DataFrame(
            [(r.family, r.name, r.title, r.severity, r.subject) for r in self.rules],
            columns=["family", "rule", "title", "severity", "subject_kind"],
        )
        return (
            named.join(counts)
            .fillna({"met": 0, "not_met": 0, "not_known": 0})
            .astype({"met": int, "not_met": int, "not_known": int})
        )

    def cells(self, by: str = "member") -> pd.DataFrame:
        """One row per member (or kit) and rule family: the worst answer there, and counts.

        `worst` is one of blocks, limits, advice, not known, met.
        """
        families = pd.DataFrame({"rule_no": range(len(self.rules)), "family": [r.family for r in self.rules]})
        cursor = self.con.cursor()
        cursor.register("families", families)
        name = {"member": "s.member", "kit": "s.member || '/' || s.kit"}[by]
        return cursor.execute(
            f"""
            select {name} as subject, s.member, {"null" if by == "member" else "s.kit"} as kit, family,
                count(*) filter (ok) as met, count(*) filter (not ok) as not_met, count(*) filter (ok is null) as not_known,
                case when bool_or(not ok and severity_no = 0) then 'blocks' when bool_or(not ok and severity_no = 1) then 'limits'
                     when bool_or(ok is null) then 'not known' when bool_or(not ok) then 'advice' else 'met' end as worst
            from judgement as j join subject as s using (subject_kind, subject_id) join families using (rule_no)
            where subject_kind in ('item', 'kit', 'member') and {name} is not null
            group by all order by subject, family
            """
        ).df()


def judge(
    con: duckdb.DuckDBPyConnection,
    numbered: Iterable[tuple[int, Rule]],
    policy: Policy,
    today: date,
    keep_met: bool | None,
) -> None:
    """Run some rules over the whole club in one statement, and keep their answers in the table judgement."""
    selects: list[str] = []
    values: dict[str, Any] = {}
    for number, rule in numbered:
        own = rule.values(policy, today)
        values |= {f"{name}_of_{number}": value for name, value in own.items()}
        selects.append(_answers(number, rule.severity, rule.subject, rule.sql, keep_met))
    con.execute("insert into judgement " + "\nunion all ".join(selects), values or None)


@lru_cache(maxsize=1024)
def _answers(number: int, severity: str, subject: str, sql: str, keep_met: bool | None) -> str:
    """The select of a rule's answers, in which each parameter carries the number of the rule."""
    kept = {True: EVIDENCE, False: f"case when r.ok then null else {EVIDENCE} end", None: "null"}[keep_met]
    which = " where r.ok is not true" if keep_met is None else ""
    own = re.sub(r"\$(\w+)", rf"$\1_of_{number}", sql)
    return f"select {number}, {SEVERITIES.index(severity)}, '{subject}'::subject_word, r.subject, r.ok, {kept} from (\n{own}\n) as r{which}"


def assess(
    frames: Mapping[str, pd.DataFrame | pa.Table],
    policy: Policy | None = None,
    today: date | None = None,
    rules: tuple[Rule, ...] | None = None,
    keep_met: bool = True,
    subjects: Collection[str] = SUBJECTS,
    is_sent_only: bool = False,
) -> Assessment:
    """Fill, work out the facts, judge by every rule and score: a whole club at once.

    Parameters
    ----------
    frames
        Typed rows by file stem, as `data.upload.read` and `data.club.read_folder` give them; Arrow tables are quicker.
    policy
        The standard one unless given.
    today
        The day that ages are counted to; the date of this machine unless given.
    rules
        Those of the project, and of the policy's folder of own rules, unless given, as those of a club that was judged are.
    keep_met
        Keep the evidence of rules that are met too; costs memory in a very large club.
    subjects
        What is judged; facts on posts are worked out only where `OWN` is not all of it.
    is_sent_only
        Look at no kit for posts that it is not sent to; what could be sent instead is then not known.

    Raises
    ------
    PolicyError, RuleError
        The policy, or the file of a rule in the folder that it names, cannot be used.
    """
    policy = policy or Policy.standard()
    posts = 0 if set(subjects) <= set(OWN) else len(frames.get("posts", ()))
    con, let_go = tables(policy, _rows(frames), posts)
    try:
        assessment = _assess(con, frames, policy, today, rules, keep_met, subjects, is_sent_only)
    except BaseException:
        (con.room if isinstance(con, Lane) else con).close()
        raise
    if isinstance(con, Lane):
        finalize(assessment, let_go).atexit = False
        if not set(subjects) <= set(OWN):
            assessment.con = con.room.con.cursor()  # several may read at once
    return assessment


def tables(policy: Policy, rows: int, posts: int) -> tuple[duckdb.DuckDBPyConnection, Callable[[], None]]:
    """The tables of a club without rows, but for the reference as a policy sees it, and what lets go of them.

    Those of a club of few things and no rules of its own, which may join as they like, are used again, with the plans of all
    that was asked of them.

    Parameters
    ----------
    rows, posts : how many are told, or of things; for how many posts they are looked at
    """
    is_small = rows <= FEW and not policy.own_rules
    made_for = policy.reference, policy.duty
    is_asked = is_small and rows * (1 + posts) <= PAIRS
    room = _waiting.lend(made_for, lambda: _room(policy)) if is_asked else None
    if room is not None:
        return cast(duckdb.DuckDBPyConnection, room.lanes[0]), partial(_waiting.give_back, made_for, room)
    con = facts.blank(is_small)
    _reference_as(policy, con)
    return con, con.close


def _rows(frames: Mapping[str, pd.DataFrame | pa.Table]) -> int:
    return sum(len(rows) for rows in frames.values())


def _room(policy: Policy) -> Room:
    room = facts.room()
    _reference_as(policy, room.con)
    return room


def _reference_as(policy: Policy, con: duckdb.DuckDBPyConnection) -> None:
    """Let the reference tables stand as the policy sees them."""
    for table, rows in {**policy.reference, "duty": policy.duty}.items():
        for word, values in rows.items():
            for name, value in values.items():  # names of rules.policy.OF_REFERENCE and of shares of a duty
                con.execute(
                    f"update {table} set {name} = $value where {table} = $word",
                    {"value": value, "word": word},
                )


def _assess(
    con: duckdb.DuckDBPyConnection,
    frames: Mapping[str, pd.DataFrame | pa.Table],
    policy: Policy,
    today: date | None,
    rules: tuple[Rule, ...] | None,
    keep_met: bool,
    subjects: Collection[str],
    is_sent_only: bool,
) -> Assessment:
    today = today or date.today()
    if rules is None:
        rules = load_rules() + (own_rules.read(policy.own_rules) if policy.own_rules else ())
        policy.check({rule.name: rule.param for rule in rules}, DUTIES)
    rules = tuple(rule for rule in rules if rule.name not in policy.allow)
    if is_sent_only:
        con.execute("insert into sent_only values (true)")
    gear, others = club.filling(frames, today)
    gear(con)
    is_later = set(subjects) <= set(OWN)
    if not is_later:
        others(con)
    return judge_all(con, rules, policy, today, keep_met, subjects, others if is_later else None)


def judge_all(
    con: duckdb.DuckDBPyConnection,
    rules: tuple[Rule, ...],
    policy: Policy,
    today: date,
    keep_met: bool = True,
    subjects: Collection[str] = SUBJECTS,
    sent: club.Filling | None = None,
) -> Assessment:
    """Work out the facts of a club that is filled, judge some subjects by every rule and score them.

    A rule of the club's own whose answers cannot be used is set aside, and the rest is judged without it.

    `sent` fills what is not of the gear, where that is not there yet and only `OWN` are judged.
    """
    asked = [(number, rule) for number, rule in enumerate(rules) if rule.subject in subjects]
    found: list[verdicts.Known] = []
    ties: facts.Piece = (
        facts.needs(verdicts.KNOWN) | facts.needs(verdicts.TIES),
        lambda cursor: found.append(verdicts.known(cursor)),
    )
    aside: dict[int, str] = {}
    answer(con, asked, policy, today, keep_met, not set(subjects) <= set(OWN), [ties], sent, aside)
    for number in sorted(aside, reverse=True):  # the others keep the numbers of their places
        con.execute("delete from judgement where rule_no = $number", {"number": number})
        con.execute("update judgement set rule_no = rule_no - 1 where rule_no > $number", {"number": number})
    score(con, policy, found[0])
    in_force = tuple(rule for number, rule in enumerate(rules) if number not in aside)
    return Assessment(con, in_force, policy, today, tuple(aside.values()))


def answer(
    con: duckdb.DuckDBPyConnection,
    numbered: Iterable[tuple[int, Rule]],
    policy: Policy,
    today: date,
    keep_met: bool | None,
    has_posts: bool = True,
    beside: Iterable[facts.Piece] = (),
    sent: club.Filling | None = None,
    aside: dict[int, str] | None = None,
) -> None:
    """Work out the facts of a club that is filled, and judge it by some rules, each under its number.

    Rules are asked as soon as the facts that they read are there, as other pieces of work are done.

    `keep_met` None keeps only what is not met or not known, and no evidence: enough for verdicts. `aside` takes, by its
    number, what is wrong with a rule of the club's own whose answers cannot be used.

    Raises
    ------
    RuleError
        There is such a rule, and no `aside`.
    """
    there = set(OWN)
    if has_posts:
        con.execute(f"create or replace macro reviewed_on() as date '{today}'")
        there |= {kind for (kind,) in con.execute("select distinct subject_kind from subject").fetchall()}
    if "event" in there:
        there.add("post_kit")
    asked = [(number, rule) for number, rule in numbered if rule.subject in there]
    ours = [one for one in asked if not is_clubs_own(one[1])]
    facts.work_out(con, policy, today, has_posts, [*beside, *lots(ours, policy, today, keep_met)], sent)
    until = time.monotonic() + own_rules.LONGEST_S
    for number, rule in asked:  # each by itself, so that it is known which one takes too much
        if is_clubs_own(rule):
            cursor = con.cursor()
            try:
                with own_rules.in_time(cursor, rule, until):
                    judge(cursor, [(number, rule)], policy, today, keep_met)
                    if keep_met is not None:
                        own_rules.hold_answers(cursor, rule, number)
            except RuleError as error:
                if aside is None:
                    raise
                aside[number] = str(error)


def lots(
    numbered: Iterable[tuple[int, Rule]], policy: Policy, today: date, keep_met: bool | None
) -> list[facts.Piece]:
    """Rules that wait for much the same facts, those for the fewest first, in one statement each; a club's own by itself."""
    lots: list[list[tuple[int, Rule]]] = []
    needed: list[frozenset[str]] = []
    by_needs = sorted(
        (len(needs), sorted(needs), *one) for one in numbered for needs in [facts.needs(one[1].sql)]
    )
    for _, names, number, rule in by_needs:
        needs = frozenset(names)
        is_full = not lots or len(lots[-1]) >= (MOST if needs <= needed[-1] else LEAST)
        if is_full or is_clubs_own(rule) or is_clubs_own(lots[-1][-1][1]):
            lots.append([])
            needed.append(needs)
        lots[-1].append((number, rule))
        needed[-1] |= needs
    return [
        (needs, partial(judge, numbered=lot, policy=policy, today=today, keep_met=keep_met))
        for needs, lot in zip(needed, lots, strict=True)
    ]


def score(con: duckdb.DuckDBPyConnection, policy: Policy, known: verdicts.Known | None = None) -> None:
    """Verdicts and score ranges of every subject, from what is judged."""
    weights = [policy.weight[word] for word in SEVERITIES]
    facts.keep(con, "scored", verdicts.scores(con, known or verdicts.known(con), weights))
