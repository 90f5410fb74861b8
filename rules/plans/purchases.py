"""What to buy: the offers that close the most weighted gap for the money.

Every way of equipping a kit, one offer or several together, is first tried on a copy of the kit and judged by all
rules (`market`). An integer program then picks at most one way for each kit; what is shared out, as connector
contacts and fuses are, is bought in whole assortments. The plan is applied to a copy of the whole club and judged
again: where kits at one post gain less, or more, together than each alone, the program learns it and picks anew.

The gap is the sum of the policy's weights over findings that are not met: of items, kits and assigned kits at posts,
and of posts where a thing in a kit there mends it.
A purchase closes a finding that then is met or no longer asked, and counts against itself the findings that it opens.
"""

from __future__ import annotations

import itertools
import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from data import reference
from rules.engine import VERDICTS, Assessment
from rules.plans import trials
from rules.plans.choosing import Chosen, Together, Way, choose
from rules.plans.offers import SHARED, Offer, price_book
from rules.plans.tables import frame_csv
from rules.plans.trials import Answers, Changes, Key

LINK_KINDS = {
    "source": ("battery_lifepo4",),
    "radio": ("handheld",),
    "dc_path": ("dc_lead", "dc_adapter"),
    "antenna": ("jpole", "mag_mount"),
    "rf_path": ("coax", "rf_pigtail", "rf_adapter"),
}
"""Kinds that can give a kit the link that its station lacks (words of the fact station)."""
STATION = "station"
STATION_ROLES = frozenset(
    (
        "radio",
        "source",
        "pack",
        "lead",
        "converter",
        "charger",
        "solar",
        "antenna",
        "coax",
        "rf_adapter",
        "computer",
    )
)
MOST_OF_ONE = 4
OFFERS_TRIED_TOGETHER = 3
WAYS_A_KIT = 16
ROUNDS = 6
FUSE_RATINGS = 32
"""More than there are blade-fuse ratings; room for the new fuses of one kit."""
Wanted = dict[int, dict[str, set[int]]]
"""By kit and kind that could close something: the items that ask for it."""
READY = VERDICTS.index("ready with limits")


@dataclass(frozen=True)
class Line:
    """One line of the buy list. `for_whom` is the kit, or for what is shared every kit with its pieces."""

    offer: str
    kind: str
    units: int
    for_whom: str
    paid_by: str
    price_usd: float
    cost_usd: float
    is_estimate: bool
    closes: tuple[str, ...]
    opens: tuple[str, ...]
    posts: tuple[str, ...]


@dataclass(frozen=True)
class Plan:
    """What to buy, what it was promised to close and what the rules say once it is applied.

    is_proven : no pick of the ways tried closes more; else `bound` says how much more there may be at most.
    promised, judged : weighted gap closed; gap : the weighted gap before.
    """

    budget_usd: float
    spent_usd: float
    member_usd: float
    club_usd: float
    gap: float
    promised: float
    judged: float
    bound: float
    is_proven: bool
    ways_tried: int
    lines: tuple[Line, ...]
    closed: tuple[str, ...]
    opened: tuple[str, ...]
    kits_ready: tuple[str, ...]
    posts_opened: tuple[str, ...]
    posts_before: int
    posts_after: int
    ways: tuple[Way, ...] = field(repr=False, default=())


@dataclass(frozen=True)
class Market:
    """All ways tried for all kits of a club, and what its findings weigh."""

    assessment: Assessment = field(repr=False)
    offers: tuple[Offer, ...]
    ways: tuple[Way, ...]
    ways_tried: int
    weight: Mapping[int, float]
    gap: float
    before: Answers = field(repr=False)
    fitter: _Fitter = field(repr=False)
    kits: frozenset[int] | None = None
    posts: frozenset[int] | None = None

    def counts(self, key: Key) -> bool:
        """Whether a finding is of the kits and posts that are asked about; all unless some were named."""
        if self.kits is not None and not self.kits_of(key) & self.kits:
            return False
        return self.posts is None or key[1] not in ("post", "post_kit") or key[2] in self.posts

    def gap_of(self, keys: Iterable[Key]) -> float:
        """Weight of findings."""
        return sum(self.weight[key[0]] for key in keys)

    @cached_property
    def _sent(self) -> dict[int, set[int]]:
        return _kits_at(self.assessment)

    def kits_of(self, key: Key) -> set[int]:
        """The kit that a finding is about; for one on a post, the kits sent there."""
        _, subject_kind, a, b = key
        if subject_kind == "post":
            return self._sent.get(a, set())
        return {self.fitter.kit_of(a) if subject_kind == "item" else a if subject_kind == "kit" else b}

    def near(self, key: Key) -> set[int]:
        """Kits that bear on a finding: its own, and those sent to its post."""
        return self.kits_of(key) | (self._sent.get(key[2], set()) if key[1] == "post_kit" else set())

    def names(self, subject_kind: str) -> dict[int, str]:
        """Names of subjects by their number."""
        rows = self.assessment.con.cursor().execute(
            "select subject_id, subject from subject where subject_kind = ?", [subject_kind]
        )
        return {int(number): str(name) for number, name in rows.fetchall()}

    def spoken(self, keys: Iterable[Key]) -> tuple[str, ...]:
        """Findings in words, the heaviest first."""
        named = {kind: self.names(kind) for kind in ("item", "kit", "post")}
        said = []
        for rule_no, subject_kind, a, b in keys:
            if subject_kind == "post_kit":
                subject = f"{named['post'][a]} with {named['kit'][b]}"
            elif subject_kind == "item" and a not in named["item"]:
                number = self.fitter.offer_of((rule_no, subject_kind, a, b)) or 0
                subject = f"{named['kit'][self.fitter.kit_of(a)]}/{self.offers[number].offer} (new)"
            else:
                subject = named[subject_kind][a]
            said.append((-self.weight[rule_no], f"{subject}: {self.assessment.rules[rule_no].title}"))
        return tuple(text for _, text in sorted(said))


# --- trying every way ---


def wanted_kinds(assessment: Assessment, before: Answers) -> Wanted:
    """By kit: the kinds that could close something, with the items that ask for each."""
    kit_of_item = assessment.table("item").set_index("item_id")["kit_id"].to_dict()
    wanted: Wanted = {}
    in_doubt = set()
    sent = _kits_at(assessment)
    for rule_no, subject_kind, a, b in before.not_met():
        rule = assessment.rules[rule_no]
        if subject_kind == "post":
            for kit_id in sent.get(a, ()):
                wanted.setdefault(kit_id, {}).setdefault(str(rule.remedy["kind"]), set())
            continue
        kit_id = kit_of_item[a] if subject_kind == "item" else a if subject_kind == "kit" else b
        if kind := rule.remedy.get("kind"):
            wanted.setdefault(kit_id, {}).setdefault(kind, set()).update(
                {a} if subject_kind == "item" else ()
            )
        elif rule.family == "redundancy" and subject_kind == "kit":
            in_doubt.add(kit_id)
    station = assessment.table("station")
    for kit_id, link, spare in station[["kit_id", "missing_link", "spare_kind"]].itertuples(index=False):
        if kit_id in in_doubt:
            for kind in {*LINK_KINDS.get(link or "", ()), *({spare} if spare else ())}:
                wanted.setdefault(kit_id, {}).setdefault(kind, set())
    return wanted


def _kits_at(assessment: Assessment) -> dict[int, set[int]]:
    """The kits sent to each post."""
    rows = (
        assessment.con.cursor()
        .execute("select post_id, list(distinct kit_id) from assignment where kit_id is not null group by 1")
        .fetchall()
    )
    return {post: set(kits) for post, kits in rows}


def _short_wh(assessment: Assessment) -> dict[int, float]:
    """By kit: the most energy (Wh) that a rule with a remedy in Wh says is short."""
    short: dict[int, float] = {}
    for number, rule in enumerate(assessment.rules):
        if name := rule.remedy.get("capacity_wh"):
            kit = {
                "kit": "subject_id",
                "post_kit": "(select kit_id from post_kit where post_kit_id = subject_id)",
            }
            rows = (
                assessment.con.cursor()
                .execute(
                    f"select {kit[rule.subject]}, max(cast(json_extract_string(evidence, '$.{name}') as double)) "
                    f"from judgement where rule_no = {number} and not ok group by 1"
                )
                .fetchall()
            )
            for kit_id, wh in rows:
                short[kit_id] = max(short.get(kit_id, 0.0), wh or 0.0)
    return short


class _Fitter:
    """Turns a way of equipping a kit into changed rows."""

    def __init__(
        self, assessment: Assessment, offers: Sequence[Offer], wanted: Wanted, rows: pd.DataFrame | None
    ) -> None:
        self.offers = offers
        self.kit = assessment.table("kit").set_index("kit_id").assign(no=lambda kit: range(len(kit)))
        self.wanted = wanted
        self.role = reference.kinds().set_index("kind")["role"].to_dict()
        item = assessment.table("item")
        self.kit_of_item: dict[int, int] = dict(
            zip(item["item_id"].tolist(), item["kit_id"].tolist(), strict=True)
        )
        self.next_item = int(item["item_id"].max()) + 1 if len(item) else 1
        self.next_line = int(item["line"].max()) + 1 if len(item) else 2
        self.rows = (
            trials.filled([self._told(offer, assessment) for offer in offers]) if rows is None else rows
        )
        self._club_plugs(assessment, item)
        self._spare_fuses(assessment, item)

    @staticmethod
    def _told(offer: Offer, assessment: Assessment) -> dict[str, Any]:
        """A new piece: acquired, and charged where it can be, on the day of the review."""
        today = pd.Timestamp(assessment.today)
        is_store = offer.attributes.get("capacity_ah") is not None or offer.kind.startswith(
            ("battery", "handheld_pack")
        )
        return {
            "line": 1, "file": "offers", "member": "OFFER", "kit": str(offer.number), "item": offer.offer, "kind": offer.kind,
            "quantity": 1, "module": None, "spare": False, "condition": "ok", "acquired": today,
            "charged": today if is_store else None, "owner": "club" if offer.paid_by == "club" else "member",
            "cost_usd": offer.price_usd, **offer.attributes,
        }  # fmt: skip

    def _club_plugs(self, assessment: Assessment, item: pd.DataFrame) -> None:
        """Plug of the club's family that each item would get: the smallest that carries its current."""
        family = next(
            (
                assessment.policy.value(rule.name, "club_family", rule.param["club_family"].value)
                for rule in assessment.rules
                if "club_family" in rule.param
            ),
            "genderless",
        )
        plugs = reference.table("connectors")
        plugs = plugs[plugs["family"] == family].sort_values("rating_a")
        self.plug_of: dict[int, str] = {}
        current = item.set_index("item_id")[["amps_tx", "amps_rated"]].max(axis=1)
        usual = str(plugs["plug"].iloc[min(1, len(plugs) - 1)])
        for item_id in {one for kinds in self.wanted.values() for one in kinds.get("connector_kit", ())}:
            fit = plugs[plugs["rating_a"] >= current[item_id]]["plug"]
            self.plug_of[item_id] = usual if usual in set(fit) or fit.empty else str(fit.iloc[0])

    def _spare_fuses(self, assessment: Assessment, item: pd.DataFrame) -> None:
        """Pieces that each kit lacks of each fuse rating in use."""
        rule = next(
            (
                rule
                for rule in assessment.rules
                if rule.remedy.get("kind") == "fuse" and "least" in rule.param
            ),
            None,
        )
        least = int(assessment.policy.value(rule.name, "least", rule.param["least"].value)) if rule else 0
        fuses = item[(item["role"] == "fuse") & item["is_usable"] & item["amps_rated"].notna()]
        used = fuses[~fuses["is_spare"]].groupby("kit_id")["amps_rated"].unique()
        spare = fuses[fuses["is_spare"]].groupby(["kit_id", "amps_rated"])["quantity"].sum()
        self.short_fuses = {
            kit_id: {
                amps: least - int(spare.get((kit_id, amps), 0))
                for amps in sorted(ratings)
                if spare.get((kit_id, amps), 0) < least
            }
            for kit_id, ratings in used.items()
        }

    def kit_of(self, item_id: int) -> int:
        """The kit of an item that is there or would be new."""
        if item_id in self.kit_of_item:
            return self.kit_of_item[item_id]
        return int(self.kit.index[(item_id - self.next_item) // (len(self.offers) * FUSE_RATINGS)])

    def offer_of(self, key: Key) -> int | None:
        """The number of the offer that a finding on a new item is about."""
        if key[1] != "item" or key[2] in self.kit_of_item:
            return None
        return (key[2] - self.next_item) // FUSE_RATINGS % len(self.offers)

    def group_of(self, uses: Sequence[tuple[int, int]]) -> str:
        """STATION for what plugs together and may change each other's worth; else the kind."""
        kind = self.offers[uses[0][0]].kind
        return STATION if kind in SHARED or self.role[kind] in STATION_ROLES else kind

    def pieces(self, kit_id: int, offer: Offer) -> int:
        """Pieces of a shared offer that the kit needs; 0 when it would not help."""
        if offer.kind == "fuse":
            return sum(self._fuses(kit_id, offer).values())
        return len(self.wanted[kit_id].get("connector_kit", ()))

    def _fuses(self, kit_id: int, offer: Offer) -> dict[float, int]:
        rating = offer.attributes.get("amps_rated")
        short = self.short_fuses.get(kit_id, {})
        return {amps: number for amps, number in short.items() if rating in (None, amps)}

    def changes(self, numbered: Iterable[tuple[int, int, Sequence[tuple[int, int]]]]) -> Changes:
        """The rows of trials (trial, kit_id, uses)."""
        added: list[tuple[int, int, int, int, bool, float | None]] = []
        replugged: list[tuple[int, int, str]] = []
        for trial, kit_id, uses in numbered:
            for number, count in uses:
                offer = self.offers[number]
                if offer.kind == "connector_kit":
                    items = self.wanted[kit_id]["connector_kit"]
                    replugged += [(trial, one, self.plug_of[one]) for one in items]
                elif offer.kind == "fuse":
                    fuses = self._fuses(kit_id, offer).items()
                    added += [(trial, kit_id, number, pieces, True, amps) for amps, pieces in fuses]
                else:
                    added.append((trial, kit_id, number, count, False, None))
        made = Changes()
        if replugged:
            made.replugged = pd.DataFrame(replugged, columns=["trial", "item_id", "dc_plug"])
        if added:
            picked = pd.DataFrame(
                added, columns=["trial", "kit_id", "number", "quantity", "is_spare", "amps"]
            )
            rows = self.rows.iloc[picked["number"].to_numpy()].reset_index(drop=True)
            for name in ("kit_id", "quantity", "is_spare"):
                rows[name] = picked[name]
            kit = self.kit.loc[picked["kit_id"]]
            rows["member_id"], rows["module"] = kit["member_id"].to_numpy(), kit["kit"].to_numpy()
            rows["amps_rated"] = picked["amps"].where(picked["amps"].notna(), rows["amps_rated"])
            slot = self._slots(picked)
            rows["item_id"], rows["line"] = self.next_item + slot, self.next_line + slot
            rows.insert(0, "trial", picked["trial"])
            made.added = rows
        return made

    def _slots(self, picked: pd.DataFrame) -> pd.Series:
        """A number for each new thing that is the same in every trial of the kit and in the whole copy."""
        rating = pd.Series(pd.factorize(picked["amps"], sort=True)[0], index=picked.index) + 1
        wide = len(self.offers) * FUSE_RATINGS
        slots: pd.Series = (
            self.kit["no"].loc[picked["kit_id"]].to_numpy() * wide + picked["number"] * FUSE_RATINGS + rating
        )
        return slots


def _try(
    assessment: Assessment,
    fitter: _Fitter,
    before: Answers,
    tried: Sequence[tuple[int, tuple[tuple[int, int], ...]]],
) -> list[Way]:
    """Judge ways (kit_id, uses), all in one copy."""
    if not tried:
        return []
    numbered = [(trial, kit_id, uses) for trial, (kit_id, uses) in enumerate(tried, 1)]
    frame = pd.DataFrame([row[:2] for row in numbered], columns=["trial", "kit_id"])
    answers = trials.judge(assessment, frame, fitter.changes(numbered))
    not_met = before.not_met()
    scope = _scopes(assessment, not_met)
    after: dict[int, tuple[set[Key], set[Key]]] = {}
    columns = [answers.open[name].tolist() for name in ("trial", *trials.KEY, "is_not_met")]
    for trial, rule_no, subject_kind, a, b, is_not_met in zip(*columns, strict=True):
        bad, unknown = after.setdefault(trial, (set(), set()))
        (bad if is_not_met else unknown).add((rule_no, subject_kind, a, b))
    stood = dict(
        zip(
            zip(before.verdicts["subject_kind"], before.verdicts["a"], strict=True),
            before.verdicts["verdict"],
            strict=True,
        )
    )
    can: dict[int, tuple[bool, set[int]]] = {}
    for trial, kind, a, verdict in answers.verdicts[["trial", "subject_kind", "a", "verdict"]].itertuples(
        index=False
    ):
        is_now = VERDICTS.index(verdict) >= READY and VERDICTS.index(stood[kind, a]) < READY
        is_ready, posts = can.get(trial, (False, set()))
        if is_now and kind == "post":
            posts = posts | {a}
        can[trial] = (is_ready or (is_now and kind == "kit" and a == tried[trial - 1][0]), posts)
    found = []
    for trial, kit_id, uses in numbered:
        bad, unknown = after.get(trial, (set(), set()))
        ready, posts = can.get(trial, (False, set()))
        closes = frozenset(scope.get(kit_id, set()) - bad - unknown)
        found.append(
            Way(
                kit_id, fitter.group_of(uses), uses, closes, frozenset(bad - not_met), ready, frozenset(posts)
            )
        )
    return found


def _scopes(assessment: Assessment, keys: Iterable[Key]) -> dict[int, set[Key]]:
    """By kit: the findings that a change to the kit can bear on: its own, and those of its posts and of kits there."""
    kit_of_item = assessment.table("item").set_index("item_id")["kit_id"].to_dict()
    own: dict[int, set[Key]] = {}
    of_posts: dict[int, set[Key]] = {}
    for key in keys:
        _, subject_kind, a, b = key
        if subject_kind == "post":
            of_posts.setdefault(a, set()).add(key)
            continue
        own.setdefault(
            kit_of_item[a] if subject_kind == "item" else a if subject_kind == "kit" else b, set()
        ).add(key)
    of_post = _kits_at(assessment)
    posts_of: dict[int, set[int]] = {}
    for post, kits in of_post.items():
        for kit in kits:
            posts_of.setdefault(kit, set()).add(post)
    found = {}
    for kit_id in assessment.table("kit")["kit_id"]:
        here = posts_of.get(kit_id, set())
        near = {kit for post in here for kit in of_post[post]} | {kit_id}
        found[kit_id] = {
            key
            for kit in near
            for key in own.get(kit, ())
            if kit == kit_id or key[1] != "post_kit" or key[2] in here
        }.union(*(of_posts.get(post, ()) for post in here))
    return found


def market(assessment: Assessment, offers: pd.DataFrame | None = None, paid_by: str | None = None) -> Market:
    """Try every offer on every kit that could use its kind, then several together.

    Parameters
    ----------
    offers
        The told frame of offers.csv; kinds that it does not hold come from the planning prices.
    paid_by
        Only what the member, or the club, would pay; both unless given.
    """
    before = trials.standing(assessment)
    wanted = wanted_kinds(assessment, before)
    book = price_book(offers, {kind for kinds in wanted.values() for kind in kinds})
    if paid_by is not None:
        book = tuple(offer for offer in book if offer.paid_by == paid_by)
        book = tuple(replace(offer, number=number) for number, offer in enumerate(book))
    return tried(assessment, before, wanted, book)


def tried(
    assessment: Assessment, before: Answers, wanted: Wanted, book: tuple[Offer, ...], rows: pd.DataFrame | None = None,
    kits: frozenset[int] | None = None, posts: frozenset[int] | None = None,
) -> Market:  # fmt: skip
    """Try what a price book holds on the kits that want its kinds.

    Parameters
    ----------
    rows
        The things offered as rows of the table item, in the order of the book; new ones of the kind unless given.
    kits, posts
        Count only findings of these; all unless given.
    """
    fitter = _Fitter(assessment, book, wanted, rows)
    by_kind: dict[str, list[Offer]] = {}
    for offer in book:
        if offer.available != 0:
            by_kind.setdefault(offer.kind, []).append(offer)
    short_wh = _short_wh(assessment)
    nominal_v = (fitter.rows["volts_min"] + fitter.rows["volts_max"]) / 2
    wh = (fitter.rows["capacity_ah"] * nominal_v).tolist()
    alone = [
        (kit_id, ((offer.number, count),))
        for kit_id, kinds in sorted(wanted.items())
        for kind in sorted(kinds)
        for offer in by_kind.get(kind, ())
        for count in _counts(fitter, kit_id, offer, wh[offer.number], short_wh.get(kit_id, 0.0))
    ]
    weight = {number: assessment.policy.weight[rule.severity] for number, rule in enumerate(assessment.rules)}
    empty = Market(assessment, book, (), 0, weight, 0.0, before, fitter, kits, posts)

    def counted(ways: Sequence[Way]) -> list[Way]:
        if kits is None and posts is None:
            return list(ways)
        keep = empty.counts
        return [
            replace(way, closes=frozenset(filter(keep, way.closes)), opens=frozenset(filter(keep, way.opens)))
            for way in ways
        ]

    singles = counted(_try(assessment, fitter, before, alone))
    together = _combined(book, singles, weight)
    ways = [way for way in [*singles, *counted(_try(assessment, fitter, before, together))] if way.closes]
    gap = empty.gap_of(key for key in before.not_met() if empty.counts(key))
    return replace(empty, ways=tuple(ways), ways_tried=len(alone) + len(together), gap=gap)


def _counts(fitter: _Fitter, kit_id: int, offer: Offer, wh: float, short_wh: float) -> list[int]:
    """How many of an offer are tried: what a shared one must give; else one, and more of what stores energy."""
    if offer.is_shared:
        needed = fitter.pieces(kit_id, offer)
        return [needed] if needed else []
    most = MOST_OF_ONE if offer.available is None else min(MOST_OF_ONE, offer.available)
    counts = {1}
    if wh > 0:
        counts |= {2, min(MOST_OF_ONE, int(np.ceil(short_wh / wh)))}
    return sorted(count for count in counts if 1 <= count <= most)


def _cost(book: Sequence[Offer], uses: Iterable[tuple[int, int]]) -> float:
    """Money (USD) for uses; a piece of an assortment at its share of the price."""
    return sum(book[number].price_usd * count / book[number].pieces if book[number].is_shared else book[number].price_usd * count
               for number, count in uses)  # fmt: skip


def _combined(
    book: Sequence[Offer], singles: Sequence[Way], weight: Mapping[int, float]
) -> list[tuple[int, tuple[tuple[int, int], ...]]]:
    """Ways worth trying together: at most one offer of each kind; those first that promise most for their money."""

    def gain(ways: Sequence[Way]) -> float:
        closes = frozenset().union(*(way.closes for way in ways))
        opens = frozenset().union(*(way.opens for way in ways))
        return sum(weight[key[0]] for key in closes) - sum(weight[key[0]] for key in opens)

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
            (_cost(book, [use for way in picked for use in way.uses]), -gain(picked), picked)
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


def _best(book: Sequence[Offer], ways: Sequence[Way], gain: Any) -> list[Way]:
    """The offers of one kind worth trying with others: of those that close the same, the cheapest."""
    cheapest: dict[frozenset[Key], Way] = {}
    for way in sorted(ways, key=lambda way: (len(way.opens), _cost(book, way.uses))):
        cheapest.setdefault(way.closes, way)
    return sorted(cheapest.values(), key=lambda way: (-gain([way]), _cost(book, way.uses)))[
        :OFFERS_TRIED_TOGETHER
    ]


# --- the plan ---


def plan(
    assessment: Assessment, offers: pd.DataFrame | None, budget_usd: float, seconds: float = 10.0,
    of: Market | None = None,
) -> Plan:  # fmt: skip
    """What to buy within a budget (USD), whoever pays; promised figures are those judged on a copy of the whole club.

    Parameters
    ----------
    offers
        The told frame of offers.csv, or None for planning prices alone.
    seconds
        Time for the solver; after that the best plan so far with its bound.
    of
        The market of this club, where it is at hand already.

    Raises
    ------
    ValueError
        The budget is not a number of at least 0.
    """
    if not 0 <= budget_usd < np.inf:
        raise ValueError(f"budget: {budget_usd:g} is not an amount of money. Write USD, for example 1500.")
    of = of or market(assessment, offers)
    return _told(of, budget_usd, *settled(of, budget_usd, seconds))


def settled(of: Market, budget_usd: float, seconds: float) -> tuple[Chosen, Assessment, set[Key], set[Key]]:
    """What is chosen, the club judged with it, and the findings closed and opened there.

    The choice is made anew with what the last one taught, until promise and judgement agree. Where they still do not
    after ROUNDS, the choice that was judged best stands, at its judged figure and without proof.
    """
    ends = time.perf_counter() + seconds
    together: list[Together] = []
    best: tuple[float, Chosen, Assessment, set[Key], set[Key]] | None = None
    for _ in range(ROUNDS):
        left = max(ends - time.perf_counter(), 0.5)
        chosen = choose(of.offers, of.ways, of.weight, budget_usd, left, together)
        after, closed, opened = _applied(of, chosen.ways)
        more = _learnt(of, chosen.ways, closed, opened, together)
        if not more:
            return chosen, after, closed, opened
        together += more
        judged = of.gap_of(closed) - of.gap_of(opened)
        if best is None or judged > best[0]:
            best = judged, replace(chosen, promised=judged, is_proven=False), after, closed, opened
    assert best is not None
    return best[1:]


def _applied(of: Market, ways: Sequence[Way]) -> tuple[Assessment, set[Key], set[Key]]:
    """The club judged with the ways applied, and the findings that are closed and opened."""
    changes = of.fitter.changes([(0, way.kit_id, way.uses) for way in ways])
    after = trials.whole(of.assessment, changes)
    found = trials.standing(after)
    stood = of.before.not_met()
    closed, opened = stood - found.keys(), found.not_met() - stood
    return after, set(filter(of.counts, closed)), set(filter(of.counts, opened))


def risen(before: Answers, after: Assessment) -> set[tuple[str, int]]:
    """Kits and posts (kind, number) that were not ready and are, with limits or without."""
    both = before.verdicts.merge(
        trials.standing(after).verdicts, on=["subject_kind", "a"], suffixes=("", "_after")
    )
    rank = {word: number for number, word in enumerate(VERDICTS)}
    both = both[(both["verdict"].map(rank) < READY) & (both["verdict_after"].map(rank) >= READY)]
    return set(zip(both["subject_kind"], both["a"].astype(int), strict=True))


def _learnt(
    of: Market, ways: Sequence[Way], closed: set[Key], opened: set[Key], known: Sequence[Together]
) -> list[Together]:
    """Findings that came out otherwise than the program counted, with the chosen ways that bear on each."""
    place = {way: j for j, way in enumerate(of.ways)}
    chosen = frozenset(place[way] for way in ways)
    counted: dict[Key, float] = {}
    for key in frozenset().union(*(way.closes for way in ways)):
        counted[key] = of.weight[key[0]]
    for key in frozenset().union(*(way.opens for way in ways)):
        counted[key] = -of.weight[key[0]]
    for joint in known:
        if joint.places <= chosen:
            counted[joint.key] = counted.get(joint.key, 0.0) + joint.more
    came = {key: of.weight[key[0]] for key in closed} | {key: -of.weight[key[0]] for key in opened}
    found = []
    for key in sorted(counted.keys() | came.keys()):
        more = came.get(key, 0.0) - counted.get(key, 0.0)
        if abs(more) > 1e-9:
            near = of.near(key)
            bearing = frozenset(j for j in chosen if of.ways[j].kit_id in near) or chosen
            found.append(Together(bearing, key, more))
    return found


def _told(
    of: Market, budget_usd: float, chosen: Chosen, after: Assessment, closed: set[Key], opened: set[Key]
) -> Plan:
    """The plan in words."""
    lines = _lines(of, chosen.ways)
    up = risen(of.before, after)
    kits, post_names = of.names("kit"), of.names("post")
    paid = {who: sum(line.cost_usd for line in lines if line.paid_by == who) for who in ("member", "club")}
    return Plan(
        budget_usd=budget_usd, spent_usd=sum(paid.values()), member_usd=paid["member"], club_usd=paid["club"],
        gap=of.gap, promised=chosen.promised, judged=of.gap_of(closed) - of.gap_of(opened),
        bound=chosen.bound, is_proven=chosen.is_proven, ways_tried=of.ways_tried, lines=lines,
        closed=of.spoken(closed), opened=of.spoken(opened),
        kits_ready=tuple(sorted(kits[a] for kind, a in up if kind == "kit")),
        posts_opened=tuple(sorted(post_names[a] for kind, a in up if kind == "post")),
        posts_before=_posts_ready(of.before), posts_after=_posts_ready(trials.standing(after)),
        ways=chosen.ways,
    )  # fmt: skip


def _posts_ready(answers: Answers) -> int:
    posts = answers.verdicts[answers.verdicts["subject_kind"] == "post"]
    return int(posts["verdict"].isin(VERDICTS[READY:]).sum())


def _lines(of: Market, ways: Sequence[Way]) -> tuple[Line, ...]:
    """The buy list: one line per kit and offer, and one per assortment for all who share it."""
    kits, posts = of.names("kit"), of.names("post")
    alone = {(way.kit_id, way.uses[0]): way for way in of.ways if len(way.uses) == 1}
    lines, shared = [], dict[int, list[tuple[int, int, frozenset[Key], frozenset[Key], frozenset[int]]]]()
    for way in sorted(ways, key=lambda way: kits[way.kit_id]):
        singly = [
            alone[way.kit_id, use].closes if (way.kit_id, use) in alone else frozenset() for use in way.uses
        ]
        joint = way.closes - frozenset().union(*singly)
        for (number, count), single in zip(way.uses, singly, strict=True):
            offer, closes = of.offers[number], (single & way.closes) | joint
            if offer.is_shared:
                shared.setdefault(number, []).append((way.kit_id, count, closes, way.opens, way.posts))
                continue
            opens = frozenset(key for key in way.opens if of.fitter.offer_of(key) in (None, number))
            lines.append(
                _line(of, offer, count, kits[way.kit_id], closes, opens, (posts[a] for a in way.posts))
            )
    for number, takers in sorted(shared.items()):
        offer = of.offers[number]
        units = -(-sum(count for _, count, *_ in takers) // offer.pieces)
        whom = ", ".join(f"{kits[kit_id]} {count}" for kit_id, count, *_ in takers)
        closes = frozenset().union(*(row[2] for row in takers))
        opens = frozenset(key for row in takers for key in row[3] if of.fitter.offer_of(key) == number)
        opened = {posts[a] for row in takers for a in row[4]}
        lines.append(_line(of, offer, units, f"shared: {whom}", closes, opens, opened))
    return tuple(lines)


def _line(
    of: Market,
    offer: Offer,
    units: int,
    whom: str,
    closes: Iterable[Key],
    opens: Iterable[Key],
    posts: Iterable[str],
) -> Line:
    return Line(
        offer.offer, offer.kind, units, whom, offer.paid_by, offer.price_usd, units * offer.price_usd, offer.is_estimate,
        of.spoken(closes), of.spoken(opens), tuple(sorted(posts)),
    )  # fmt: skip


def frontier(of: Market, budgets: Iterable[float], seconds: float = 10.0) -> pd.DataFrame:
    """Readiness against money: the best pick for each budget (USD), within `seconds` of solving in all.

    Each pick is judged on a copy of the whole club, as a plan is. Where a larger budget was judged to close less than
    a smaller one, which happens only without proof, the smaller one's pick stands.

    Returns
    -------
    DataFrame
        budget_usd, spent_usd, gap_closed (weight, as judged), gap_share, kits_ready and posts_opened (that were not
        ready and are), is_proven, bound.
    """
    told = sorted(set(budgets))
    rows: list[dict[str, Any]] = []
    picked: frozenset[Way] | None = None
    ends = time.perf_counter() + seconds
    for number, budget in enumerate(told):
        share = max((ends - time.perf_counter()) / (len(told) - number), 0.1)
        first = choose(of.offers, of.ways, of.weight, budget, share)
        if picked == frozenset(first.ways):  # what was judged already
            rows.append(rows[-1] | {"budget_usd": budget, "is_proven": first.is_proven, "bound": first.bound})
            continue
        chosen, after, closed, opened = settled(of, budget, share)
        picked, judged = frozenset(chosen.ways), of.gap_of(closed) - of.gap_of(opened)
        if rows and judged < rows[-1]["gap_closed"]:
            rows.append(rows[-1] | {"budget_usd": budget, "is_proven": False, "bound": chosen.bound})
            continue
        up = risen(of.before, after)
        rows.append(
            {
                "budget_usd": budget, "spent_usd": sum(line.cost_usd for line in _lines(of, chosen.ways)),
                "gap_closed": judged, "gap_share": judged / of.gap if of.gap else 0.0,
                "kits_ready": sum(kind == "kit" for kind, _ in up),
                "posts_opened": sum(kind == "post" for kind, _ in up),
                "is_proven": chosen.is_proven, "bound": chosen.bound,
            }
        )  # fmt: skip
    return pd.DataFrame(rows)


# --- export ---


def buy_list_csv(of: Plan) -> bytes:
    """The buy list as CSV, UTF-8 with byte-order mark; no cell begins a formula."""
    frame = pd.DataFrame([vars(line) for line in of.lines], columns=list(Line.__dataclass_fields__))
    for name in ("closes", "opens", "posts"):
        frame[name] = frame[name].map("; ".join)
    frame["price_from"] = frame.pop("is_estimate").map({True: "planning estimate", False: "offer"})
    return frame_csv(frame)
