"""The club as it stands: the store, and one assessment of it per version that every page shares."""

from __future__ import annotations

import hashlib
import itertools
import threading
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property, wraps
from pathlib import Path
from typing import Any, TypeVar

import pandas as pd

from data import backup, belongings, history, invented, upload
from data.club_check import loose_ends
from data.people import Known, People
from data.problems import Problem
from rules import edition
from rules.engine import Assessment, Finding, assess
from rules.plans.offers import Price, prices, remedy
from rules.policy import Policy
from rules.rule import RuleError

NAMED = ("members", "kits", "events", "posts")  # lists that tell, with the inventory, what may be named
NAMING = ("posts", "assignments", "kits", "rehearsals", "loans")  # lists that name what others tell

Made = TypeVar("Made")
_numbers = itertools.count()


class Kept:
    """What has been made once and is shared by every session: charts, tables, plans. Each is made by one thread."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._locks: dict[Hashable, threading.Lock] = {}
        self._made: dict[Hashable, Any] = {}

    def __contains__(self, key: Hashable) -> bool:
        return key in self._made

    def once(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What is kept under a key; made first where nothing is. Nobody may change it."""
        if key not in self._made:
            with self._lock:
                lock = self._locks.setdefault(key, threading.Lock())
            with lock:
                if key not in self._made:
                    self._made[key] = make()
        made: Made = self._made[key]
        return made


@dataclass(frozen=True)
class Standing:
    """One assessment with the frames that pages read from it, worked out once."""

    version: int
    day: date
    assessment: Assessment
    kept: Kept = field(default_factory=Kept, repr=False, compare=False)
    number: int = field(default_factory=lambda: next(_numbers), repr=False, compare=False)

    @property
    def drawn_as(self) -> int:
        """What stands for it where something is drawn once: no two of one process have the same."""
        return self.number

    @cached_property
    def scores(self) -> pd.DataFrame:
        """As `Assessment.scores`."""
        return self.assessment.scores()

    @cached_property
    def tally(self) -> pd.DataFrame:
        """As `Assessment.tally`."""
        return self.assessment.tally()

    @cached_property
    def cells(self) -> Mapping[str, pd.DataFrame]:
        """As `Assessment.cells`, by `kit` and by `member`."""
        return {by: self.assessment.cells(by) for by in ("kit", "member")}

    @cached_property
    def gaps(self) -> pd.DataFrame:
        """One row per rule that some member's gear or papers do not meet, most common first.

        Columns: rule, title, severity, family, members and kits (how many have the gap), subjects (times).
        """
        rules = self.assessment.rules
        counts = self.assessment.frame(
            "select rule_no, count(distinct s.member) as members, "
            "count(distinct s.member || '/' || s.kit) as kits, "
            "count(*) as subjects from judgement as j join subject as s using (subject_kind, subject_id) "
            "where s.is_reported and not j.ok and s.member is not null group by rule_no"
        )
        named = [(r.name, r.title, r.severity, r.family) for r in (rules[n] for n in counts["rule_no"])]
        frame = pd.DataFrame(named, columns=["rule", "title", "severity", "family"]).join(
            counts.drop(columns="rule_no")
        )
        return frame.sort_values(
            ["members", "subjects", "rule"], ascending=[False, False, True], ignore_index=True
        )

    def findings(self, where: str, values: Sequence[str]) -> list[Finding]:
        """As `Assessment.findings`; asked of the tables once, whoever looks and however often. Nobody may change it."""
        return self.kept.once(
            ("findings", where, tuple(values)), lambda: self.assessment.findings(where, values)
        )

    def of(self, kind: str) -> pd.DataFrame:
        """The scores of one kind of subject. Nobody may change them."""

        def own() -> pd.DataFrame:
            return self.scores[self.scores["subject_kind"] == kind].reset_index(drop=True)

        return self.kept.once(("of", kind), own)

    @cached_property
    def events(self) -> tuple[str, ...]:
        """Names of events: the one that is on or comes next first, those that are over last, the latest before others."""
        told = self.assessment.table("event")[["event", "starts", "ends"]].sort_values(["starts", "event"])
        is_over = told["ends"] < pd.Timestamp(self.day)
        return (*told.loc[~is_over, "event"], *told.loc[is_over, "event"].iloc[::-1])

    def events_with_posts(self) -> list[str]:
        """Those of `events` that have posts, in the same order."""
        some = {*self.of("post")["event"]}
        return [event for event in self.events if event in some]

    def price(self, rule: str, evidence: Mapping[str, Any]) -> tuple[float, float] | None:
        """Usual price range of the thing that mends a finding, USD; None where the rule names none."""
        named = next((remedy(r, evidence) for r in self.assessment.rules if r.name == rule), None)
        price = self._prices.get(named or "")
        return price and (price.low_usd, price.high_usd)

    @cached_property
    def _prices(self) -> Mapping[str, Price]:
        return prices(self.assessment)


def made_once(make: Callable[..., Made]) -> Callable[..., Made]:
    """What a function tells of how the club stands, made once for equal arguments. Nobody may change it."""

    @wraps(make)
    def told(now: Standing, *given: Hashable) -> Made:
        return now.kept.once((make.__module__, make.__name__, *given), lambda: make(now, *given))

    return told


@dataclass(frozen=True)
class Then:
    """How the club stood at an earlier version.

    Attributes
    ----------
    at : when the version came about (UTC)
    was : how it was judged when it was new; None where nobody looked at it then
    policy_id : number of the policy of that moment, 0 for the standard one
    rules : digest of the rules that judge now
    unread : uploads of that moment that can no longer be read and are left out
    """

    standing: Standing
    at: datetime
    was: history.Judged | None
    policy_id: int
    rules: str
    unread: list[int]

    @property
    def is_same(self) -> bool | None:
        """Whether every score is what it was then; None where none was written down."""
        return None if self.was is None else self.was.scores == score_digest(self.standing.scores)


def score_digest(scores: pd.DataFrame) -> str:
    """A SHA-256 over every verdict and score to six decimal places, whatever the order of the rows."""
    columns = ["subject_kind", "subject", "verdict", "low", "high"]
    text = scores[columns].sort_values(columns[:2]).to_csv(index=False, float_format="%.6f")
    return hashlib.sha256(text.encode()).hexdigest()


class Club:
    """The store of one club and what follows from it. Safe for many sessions at once.

    Parameters
    ----------
    has_sign_in : whether people sign in; if not, whoever sits at this machine is the coordinator
    """

    def __init__(self, path: Path, has_sign_in: bool = False) -> None:
        self.store = backup.opened(path)
        self.people = People(self.store)
        self.has_sign_in = has_sign_in
        self._beside = path.parent
        self._lock = threading.Lock()
        self._answers: dict[Hashable, tuple[int, Any]] = {}
        self._standing: Standing | None = None

    def asked(self, what: Hashable, ask: Callable[[], Made]) -> Made:
        """What the store answers; asked again only when something may have been written. Nobody may change it."""
        written = self.store.written  # looked at first: what is written meanwhile is asked for again
        at, answer = self._answers.get(what, (None, None))
        if at != written:
            answer = ask()
            self._answers[what] = written, answer
        told: Made = answer
        return told

    def known(self) -> list[Known]:
        """Everyone who may sign in, or once might."""
        return self.asked("known", self.people.known)

    def shares(self) -> Mapping[str, str]:
        """As `People.shares`."""
        return self.asked("shares", self.people.shares)

    def standing(self) -> Standing:
        """What follows from the store today; worked out again only when the store or the day has changed."""
        held, now = self._standing, (self.asked("version", self.store.version), date.today())
        if held is not None and (held.version, held.day) == now:
            return held
        with self._lock:
            held, version, day = self._standing, self.store.version(), date.today()
            if held is None or (held.version, held.day) != (version, day):
                policy = self.policy()
                held = Standing(version, day, assess(self.store.frames(), policy, day))
                _ = held.scores, held.tally, held.cells, held.gaps
                if self.store.version() == version:
                    kits = held.of("kit")["verdict"].value_counts()
                    history.note(self.store, self._judged(held, policy), kits.to_dict())
                self._standing = held
            return held

    def _judged(self, held: Standing, policy: Policy) -> history.Judged:
        """How a version is judged, to be held against later."""
        number, _ = history.policy_at(self.store, held.version)
        return history.Judged(
            held.version, held.day, edition.digest(policy.own_rules), number, score_digest(held.scores)
        )

    def then(self, version: int) -> Then:
        """How the club stood at a version, judged again from the files of that moment under its policy.

        Raises
        ------
        data.database.StoreError
            There is no such version.
        PolicyError, RuleError
            The policy of that moment no longer fits the rules.
        """
        at = history.moment(self.store, version)
        was = history.judged(self.store, version)
        number, text = history.policy_at(self.store, version)
        policy = self.policy(text)
        frames, unread = history.frames_at(self.store, version, lambda told: self.policy(told).aliases)
        day = was.day if was else at.date()
        stood = Standing(version, day, assess(frames, policy, day))
        return Then(stood, at, was, number, edition.digest(policy.own_rules), unread)

    def trial(self, sent: Sequence[upload.Upload]) -> Standing:
        """What would follow if files were in force; nothing is kept and nobody else sees it."""
        now, frames = self.standing(), self.store.frames()
        for one in sent:
            assert one.frame is not None
            frames[one.stem] = history.replaced(one.stem, frames[one.stem], one.frame)
        return Standing(now.version, now.day, assess(frames, self.policy(), now.day))

    def leads_nowhere(self, sent: Sequence[upload.Upload], member: str = "") -> list[Problem]:
        """What in good files would name nothing that the club holds once they are in force, or hours of another day.

        Parameters
        ----------
        member : whose lists these are, if one member's: nobody is told the names of others' things by them
        """
        if not any(one.stem in NAMING for one in sent):
            return []
        if member:
            held = self.store.frames_of(member)
        else:
            held = {stem: self.store.frame(stem) for stem in NAMED}
            held["inventory"] = self.store.kits()
        frames = {stem: held[stem].assign(file="", line=0) for stem in (*NAMED, "inventory")}
        for one in sent:
            assert one.frame is not None
            before = frames.get(one.stem)
            frames[one.stem] = one.frame if before is None else history.replaced(one.stem, before, one.frame)
        return [found for found in loose_ends(frames) if found.file]

    def accept(self, sent: upload.Upload, by: str) -> int:
        """Take an upload in and work the club out anew, so that no page has to."""
        return self.accept_all([sent], by)[0]

    def accept_all(self, sent: Sequence[upload.Upload], by: str) -> list[int]:
        """Take several uploads in, all of them or none."""
        upload_ids = self.store.accept_all([invented.unmarked(one) for one in sent], by)
        self.standing()
        return upload_ids

    def policy(self, text: str | None = None) -> Policy:
        """The policy in force, or the one that a text would make. Own rules stand in a folder beside the database.

        Raises
        ------
        PolicyError
            The text is no policy.
        """
        return Policy.parse(self.store.policy() if text is None else text, beside=self._beside)

    @property
    def set_aside(self) -> tuple[str, ...]:
        """What is wrong with rules of the club's own that are set aside, as the club was last judged."""
        return self._standing.assessment.set_aside if self._standing else ()

    def preview(self, text: str) -> Standing:
        """What would follow from the store if a text were the policy.

        Raises
        ------
        PolicyError, RuleError
            The policy or one of its own rules cannot be used; one that is set aside by now already is let be.
        """
        day = date.today()
        then = Standing(self.store.version(), day, assess(self.store.frames(), self.policy(text), day))
        for said in then.assessment.set_aside:
            if said not in self.set_aside:
                raise RuleError(said)
        return then

    def set_policy(self, text: str, by: str, why: str) -> None:
        """Put a policy in force, once it has been seen to work.

        Raises
        ------
        PolicyError, RuleError, ValueError
            The policy or one of its own rules cannot be used, or no reason is given.
        """
        self.preview(text)
        self.store.set_policy(text, by, why)
        self.standing()

    def restore(self, upload_id: int, by: str) -> int:
        """Put an earlier upload in force again."""
        restored = self.store.restore(upload_id, by, self.policy().aliases)
        self.standing()
        return restored

    def erase(self, member: str, by: str) -> str:
        """Erase everything that is held on a member; what the records say of it."""
        said = belongings.erase(self.store, member, by, self.policy().aliases)
        self.standing()
        return said

    def close(self) -> None:
        """Let go of the store."""
        self.store.close()


_open: list[Club] = []


def open_club(path: Path, has_sign_in: bool = False) -> Club:
    """Open the one club of this process."""
    close_club()
    _open.append(Club(path, has_sign_in))
    return _open[0]


def club() -> Club:
    """The club that is open.

    Raises
    ------
    RuntimeError
        None is open: the pages were started without `dashboard.serve`.
    """
    if not _open:
        raise RuntimeError(
            "No club is open. Start the dashboard with the command kitmuster, not with streamlit run."
        )
    return _open[0]


def close_club() -> None:
    """Close the club if one is open."""
    while _open:
        _open.pop().close()
