"""What stays open, why, and the cheapest change that would fill it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd

from data import reference
from rules.engine import Assessment
from rules.plans import loans
from rules.plans.staffing.ability import Ability, alone, is_on_the_person, words_of
from rules.plans.staffing.event import Event
from rules.plans.staffing.program import Seated
from rules.plans.staffing.roster import CANNOT, UNKNOWN, Piece, Roster, Turn, inside_min, within
from rules.rule import Rule

PRICES = {"charge": 2, "sign-off": 4, "borrow": 5, "move": 6, "mend": 8, "more people": 20}
"""How much a change asks for, to name the cheapest; common practice: words before work before money before people."""
NO_BAND, NO_MODE = "kit_without_the_band", "kit_without_the_mode"
"""The rules that another radio puts right, of a kind that the post's bands and modes decide."""
VOICE = {"fm", "ssb", "ssb_processed", "am", "digital_voice"}
"""Modes that no modem adds to a radio."""
RESERVE, ELSEWHERE = -1, -2
"""In the place of a post: standing by, and at another event or on the way."""
NOBODY = -1
LENT_OUT = "gear_on_loan_elsewhere"
"""The rule that is put right by calling back what is lent."""
OPEN = [
    "post",
    "from",
    "to",
    "people_short",
    "is_station_missing",
    "is_critical",
    "why",
    "change",
    "change_kind",
]


class _Change(NamedTuple):
    price: int
    kind: str
    words: str
    member: int | None = None
    kit: int | None = None


class _Stint(NamedTuple):
    """A person, a kit or both (NOBODY brings a kit that is elsewhere by itself) at a post for a time (minutes)."""

    member: int
    kit: int | None
    post: int
    start: int
    end: int

    def meets(self, piece: Piece, way: int = 0) -> bool:
        """Whether it overlaps a piece, or leaves less than the way between them."""
        return self.start < piece.end + way and self.end + way > piece.start


@dataclass(frozen=True)
class _Candidate:
    """Somebody who is free to take a seat.

    wrong : what stands against them there
    lesser : the posts that are not critical which they would leave for it, in words; "" where none
    """

    member: int
    name: str
    post: str
    wrong: list[tuple[int, str, str]]
    lesser: str

    @property
    def price(self) -> int:
        """How much it asks to put all of that right."""
        return sum(PRICES[kind] for *_, kind in self.wrong) + (PRICES["move"] if self.lesser else 0)

    def change(
        self, words: Iterable[str] = (), kinds: Sequence[str] = (), price: int = 0, kit: int | None = None
    ) -> _Change:
        """To let them take it, with more that is changed for it, of these kinds, at a price."""
        said = [
            f"{self.name} {said}: sign them off, or send somebody along who is" for _, said, _ in self.wrong
        ]
        if self.lesser:
            said.append(f"send {self.name} to {self.post} and leave {self.lesser} open")
        own = self.wrong[0][2] if self.wrong else ""
        kind = max([own, *kinds], key=lambda kind: PRICES.get(kind, 0)) or "move"
        told = "; ".join([*said, *words]) or f"send {self.name} to {self.post}"
        return _Change(self.price + price, kind, told, self.member, kit)


@dataclass(frozen=True)
class _FreeKits:
    """Kits that could be taken to a piece.

    own : with whoever they are; askable : of these those that might be lent to another
    lent_out : of these those that are to be called back first; stands_by : those in reserve
    """

    own: list[int]
    askable: list[int]
    lent_out: set[int]
    stands_by: set[int]


class _Search:
    """The cheapest change that fills each open seat; whom and what it takes is gone for the next.

    Attributes
    ----------
    placed : where everyone stands who is at a post; lesser : those of the plan at posts that are not critical
    busy : where everyone and every kit is, there or elsewhere
    things : what can be borrowed, by kind, in words
    against : by sort of shift and person, the rules that block whoever holds it alone
    """

    def __init__(
        self, assessment: Assessment, here: Event, roster: Roster, able: Ability, seated: Seated,
        alone_at: Collection[int],
    ) -> None:  # fmt: skip
        self.assessment, self.here, self.roster, self.able = assessment, here, roster, able
        locked = [_Stint(row.member, row.kit, row.post, row.start, row.end) for row in roster.locked]
        chosen = [_Stint(c["member"], c["kit"], c["post"], c["start"], c["end"]) for c in seated.chosen]
        self.placed = locked + chosen
        self.lesser = [one for one in chosen if one.post >= 0 and not roster.is_critical[one.post]]
        self.busy = [
            *self.placed,
            *(
                _Stint(member, None, ELSEWHERE, start - way, end + way)
                for member, start, end, way in roster.away
            ),
            *(_Stint(NOBODY, kit, ELSEWHERE, start, end) for kit, start, end in roster.kits_away),
        ]
        self.things = _to_borrow(assessment, here.name)
        self.against = alone(assessment, here, able.judged, alone_at) if alone_at else {}

    def fill(self, number: int, is_lead: bool) -> _Change:
        """The cheapest change for a seat of a piece, which is then taken to be made."""
        piece = self.roster.pieces[number]
        left = self._free_people(piece)
        options = self._options(number, is_lead, left)
        change = min(options, key=lambda option: (option.price, option.member is None, option.words))
        if change.member is not None:
            if left[change.member]:
                self.busy = [
                    one for one in self.busy if one.member != change.member or one not in self.lesser
                ]
            self.busy.append(_Stint(change.member, change.kit, piece.post, piece.start, piece.end))
        return change

    def _free_people(self, piece: Piece) -> dict[int, str]:
        """Who could be at a piece, each with the lesser posts that they would leave for a critical one ("" where none)."""
        people, is_critical = range(self.roster.members), self.roster.is_critical[piece.post]
        left = dict.fromkeys((who for who in people if _is_free(who, piece, self.busy, self.roster)), "")
        for member in people if is_critical else ():
            given_up = [one for one in self.lesser if one.member == member and one in self.busy]
            if member not in left and given_up:
                rest = [one for one in self.busy if one not in given_up]
                if _is_free(member, piece, rest, self.roster):
                    names = (self.here.posts["post"][one.post] for one in given_up)
                    left[member] = " and ".join(dict.fromkeys(names))
        return left

    def _options(self, number: int, is_lead: bool, left: Mapping[int, str]) -> list[_Change]:
        """Every change that would fill a seat with somebody who is free, and the last resort."""
        piece, able = self.roster.pieces[number], self.able
        post = self.here.posts["post"][piece.post]
        nobody = f"find one more person for {post}: nobody is free who could take it"
        found = [_Change(PRICES["more people"], "more people", nobody)]
        kits = self._free_kits(number, left) if is_lead else None
        for member, lesser in left.items():
            in_seat = (
                able.lead_words.get((piece.post, member))
                if is_lead
                else able.beside_words.get((number, member))
            )
            told = [*able.person_words.get((number, member), []), *(in_seat or [])]
            wrong = [word for word in told if word[0] == CANNOT]
            who = _Candidate(member, self.here.members["member"][member], post, wrong, lesser)
            if who.price >= PRICES["more people"]:
                continue
            if kits is None:
                found.append(who.change())
            else:
                found += self._with_own(number, who, kits) + self._with_lent(number, who, kits)
        return found

    def _free_kits(self, number: int, left: Mapping[int, str]) -> _FreeKits:
        """Kits that are there for a piece, charged for it; those too of who would leave a lesser post."""
        roster, piece = self.roster, self.roster.pieces[number]
        out: set[int] = set()
        stands_by: set[int] = set()
        drawn = roster.charge[number].copy()
        for one in self.busy:
            if one.kit is None:
                continue
            body = int(roster.body[one.kit])
            if one.meets(piece, 0 if one.post in (RESERVE, piece.post) else roster.terms.travel_min):
                (stands_by if one.post == RESERVE else out).add(body)
            drawn[body] += roster.charge[within(roster.pieces, one.post, one.start, one.end), one.kit].sum()
        own = [
            kit
            for kit in range(len(self.here.kits))
            if left.get(int(roster.owner[kit]))
            or (kit not in out and drawn[kit] <= max(1.0, roster.charge[number, kit]))
        ]
        says_no = self.here.kits["may_be_lent"].eq(False).fillna(False).tolist()
        askable = [
            kit
            for kit in own
            if kit not in out
            and not says_no[kit]
            and _is_sound(self.assessment, self.able, number, kit, LENT_OUT)
        ]
        lent_out = {kit for kit in askable if not _is_sound(self.assessment, self.able, number, kit)}
        return _FreeKits(own, askable, lent_out, stands_by)

    def _with_own(self, number: int, who: _Candidate, kits: _FreeKits) -> list[_Change]:
        """Somebody with each of their own kits, with what is mended there."""
        posts, post = self.here.posts, self.roster.pieces[number].post
        asked = words_of(posts["bands"][post]), words_of(posts["modes"][post])
        found = []
        for kit in kits.own:
            if self.roster.owner[kit] != who.member:
                continue
            rules = [self.assessment.rules[no] for no in self.able.blocking(number, kit)]
            if who.wrong:
                rules = [rule for rule in rules if not is_on_the_person(rule)]
            name = self.here.kits["kit"][kit]
            mended = [mended_by(rule, who.name, name, self.things, *asked) for rule in rules]
            kinds, words = [kind for kind, _ in mended], [said for _, said in mended]
            found.append(who.change(words, kinds, sum(PRICES[kind] for kind in kinds), kit))
        return found

    def _with_lent(self, number: int, who: _Candidate, kits: _FreeKits) -> list[_Change]:
        """Somebody with the lightest kit that another would lend, if the rules let them hold the piece with any."""
        others = [kit for kit in kits.askable if self.roster.owner[kit] != who.member]
        if not others or self._is_blocked(number, who.member):
            return []
        carried = self.roster.carried[number]
        kit = min(others, key=lambda kit: (kit in kits.lent_out, kit in kits.stands_by, carried[kit], kit))
        is_out, in_reserve = kit in kits.lent_out, kit in kits.stands_by
        words = [
            f"{_lender(self.here, kit)} to lend the kit {self.here.kits['kit'][kit]} to {who.name} for {who.post}",
            *(["call back what is on loan of it"] if is_out else []),
            *(["hold another station in reserve in its place"] if in_reserve else []),
        ]
        price = PRICES["borrow"] * (1 + is_out) + (PRICES["move"] if in_reserve else 0)
        return [who.change(words, price=price, kit=kit)._replace(kind="borrow")]

    def _is_blocked(self, number: int, member: int) -> bool:
        """Whether the rules block a person at a piece whatever they bring."""
        if self.roster.pieces[number].people == 1:
            return bool(self.against[int(self.able.judged.shift_of[number]), member])
        return any(answer == CANNOT for answer, *_ in self.able.beside_words.get((number, member), []))


def uncovered(
    assessment: Assessment, here: Event, roster: Roster, able: Ability, seated: Seated
) -> pd.DataFrame:
    """Open seats, critical posts first, each with why and the cheapest change that would fill it.

    The plan is kept as it stands and the rules are relaxed for those who are free: what blocks them is priced, and
    nobody and no kit is named twice for the same time.
    """
    seats = [
        (not roster.is_critical[piece.post], number, is_more)
        for number, piece in enumerate(roster.pieces)
        for is_more, count in ((False, seated.lead_open[number]), (True, seated.more_open[number]))
        for _ in range(round(count))
    ]
    if not seats:
        return pd.DataFrame([], columns=OPEN)
    alone_at = {
        int(able.judged.shift_of[number])
        for _, number, is_more in seats
        if not is_more and roster.pieces[number].people == 1
    }
    search = _Search(assessment, here, roster, able, seated, alone_at)
    told: dict[int, list[tuple[bool, str, _Change]]] = defaultdict(list)
    for _, number, is_more in sorted(seats):
        piece, change = roster.pieces[number], search.fill(number, not is_more)
        there = {one.member for one in search.placed if one.post == piece.post and one.meets(piece)}
        # a further seat where nobody leads is open for that reason alone
        is_told = not (is_more and seated.lead_open[number])
        why = _reason(assessment, roster, able, number, not is_more, there) if is_told else ""
        told[number].append((not is_more, why, change))
    rows = []
    for number, found in told.items():
        piece = roster.pieces[number]
        rows.append(
            (
                here.posts["post"][piece.post], here.moment(piece.start), here.moment(piece.end), len(found),
                any(is_lead for is_lead, *_ in found), roster.is_critical[piece.post],
                "; ".join(dict.fromkeys(why for _, why, _ in found if why)), "; ".join(dict.fromkeys(c.words for *_, c in found)),
                max((c for *_, c in found), key=lambda c: c.price).kind,
            )
        )  # fmt: skip
    return pd.DataFrame(rows, columns=OPEN)


def asks(assessment: Assessment, here: Event, roster: Roster, able: Ability, seated: Seated) -> pd.DataFrame:
    """Answers that the plan waits for: post, member, kit, kit_owner, ask; seats that are filled but rest on something not known.

    To answer costs less than any change: told as it is, the seat holds, or the next plan fills it otherwise.
    """
    held = [
        (row.post, row.member, row.kit, row.start, row.end) for row in roster.locked if row.answer == UNKNOWN
    ]
    held += [
        (c["post"], c["member"], c["kit"], c["start"], c["end"])
        for c in seated.chosen
        if c["seat"] < 2 and c["answer"] == UNKNOWN
    ]
    rows = []
    for post, member, kit, start, end in sorted(held, key=lambda row: (row[0], row[3], row[1])):
        inside = within(roster.pieces, post, start, end)
        said = [
            word
            for i in inside
            for answer, word, _ in [
                *able.person_words.get((i, member), []),
                *(able.beside_words.get((i, member), []) if kit is None else []),
            ]
            if answer == UNKNOWN
        ]
        if kit is not None:
            numbers = {number for i in inside for number in able.unknown(i, kit)}
            said += [assessment.rules[number].title.lower() for number in sorted(numbers)]
        name = here.members["member"][member]
        bag = None if kit is None else here.kits.iloc[roster.body[kit]]
        owner = None if bag is None or bag["member"] == name else bag["member"]
        rows.append(
            (here.posts["post"][post], name, None if bag is None else bag["kit"], owner, "; ".join(dict.fromkeys(said)))
        )  # fmt: skip
    return pd.DataFrame(rows, columns=["post", "member", "kit", "kit_owner", "ask"])


def _is_free(member: int, piece: Piece, busy: Sequence[_Stint], roster: Roster) -> bool:
    """Whether a person could be at a piece: no overlap, time for the way, and hours left in every day around it."""
    own = [one for one in busy if one.member == member]
    home = int(roster.way_min(member, piece.post))
    turn = Turn(piece.start - home, piece.start, piece.end, piece.end + home)
    turns = [turn]
    for one in own:
        there = 0 if one.post < 0 else int(roster.way_min(member, one.post))
        apart = home if one.post < 0 else abs(home - there)
        if one.meets(piece, 0 if one.post == piece.post else max(apart, roster.terms.travel_min)):
            return False
        if one.post != RESERVE:
            turns.append(Turn(one.start - there, one.start, one.end, one.end + there))
    day = next(day for day in roster.days(turns) if day.start <= piece.start < day.end)
    if day != turn and day.home - day.leaves > roster.longest_min:
        return False
    spans = [(one.start, one.end) for one in own if one.post >= 0] + [(piece.start, piece.end)]
    return all(
        sum(inside_min(start, end, at) for start, end in spans) <= roster.left_min(at)[member]
        for at in {*(start for start, _ in spans), *roster.turns}
    )


def _is_sound(assessment: Assessment, able: Ability, number: int, kit: int, beside: str = "") -> bool:
    """Whether nothing but who brings it, and a rule beside that, blocks a kit at a piece."""
    rules = [assessment.rules[no] for no in able.blocking(number, kit)]
    return all(is_on_the_person(rule) or rule.name == beside for rule in rules)


def _lender(here: Event, kit: int) -> str:
    """Whom to ask for a kit; the kit of someone who does not come can."""
    lender = here.kits["member"][kit]
    comes = here.members["is_available"][here.members["member"].eq(lender)].all()
    return f"ask {lender}" if comes else f"ask {lender}, who does not come,"


def _to_borrow(assessment: Assessment, event: str) -> dict[str, str]:
    """What can be lent for an event, by kind, in words; the club's own first."""
    things = loans.lendable(assessment, event).drop_duplicates("kind")
    return {
        row[
            "kind"
        ]: f"{'the club' if row['owner'] == 'club' else row['member']}'s {row['item']} ({row['member']}/{row['kit']})"
        for row in things.to_dict("records")
    }


def mended_by(
    rule: Rule, member: str, kit: str, things: Mapping[str, str], bands: set[str], modes: set[str]
) -> tuple[str, str]:
    """The kind of change that would put right what blocks a member's kit at a post, and the change in words.

    What blocks the person is nothing to mend: their limits are their own, and papers take longer than a season.

    Parameters
    ----------
    things : what can be borrowed, by kind, in words
    bands, modes : of the post
    """
    title = f"{rule.title[0].lower()}{rule.title[1:]}"
    if is_on_the_person(rule):
        return "more people", f"send somebody along with {member}, or in their place: {title}"
    wrong = f"{member}'s {kit}: {title}"
    usual = [rule.remedy.get("kind", "")]
    if rule.name == NO_MODE and not (modes - VOICE and modes - VOICE <= _modes(usual[0])):
        usual = []
    kinds = [*usual, *_radios(bands, modes)] if rule.name in (NO_BAND, NO_MODE) else usual
    for kind in kinds:
        if kind in things:
            return "borrow", f"borrow {things[kind]} for {wrong}"
    labels = reference.table("kinds").set_index("kind")["label"]
    for kind in kinds:
        if kind in labels.index:
            return "mend", f"add {labels[kind]} to {wrong}"
    if rule.name in (NO_BAND, NO_MODE):
        asked = " and ".join(sorted(bands | modes if rule.name == NO_MODE else bands))
        return "more people", f"find a radio for {asked} for {wrong}"
    return ("charge" if rule.family == "batteries" else "mend"), f"put right in {wrong}"


def _modes(kind: str) -> set[str]:
    """Modes that things of a kind usually do."""
    return words_of(reference.table("kinds").set_index("kind")["modes"].get(kind))


def _radios(bands: set[str], modes: set[str]) -> list[str]:
    """Kinds of radios that usually send on all of some bands in all of some modes, the cheapest first."""
    known = reference.table("kinds").sort_values(["price_low_usd", "kind"])
    is_radio = known["role"].eq("radio")
    return [
        kind
        for kind, reach in zip(known.loc[is_radio, "kind"], known.loc[is_radio, "bands"], strict=True)
        if bands <= words_of(reach) and modes <= _modes(kind)
    ]


def _reason(
    assessment: Assessment, roster: Roster, able: Ability, number: int, is_lead: bool, there: set[int]
) -> str:
    """Why a seat is open, in numbers of people and kits; `there` are the people at the post already."""
    if not is_lead:
        could = len({*np.flatnonzero(able.person[number] < CANNOT).tolist()} - there)
        if could == 0:
            return "nobody could take a further seat" + (" beside who is there" if there else "")
        return f"people who could take a further seat: {could}; all are elsewhere, resting or on their way"
    fit = able.lead[number] < CANNOT
    fit &= np.maximum(able.lead[number], able.person[number][roster.owner]) < CANNOT if len(fit) else fit
    owners = set(roster.owner[fit].tolist())
    if not owners:
        sound = len(
            {
                int(roster.body[kit])
                for kit in range(len(roster.owner))
                if _is_sound(assessment, able, number, kit)
            }
        )
        return f"nobody could lead it with a kit of their own; kits that could do it in other hands: {sound}"
    return f"people who could lead it with their kit: {len(owners)}; all are elsewhere or resting, or the kit is used up"
