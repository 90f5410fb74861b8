"""What stays open, why, and the cheapest change that would fill it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from data import reference
from rules.engine import Assessment
from rules.plans import loans
from rules.plans.staffing.ability import Ability, Event, alone, is_on_the_person, words_of
from rules.plans.staffing.program import Seated
from rules.plans.staffing.roster import CANNOT, UNKNOWN, Piece, Roster, Turn, inside_min
from rules.rule import Rule

PRICES = {"charge": 2, "sign-off": 4, "borrow": 5, "move": 6, "mend": 8, "more people": 20}
"""How much a change asks for, to name the cheapest; common practice: words before work before money before people."""
NO_BAND, NO_MODE = "kit_without_the_band", "kit_without_the_mode"
"""The rules that another radio puts right, of a kind that the post's bands and modes decide."""
VOICE = {"fm", "ssb", "ssb_processed", "am", "digital_voice"}
"""Modes that no modem adds to a radio."""
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


@dataclass(frozen=True)
class _Change:
    price: int
    kind: str
    words: str
    member: int | None = None
    kit: int | None = None


def uncovered(
    assessment: Assessment, here: Event, roster: Roster, able: Ability, seated: Seated
) -> pd.DataFrame:
    """Open seats, critical posts first, each with why and the cheapest change that would fill it.

    The plan is kept as it stands and the rules are relaxed for those who are free: what blocks them is priced, and
    nobody and no kit is named twice for the same time.
    """
    busy: list[tuple[int, int | None, int, int, int]] = [
        (row.member, row.kit, row.post, row.start, row.end) for row in roster.locked
    ]
    busy += [
        (c["member"], c["kit"] if c["kit"] >= 0 else None, c["post"], c["start"], c["end"])
        for c in seated.chosen
    ]
    placed = list(busy)
    lesser = [row for row in busy[len(roster.locked) :] if row[2] >= 0 and not roster.is_critical[row[2]]]
    busy += [(member, None, -2, start - way, end + way) for member, start, end, way in roster.away]
    busy += [(-1, kit, -2, start, end) for kit, start, end in roster.kits_away]
    seats = [
        (not roster.is_critical[piece.post], number, is_lead)
        for number, piece in enumerate(roster.pieces)
        for is_lead, count in ((True, seated.lead_open[number]), (False, seated.more_open[number]))
        for _ in range(round(count))
    ]
    things = _to_borrow(assessment, here.name) if seats else {}
    by_one = {
        int(able.judged.shift_of[number])
        for _, number, is_lead in seats
        if is_lead and roster.pieces[number].people == 1
    }
    against = alone(assessment, here, able.judged, by_one) if by_one else {}
    told: dict[int, list[tuple[bool, str, _Change]]] = defaultdict(list)
    for _, number, is_lead in sorted(seats, key=lambda seat: (seat[0], seat[1], not seat[2])):
        piece = roster.pieces[number]
        free = [m for m in range(roster.members) if _is_free(m, piece, busy, roster)]
        left = dict.fromkeys(free, "")
        if roster.is_critical[piece.post]:
            for member in range(roster.members):
                given_up = [row for row in lesser if row[0] == member and row in busy]
                if member not in left and given_up:
                    rest = [row for row in busy if row not in given_up]
                    if _is_free(member, piece, rest, roster):
                        left[member] = " and ".join(
                            dict.fromkeys(here.posts["post"][row[2]] for row in given_up)
                        )
        options = _options(assessment, here, roster, able, number, is_lead, left, busy, things, against)
        change = min(options, key=lambda option: (option.price, option.member is None, option.words))
        if change.member is not None:
            if left[change.member]:
                busy = [row for row in busy if row[0] != change.member or row not in lesser]
            busy.append((change.member, change.kit, piece.post, piece.start, piece.end))
        # a further seat where nobody leads is open for that reason alone
        there = {
            who
            for who, _, post, start, end in placed
            if post == piece.post and start < piece.end and end > piece.start
        }
        why = (
            _reason(assessment, roster, able, number, is_lead, there)
            if is_lead or not seated.lead_open[number]
            else ""
        )
        told[number].append((is_lead, why, change))
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
        (c["post"], c["member"], c["kit"] if c["kit"] >= 0 else None, c["start"], c["end"])
        for c in seated.chosen
        if c["seat"] < 2 and c["answer"] == UNKNOWN
    ]
    rows = []
    for post, member, kit, start, end in sorted(held, key=lambda row: (row[0], row[3], row[1])):
        inside = [
            i for i, p in enumerate(roster.pieces) if p.post == post and start <= p.start and p.end <= end
        ]
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


def _is_free(
    member: int, piece: Piece, busy: list[tuple[int, int | None, int, int, int]], roster: Roster
) -> bool:
    """Whether a person could be at a piece: no overlap, time for the way, and hours left in every day around it."""
    own = [(post, start, end) for who, _, post, start, end in busy if who == member]
    home = int(roster.way_min(member, piece.post))
    turn = Turn(piece.start - home, piece.start, piece.end, piece.end + home)
    turns = [turn]
    for post, start, end in own:
        apart = home if post < 0 else abs(home - int(roster.way_min(member, post)))
        way = 0 if post == piece.post else max(apart, roster.terms.travel_min)
        if start < piece.end + way and end + way > piece.start:
            return False
        there = 0 if post < 0 else int(roster.way_min(member, post))
        if post != -1:
            turns.append(Turn(start - there, start, end, end + there))
    day = next(day for day in roster.days(turns) if day.start <= piece.start < day.end)
    if day != turn and day.home - day.leaves > roster.longest_min:
        return False
    spans = [(start, end) for post, start, end in own if post >= 0] + [(piece.start, piece.end)]
    return all(
        sum(inside_min(start, end, at) for start, end in spans) <= roster.left_min(at)[member]
        for at in {*(start for start, _ in spans), *roster.turns}
    )


def _options(
    assessment: Assessment, here: Event, roster: Roster, able: Ability, number: int, is_lead: bool,
    left: dict[int, str], busy: list[tuple[int, int | None, int, int, int]], things: Mapping[str, str],
    against: Mapping[tuple[int, int], list[int]],
) -> list[_Change]:  # fmt: skip
    """Every change that would fill one seat with somebody who is free, and the last resort.

    Parameters
    ----------
    left : the people, each with the lesser posts that they would have to leave for it ("" where none)
    things : what can be borrowed, by kind
    against : by sort of shift and person, the rules that block whoever holds it alone
    """
    piece = roster.pieces[number]
    post = here.posts["post"][piece.post]
    body, count = roster.body, len(here.kits)
    out: set[int] = set()
    stands_by: set[int] = set()
    for _, kit, at, start, end in busy:
        way = 0 if at in (-1, piece.post) else roster.terms.travel_min
        if kit is not None and start < piece.end + way and end + way > piece.start:
            (stands_by if at == -1 else out).add(int(body[kit]))
    drawn = roster.charge[number].copy()
    for _, kit, at, start, end in busy:
        if kit is not None:
            inside = [
                i for i, p in enumerate(roster.pieces) if p.post == at and start <= p.start and p.end <= end
            ]
            drawn[body[kit]] += roster.charge[inside, kit].sum()
    kits_in = [
        kit
        for kit in range(count)
        if left.get(int(roster.owner[kit]))
        or (kit not in out and drawn[kit] <= max(1.0, roster.charge[number, kit]))
    ]
    says_no = here.kits["may_be_lent"].eq(False).fillna(False).tolist()
    askable = [
        kit
        for kit in kits_in
        if kit not in out and not says_no[kit] and _is_sound(assessment, able, number, kit, LENT_OUT)
    ]
    lent_out = {kit for kit in askable if not _is_sound(assessment, able, number, kit)}
    found = [
        _Change(
            PRICES["more people"],
            "more people",
            f"find one more person for {post}: nobody is free who could take it",
        )
    ]
    for member, lesser in left.items():
        here_or_there = (
            able.lead_words.get((piece.post, member), [])
            if is_lead
            else able.beside_words.get((number, member), [])
        )
        wrong = [
            word
            for word in [*able.person_words.get((number, member), []), *here_or_there]
            if word[0] == CANNOT
        ]
        price = sum(PRICES[kind] for *_, kind in wrong) + (PRICES["move"] if lesser else 0)
        if price >= PRICES["more people"]:
            continue
        name = here.members["member"][member]
        what = [f"{name} {said}: sign them off, or send somebody along who is" for _, said, _ in wrong]
        if lesser:
            what.append(f"send {name} to {post} and leave {lesser} open")
        kind = wrong[0][2] if wrong else ""
        if not is_lead:
            found.append(_Change(price, kind or "move", "; ".join(what) or f"send {name} to {post}", member))
            continue
        for kit in kits_in:
            if roster.owner[kit] != member:
                continue
            rules = [assessment.rules[no] for no in able.blocking(number, kit)]
            if wrong:
                rules = [rule for rule in rules if not is_on_the_person(rule)]
            asked = words_of(here.posts["bands"][piece.post]), words_of(here.posts["modes"][piece.post])
            mended = [mended_by(rule, name, here.kits["kit"][kit], things, *asked) for rule in rules]
            kinds, words = [kind for kind, _ in mended], [*what, *(said for _, said in mended)]
            total = price + sum(PRICES[word] for word in kinds)
            found.append(
                _Change(
                    total,
                    max([kind, *kinds], key=lambda word: PRICES.get(word, 0)) or "move",
                    "; ".join(words) or f"send {name} to {post}",
                    member,
                    kit,
                )
            )
        others = [kit for kit in askable if roster.owner[kit] != member]
        if others and not _is_blocked(roster, able, number, member, against):
            lightest = min(
                others, key=lambda kit: (kit in lent_out, kit in stands_by, roster.carried[number, kit], kit)
            )
            kit_name, reserve = here.kits["kit"][lightest], lightest in stands_by
            words = [
                *what,
                f"{_lender(here, lightest)} to lend the kit {kit_name} to {name} for {post}",
                *(["call back what is on loan of it"] if lightest in lent_out else []),
                *(["hold another station in reserve in its place"] if reserve else []),
            ]
            total = (
                price + PRICES["borrow"] * (1 + (lightest in lent_out)) + (PRICES["move"] if reserve else 0)
            )
            found.append(_Change(total, "borrow", "; ".join(words), member, lightest))
    return found


def _is_sound(assessment: Assessment, able: Ability, number: int, kit: int, beside: str = "") -> bool:
    """Whether nothing but who brings it, and a rule beside that, blocks a kit at a piece."""
    rules = [assessment.rules[no] for no in able.blocking(number, kit)]
    return all(is_on_the_person(rule) or rule.name == beside for rule in rules)


def _is_blocked(
    roster: Roster, able: Ability, number: int, member: int, against: Mapping[tuple[int, int], list[int]]
) -> bool:
    """Whether the rules block a person at a piece whatever they bring."""
    if roster.pieces[number].people == 1:
        return bool(against[int(able.judged.shift_of[number]), member])
    return any(answer == CANNOT for answer, *_ in able.beside_words.get((number, member), []))


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
