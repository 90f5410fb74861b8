"""Every offer tried on every kit that could use its kind, then several together, each judged on a copy of the kit."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial

import numpy as np
import pandas as pd

from rules.engine import Assessment
from rules.plans import trials
from rules.plans.choosing import Lesson, Uses, Way
from rules.plans.offers import Offer, price_book
from rules.plans.purchases.fitting import STATION, Fitter
from rules.plans.purchases.wanted import Wanted, kits_at, short_pieces, short_wh, wanted_kinds
from rules.plans.shares import NONE, NOTHING, Counts, Share, by_kit, lacking, shares
from rules.plans.trials import Answers, Key
from rules.verdicts import VERDICTS

BATTERY, HOLDER = "battery", "fuse_holder"
MOST_OF_ONE = 4
OFFERS_TRIED_TOGETHER = 3
WAYS_A_KIT = 16
READY = VERDICTS.index("ready with limits")
BLOCKING = """
    select t.subject_id, ok, rule_no, j.subject_kind::varchar, coalesce(pk.post_id, j.subject_id), coalesce(pk.kit_id, 0)
    from bearing as t join judgement as j on j.subject_kind = t.from_kind and j.subject_id = t.from_id
    left join post_kit as pk on j.subject_kind = 'post_kit' and pk.post_kit_id = j.subject_id
    where t.subject_kind = 'post' and severity_no = 0 and ok is not true
"""


@dataclass(frozen=True)
class Effect:
    """What a change to some kits does, as judged; see `Way`."""

    closes: frozenset[Key]
    opens: frozenset[Key]
    risen: frozenset[tuple[str, int]]
    plugs: tuple[tuple[int, Counts], ...] = ()


@dataclass(frozen=True)
class Market:
    """All ways tried for all kits of a club, and what its findings weigh.

    kits, posts : only findings of these count; all unless given. judged : sets of ways, as judged on copies.
    lessons : what came out otherwise than each way alone promises.
    """

    assessment: Assessment = field(repr=False)
    offers: tuple[Offer, ...]
    ways: tuple[Way, ...]
    ways_tried: int
    weight: Mapping[int, float]
    gap: float
    before: Answers = field(repr=False)
    fitter: Fitter = field(repr=False)
    shares: tuple[Share, ...] = ()
    kits: frozenset[int] | None = None
    posts: frozenset[int] | None = None
    lessons: list[Lesson] = field(repr=False, default_factory=list, compare=False)
    judged: dict[frozenset[int], Effect] = field(repr=False, default_factory=dict, compare=False)

    def counts(self, key: Key) -> bool:
        """Whether a finding is of the kits and posts that are asked about; all unless some were named."""
        if self.kits is not None and not self.kits_of(key) & self.kits:
            return False
        return self.posts is None or key[1] not in ("post", "post_kit") or key[2] in self.posts

    def gap_of(self, keys: Iterable[Key]) -> float:
        """Weight of findings."""
        return sum(self.weight[key[0]] for key in keys)

    @cached_property
    def not_met(self) -> set[Key]:
        """The findings that are not met as the club stands."""
        return self.before.not_met()

    @cached_property
    def sent(self) -> dict[int, set[int]]:
        """The kits sent to each post."""
        return kits_at(self.assessment)

    @cached_property
    def posts_of(self) -> dict[int, set[int]]:
        """The posts that each kit is sent to."""
        found: dict[int, set[int]] = {}
        for post, kits in self.sent.items():
            for kit in kits:
                found.setdefault(kit, set()).add(post)
        return found

    def kits_of(self, key: Key) -> set[int]:
        """The kit that a finding is about; for one on a post, the kits sent there; for one on the club, none."""
        _, subject_kind, a, b = key
        if subject_kind == "club":
            return set()
        if subject_kind == "post":
            return self.sent.get(a, set())
        return {self.fitter.kit_of(a) if subject_kind == "item" else a if subject_kind == "kit" else b}

    def near(self, key: Key) -> set[int]:
        """Kits that bear on a finding: its own, and those sent to its post."""
        return self.kits_of(key) | (self.sent.get(key[2], set()) if key[1] == "post_kit" else set())

    def bears_on(self, kits: Iterable[int], key: Key) -> bool:
        """Whether a change to these kits can bear on a finding."""
        return not self.near(key).isdisjoint(kits)

    @cached_property
    def by_kit(self) -> dict[int, set[Key]]:
        """The findings not met that a change to each kit can bear on."""
        found: dict[int, set[Key]] = {}
        for key in self.not_met:
            for kit in self.near(key):
                found.setdefault(kit, set()).add(key)
        return found

    @cached_property
    def blocked(self) -> dict[int, frozenset[Key]]:
        """By post that is asked about and not ready: what is not met and blocks it; nothing where what is not known does too."""
        rows = self.assessment.tuples(BLOCKING)
        found: dict[int, set[Key]] = {}
        doubtful = set()
        for post, ok, *key in rows:
            found.setdefault(post, set()).add((key[0], key[1], key[2], key[3]))
            if ok is None:
                doubtful.add(post)
        return {
            post: frozenset() if post in doubtful else frozenset(keys)
            for post, keys in found.items()
            if self.posts is None or post in self.posts
        }

    @cached_property
    def stood(self) -> dict[tuple[str, int], str]:
        """Verdicts of kits and posts as the club stands."""
        rows = self.before.verdicts
        return dict(zip(zip(rows["subject_kind"], rows["a"], strict=True), rows["verdict"], strict=True))

    @cached_property
    def plugs_before(self) -> dict[tuple[int, int], dict[int, Counts]]:
        """What each kit counts for the club's shares, under (0, kit)."""
        return by_kit(self.before.plugs, self.shares)

    @cached_property
    def named(self) -> dict[str, dict[int, str]]:
        """Names of items, kits and posts by their number."""
        rows = self.assessment.tuples(
            "select subject_kind, subject_id, subject from subject where subject_kind in ('item', 'kit', 'post')"
        )
        found: dict[str, dict[int, str]] = {"item": {}, "kit": {}, "post": {}}
        for kind, number, name in rows:
            found[kind][int(number)] = str(name)
        return found

    def names(self, subject_kind: str) -> dict[int, str]:
        """Names of items, kits or posts by their number."""
        return self.named[subject_kind]

    def spoken(self, keys: Iterable[Key]) -> tuple[str, ...]:
        """Findings in words, the heaviest first."""
        said = []
        for rule_no, subject_kind, a, b in keys:
            if subject_kind == "post_kit":
                subject = f"{self.named['post'][a]} with {self.named['kit'][b]}"
            elif subject_kind == "club":
                subject = "the club"
            elif subject_kind == "item" and a not in self.named["item"]:
                number = self.fitter.offer_of((rule_no, subject_kind, a, b)) or 0
                subject = f"{self.named['kit'][self.fitter.kit_of(a)]}/{self.offers[number].offer} (added)"
            else:
                subject = self.named[subject_kind][a]
            said.append((-self.weight[rule_no], f"{subject}: {self.assessment.rules[rule_no].title}"))
        return tuple(text for _, text in sorted(said))


def market(assessment: Assessment, offers: pd.DataFrame | None = None, paid_by: str | None = None) -> Market:
    """Try every offer on every kit that could use its kind, then several together.

    Parameters
    ----------
    offers
        The told frame of offers.csv; kinds that it does not hold come from the planning prices.
    paid_by
        Only what the member, or the club, would pay; both unless given.
    """
    asked = shares(assessment)
    before = trials.standing(assessment, plugs=[share.plug for share in asked])
    wanted, lacks = wanted_kinds(assessment, before), lacking(assessment, asked)
    for kind, kits in (("connector_kit", lacks.contacts), ("rf_adapter_kit", lacks.adapters)):
        for kit_id in kits:
            wanted.setdefault(kit_id, {}).setdefault(kind, set())
    kinds_wanted = {kind for kinds in wanted.values() for kind in kinds}
    if any(kind.startswith(BATTERY) for kind in kinds_wanted):  # beside it a fuse is wanted
        kinds_wanted.add(HOLDER)
    if HOLDER in kinds_wanted:  # with a fuse in use spares are wanted
        kinds_wanted.add("fuse")
    book = price_book(offers, kinds_wanted)
    if paid_by is not None:
        book = tuple(offer for offer in book if offer.paid_by == paid_by)
        book = tuple(replace(offer, number=number) for number, offer in enumerate(book))
    fitter = Fitter(assessment, book, wanted, lacks, None)
    return _tried(assessment, before, wanted, book, fitter, asked, None, None)


def tried(
    assessment: Assessment, before: Answers, wanted: Wanted, book: tuple[Offer, ...], rows: pd.DataFrame,
    kits: frozenset[int], posts: frozenset[int],
) -> Market:  # fmt: skip
    """Try what is at hand already on the kits that want its kinds.

    Parameters
    ----------
    rows
        The things offered as rows of the table item, in the order of the book.
    kits, posts
        Count only findings of these.
    """
    fitter = Fitter(assessment, book, wanted, NOTHING, rows)
    return _tried(assessment, before, wanted, book, fitter, (), kits, posts)


def _tried(
    assessment: Assessment, before: Answers, wanted: Wanted, book: tuple[Offer, ...], fitter: Fitter,
    asked: tuple[Share, ...], kits: frozenset[int] | None, posts: frozenset[int] | None,
) -> Market:  # fmt: skip
    weight = {number: assessment.policy.weight[rule.severity] for number, rule in enumerate(assessment.rules)}
    empty = Market(assessment, book, (), 0, weight, 0.0, before, fitter, asked, kits, posts)
    alone = _alone(empty, wanted)
    singles = _ways(empty, alone)
    unfused = _unfused(empty, singles)
    together = [
        (kit_id, whole)
        for kit_id, uses in _combined(book, singles, weight)
        for whole in _with_holders(empty, kit_id, uses, unfused) or [uses]
    ]
    together += _with_their_spares(empty, singles)
    together += [
        (way.kit_id, uses)
        for way in singles
        if way.closes
        for uses in _with_holders(empty, way.kit_id, way.uses, unfused)
    ]
    pairs = _of_two_groups(book, [way for way in singles if way.kit_id in empty.posts_of], weight)
    effects = judged(
        empty, [*([one] for one in together), *([(w.kit_id, w.uses) for w in two] for two in pairs)]
    )
    combined = _as_ways(empty, together, effects)
    ways = [way for way in [*singles, *combined] if way.closes or _is_for_club(book, way)]
    place = {way: j for j, way in enumerate(ways)}
    learnt = {
        frozenset(map(place.__getitem__, two)): effect
        for two, effect in zip(pairs, effects[len(together) :], strict=True)
    }
    gap = empty.gap_of(key for key in empty.not_met if empty.counts(key))
    return replace(empty, ways=tuple(ways), ways_tried=len(alone) + len(together), gap=gap, judged=learnt)


def _is_for_club(book: Sequence[Offer], way: Way) -> bool:
    """Whether a way closes nothing of its kit's, but is contacts or adapters that the club's share counts."""
    return bool(way.plugs) and all(book[number].is_shared for number, _ in way.uses)


def _alone(of: Market, wanted: Wanted) -> list[tuple[int, Uses]]:
    """One offer on one kit that wants its kind, in each number worth trying."""
    by_kind: dict[str, list[Offer]] = {}
    for offer in of.offers:
        if offer.available != 0:
            by_kind.setdefault(offer.kind, []).append(offer)
    short, pieces = short_wh(of.assessment), short_pieces(of.assessment)
    rows = of.fitter.rows
    wh = (rows["capacity_ah"] * (rows["volts_min"] + rows["volts_max"]) / 2).tolist()
    return [
        (kit_id, ((offer.number, count),))
        for kit_id, kinds in sorted(wanted.items())
        for kind in sorted(kinds)
        for offer in by_kind.get(kind, ())
        for count in _counts(
            of.fitter, kit_id, offer, wh[offer.number], short.get(kit_id, 0.0), pieces.get((kit_id, kind), 1)
        )
    ]


def _counts(fitter: Fitter, kit_id: int, offer: Offer, wh: float, short: float, pieces: int) -> list[int]:
    """How many of an offer are tried: what a shared one must give; else one, the pieces short, and more of what stores Wh."""
    if offer.is_shared:
        return fitter.pieces(kit_id, offer)
    most = MOST_OF_ONE if offer.available is None else min(MOST_OF_ONE, offer.available)
    counts = {1, min(MOST_OF_ONE, pieces)}
    if wh > 0:
        counts |= {2, min(MOST_OF_ONE, int(np.ceil(short / wh)))}
    return sorted(count for count in counts if 1 <= count <= most)


def _ways(of: Market, tried_: Sequence[tuple[int, Uses]]) -> list[Way]:
    """Judge ways (kit_id, uses), each a trial of its own."""
    return _as_ways(of, tried_, judged(of, [[one] for one in tried_]))


def _as_ways(of: Market, tried_: Sequence[tuple[int, Uses]], effects: Sequence[Effect]) -> list[Way]:
    """Ways (kit_id, uses) with what they do, as judged; effects of more are left."""
    return [
        Way(kit_id, of.fitter.group_of(uses), uses, effect.closes, effect.opens, effect.risen, effect.plugs)
        for (kit_id, uses), effect in zip(tried_, effects, strict=False)
    ]


def judged(of: Market, sets: Sequence[Sequence[tuple[int, Uses]]]) -> list[Effect]:
    """What changes to some kits at once do: each set (kit_id, uses) is judged in a trial of its own."""
    if not sets:
        return []
    numbered = [(trial, kit_id, uses) for trial, one in enumerate(sets, 1) for kit_id, uses in one]
    frame = pd.DataFrame([row[:2] for row in numbered], columns=["trial", "kit_id"]).drop_duplicates()
    answers = trials.judge(
        of.assessment, frame, of.fitter.changes(numbered), plugs=[share.plug for share in of.shares]
    )
    bad: dict[int, set[Key]] = {}
    unknown: dict[int, set[Key]] = {}
    columns = [answers.open[name].tolist() for name in ("trial", "is_not_met", *trials.KEY)]
    for trial, is_not_met, rule_no, subject_kind, a, b in zip(*columns, strict=True):
        (bad if is_not_met else unknown).setdefault(trial, set()).add((rule_no, subject_kind, a, b))
    risen = _risen(of, answers)
    plugs = by_kit(answers.plugs, of.shares)
    found = []
    for trial, one in enumerate(sets, 1):
        kits = {kit_id for kit_id, _ in one}
        open_ = bad.get(trial, set())
        here = set().union(*(of.by_kit.get(kit_id, ()) for kit_id in kits))
        found.append(
            Effect(
                frozenset(filter(of.counts, here - open_ - unknown.get(trial, set()))),
                frozenset(key for key in open_ - of.not_met if of.bears_on(kits, key) and of.counts(key)),
                frozenset(
                    (kind, number)
                    for kind, number in risen.get(trial, ())
                    if kind == "post" or number in kits
                ),
                more_plugs(of, [(trial, kit_id) for kit_id in kits], plugs),
            )
        )
    return found


def _risen(of: Market, answers: Answers) -> dict[int, set[tuple[str, int]]]:
    """By trial: kits and posts (kind, number) that were not ready and are, with limits or without."""
    found: dict[int, set[tuple[str, int]]] = {}
    columns = [answers.verdicts[name].tolist() for name in ("trial", "subject_kind", "a", "verdict")]
    for trial, kind, number, verdict in zip(*columns, strict=True):
        if is_ready(verdict) and not is_ready(of.stood[kind, number]):
            found.setdefault(trial, set()).add((kind, number))
    return found


def is_ready(verdict: str) -> bool:
    """Whether a kit or post can be used, with limits or without."""
    return VERDICTS.index(verdict) >= READY


def more_plugs(
    of: Market, here: Iterable[tuple[int, int]], plugs: Mapping[tuple[int, int], Mapping[int, Counts]]
) -> tuple[tuple[int, Counts], ...]:
    """What kits (trial, kit_id) then count more for the club's shares."""
    found = []
    for share in of.shares:
        more = [0, 0, 0]
        for trial, kit_id in here:
            after = plugs.get((trial, kit_id), {}).get(share.rule_no, NONE)
            then = of.plugs_before.get((0, kit_id), {}).get(share.rule_no, NONE)
            more = [total + a - b for total, a, b in zip(more, after, then, strict=True)]
        if any(more):
            found.append((share.rule_no, (more[0], more[1], more[2])))
    return tuple(found)


# --- several offers together ---


def _cost(book: Sequence[Offer], uses: Uses) -> float:
    """Money (USD) for uses; a piece of an assortment at its share of the price."""
    return sum(book[number].price_usd * count / book[number].pieces for number, count in uses)


def _combined(
    book: Sequence[Offer], singles: Sequence[Way], weight: Mapping[int, float]
) -> list[tuple[int, Uses]]:
    """Ways worth trying together: at most one offer of each kind; those first that promise most for their money."""
    gain = partial(_gain, weight)
    of_kit: dict[int, dict[str, list[Way]]] = {}
    for way in singles:
        if way.group == STATION:
            of_kit.setdefault(way.kit_id, {}).setdefault(book[way.uses[0][0]].kind, []).append(way)
    found = []
    for kit_id, kinds in of_kit.items():
        menus = [_best(book, ways, gain) for ways in kinds.values()]
        combined = [
            tuple(way for way in picked if way is not None)
            for picked in itertools.islice(itertools.product(*([None, *menu] for menu in menus)), 4096)
        ]
        combined = [picked for picked in combined if len(picked) > 1]
        priced = [
            (_cost(book, tuple(use for way in picked for use in way.uses)), -gain(picked), picked)
            for picked in combined
        ]
        priced.sort(key=lambda row: row[:2])
        front: list[tuple[Way, ...]] = []
        rest: list[tuple[Way, ...]] = []
        best = 0.0
        for _, loss, picked in priced:
            (front if -loss > best else rest).append(picked)
            best = max(best, -loss)
        kept = [*front[::-1], *rest][:WAYS_A_KIT]
        found += [(kit_id, tuple(use for way in picked for use in way.uses)) for picked in kept]
    return found


def _with_their_spares(of: Market, singles: Sequence[Way]) -> list[tuple[int, Uses]]:
    """Ways that bring a fuse into use, each with spares for it: what a purchase asks for is bought with it."""
    return [
        (way.kit_id, uses)
        for way in singles
        if way.closes and way.opens
        for uses in of.fitter.with_spares(way.kit_id, way.uses)
    ]


def _unfused(of: Market, singles: Sequence[Way]) -> dict[tuple[int, Uses], int]:
    """By way (kit_id, uses) with a battery that nothing in the kit would fuse: the holders that its kit lacks without it."""
    asking = {number for number, rule in enumerate(of.assessment.rules) if rule.remedy.get("kind") == HOLDER}
    lacking = {kit: pieces for (kit, kind), pieces in short_pieces(of.assessment).items() if kind == HOLDER}
    return {
        (way.kit_id, way.uses): lacking.get(way.kit_id, 0)
        for way in singles
        if any(key[0] in asking for key in way.opens)
        or (way.kit_id in lacking and of.offers[way.uses[0][0]].kind.startswith(BATTERY))
    }


def _with_holders(of: Market, kit_id: int, uses: Uses, unfused: Mapping[tuple[int, Uses], int]) -> list[Uses]:
    """Things for a kit with a fuse holder for each battery that would have none, and spares for it.

    Empty where no battery among them wants one; the cheapest holders are taken.
    """
    bare = [use for use in uses if (kit_id, (use,)) in unfused]
    if not bare:
        return []
    pieces = sum(count for _, count in bare) + unfused[kit_id, (bare[0],)]
    holders = [
        offer
        for offer in sorted(of.offers, key=lambda offer: offer.price_usd)
        if offer.kind == HOLDER and (offer.available is None or offer.available >= pieces)
    ]
    fused = [(*uses, (offer.number, pieces)) for offer in holders[:OFFERS_TRIED_TOGETHER]]
    return [whole for one in fused for whole in of.fitter.with_spares(kit_id, one) or [one]]


def _of_two_groups(
    book: Sequence[Offer], singles: Sequence[Way], weight: Mapping[int, float]
) -> list[tuple[Way, Way]]:
    """Of each two groups of a kit the best way of either: what they weigh together may be too much for who carries it."""
    best: dict[int, dict[str, Way]] = {}
    for way in sorted(singles, key=lambda way: (-_gain(weight, [way]), _cost(book, way.uses))):
        if way.closes:
            best.setdefault(way.kit_id, {}).setdefault(way.group, way)
    return [two for ways in best.values() for two in itertools.combinations(ways.values(), 2)]


def _gain(weight: Mapping[int, float], ways: Sequence[Way]) -> float:
    """Weight that ways close, less what they open."""
    closes = frozenset().union(*(way.closes for way in ways))
    opens = frozenset().union(*(way.opens for way in ways))
    return sum(weight[key[0]] for key in closes) - sum(weight[key[0]] for key in opens)


def _best(book: Sequence[Offer], ways: Sequence[Way], gain: Callable[[Sequence[Way]], float]) -> list[Way]:
    """The offers of one kind worth trying with others: of those that close the same, the cheapest."""
    cheapest: dict[tuple[object, ...], Way] = {}
    for way in sorted(ways, key=lambda way: (len(way.opens), _cost(book, way.uses))):
        cheapest.setdefault((way.closes, way.plugs), way)
    return sorted(cheapest.values(), key=lambda way: (-gain([way]), _cost(book, way.uses)))[
        :OFFERS_TRIED_TOGETHER
    ]
