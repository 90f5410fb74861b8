"""The lightest set of a kit's modules that still meets a post.

What stays at home must not matter: with the modules taken, every rule that blocks or limits and is in order with the whole
kit is still in order, and so is the advice on keeping people safe. A kit that is blocked as a whole, as one too heavy to
carry, is freed first, where some set frees it, with as few new limits as that takes. The rules on the kit, on what is in it,
on the post itself and on every kit there count, as one may run on another's generator; those on the hours that the kit sets
itself do not, for the post sets the hours. What blocks another kit there anyway is not for this one to free.

Sets are judged by the rules on copies. Where there are few, all that are lighter than the answer are judged. Where there are
many, an integer program proposes the lightest set that nothing judged so far rules out, until one meets the post: a finding
that stands in two judged sets, one within the other, is taken to stand in every set between them (combinatorial Benders cuts;
Codato and Fischetti, Operations Research 54, 2006).
"""

from __future__ import annotations

import heapq
import itertools
import random
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.optimize import Bounds, LinearConstraint, milp

from rules.engine import Assessment
from rules.facts.posts import CARRIED, OVER_NIGHT
from rules.plans import trials
from rules.plans.trials import Changes
from rules.verdicts import SEVERITIES

Fault = tuple[trials.Key, int]
"""A finding that is not known (0), and with it as 1 one that is not met."""
Picked = tuple[int, ...]
"""Modules by their places, in order."""
BATCH = 256
"""Sets judged in one copy; as many as there may be for each to be judged."""
PAIRS = 40
"""Up to so many modules, every two are left at home together before the first proposal."""
ORDERS = 4
"""Orders in which modules are put in and left out around a set that fails."""
NEAR = 16
"""Up to so many modules, a set that frees a blocked kit is tried with every two of them taken or left otherwise."""
GRAM = 0.001
SAFETY = "weather"
"""The family whose advice counts too: it is about the people at the post."""


@dataclass(frozen=True)
class Module:
    """A bag or box of the kit and what it weighs (kg)."""

    module: str
    weight_kg: float
    items: int


@dataclass(frozen=True)
class LoadOut:
    """What to take to a post and what stays.

    part : what may stay at home by itself, module or thing
    bound_kg : nothing lighter meets the post
    is_each_judged : every lighter set was judged by itself; else those between two judged sets with the same finding
        were not
    beside_kg : other kits that whoever carries this one carries there at the same time
    lacks : what the rules say against the kit and the post there, with the modules taken; with `is_met` none of it
        blocks
    unweighed : things that have no weight and count as 0 kg
    packing : module, item, kind, quantity, weight_kg, line
    is_freed : the whole kit is blocked there, and with the modules taken it is not
    """

    kit: str
    post: str
    part: str
    take: tuple[Module, ...]
    stay: tuple[Module, ...]
    weight_kg: float
    whole_kg: float
    beside_kg: float
    carry_limit_kg: float | None
    is_met: bool
    bound_kg: float
    is_each_judged: bool
    sets_judged: int
    lacks: tuple[str, ...]
    unweighed: tuple[str, ...]
    packing: pd.DataFrame
    is_freed: bool = False

    @property
    def carried_kg(self) -> float:
        """What is carried there in all."""
        return round(self.weight_kg + self.beside_kg, 3)

    @property
    def is_proven(self) -> bool:
        """Nothing lighter meets the post."""
        return self.bound_kg >= self.weight_kg - GRAM

    @property
    def gap_kg(self) -> float:
        """How much lighter another set may still be, kg."""
        return 0.0 if self.is_proven else self.weight_kg - self.bound_kg

    @property
    def blocked(self) -> str:
        """That something blocks whatever goes along, in words; empty where nothing does."""
        if self.is_met:
            return ""
        return (
            "The whole kit does not hold this post: what is said below blocks it. "
            "Leaving things at home makes that neither better nor worse."
        )

    @property
    def proof(self) -> str:
        """Whether another set may be lighter, in words."""
        judged = f"{self.sets_judged} set{'' if self.sets_judged == 1 else 's'} judged"
        if not self.is_proven:
            found = f"{judged} before time ran out: the lightest found so far. "
            if self.bound_kg < GRAM:
                return f"{found}How much lighter another one may be is not known."
            return f"{found}Another one may be up to {self.gap_kg:.1f} kg lighter."
        if self.is_each_judged:
            return f"{judged}; every lighter one fails, that is proven."
        return f"{judged}; every lighter one fails, or lies between two that fail for the same reason."


def lightest_first(weights: Sequence[float]) -> Iterator[tuple[float, tuple[int, ...]]]:
    """All subsets of things by total weight, the lightest first; ties in a fixed order.

    Each subset is reached once, from the one with its last thing left out or replaced by the one before it, so that
    only as many are made as are asked for.
    """
    order = sorted(range(len(weights)), key=lambda j: weights[j])
    sizes = [weights[j] for j in order]
    yield 0.0, ()
    if not sizes:
        return
    heap: list[tuple[float, tuple[int, ...]]] = [(sizes[0], (0,))]
    while heap:
        total, picked = heapq.heappop(heap)
        yield total, tuple(sorted(order[j] for j in picked))
        last = picked[-1] + 1
        if last < len(sizes):
            heapq.heappush(heap, (total + sizes[last], (*picked, last)))
            heapq.heappush(heap, (total + sizes[last] - sizes[last - 1], (*picked[:-1], last)))


def loadout(
    assessment: Assessment, kit_subject: str, post_subject: str, seconds: float = 20.0, batch: int = BATCH,
    is_by_thing: bool = False,
) -> LoadOut:  # fmt: skip
    """The lightest modules of MEMBER/KIT that meet EVENT/POST, as judged.

    Parameters
    ----------
    seconds
        Time to search; after that the lightest set found so far, and the gap.
    is_by_thing
        Each thing may stay at home by itself, whatever bag it lies in; a line of the inventory then stands for a module.

    Raises
    ------
    LookupError
        There is no such kit or post.
    """
    kit_id, post_id = _find(assessment, "kit", kit_subject), _find(assessment, "post", post_subject)
    item = assessment.table("item")
    item = item[(item["kit_id"] == kit_id) & (item["condition"] != "removed")]
    item = item.assign(
        part=item["item"] + " (line " + item["line"].astype(str) + ")" if is_by_thing else item["module"]
    )
    is_sent = assessment.table("assignment").query("kit_id == @kit_id and post_id == @post_id").shape[0] > 0
    weighed = item.assign(weight_kg=item["weight_kg"].fillna(0.0) * item["quantity"])
    modules = [
        Module(str(name), round(float(part["weight_kg"].sum()), 3), int(part["quantity"].sum()))
        for name, part in weighed.groupby("part", sort=True)
    ]
    judge = _Judge(assessment, kit_id, post_id, item, [module.module for module in modules], is_sent)
    weights = [module.weight_kg for module in modules]
    ends = time.perf_counter() + seconds
    judge.may_be_new = _new_limits(judge, weights, ends, batch)
    found = _search(judge, weights, ends, batch)
    after = judge.applied(found.best)
    taken = [modules[j] for j in found.best]
    packing = weighed[weighed["part"].isin([module.module for module in taken])]
    ((beside, limit),) = assessment.tuples(
        f"""
        select greatest(coalesce(pk.weighed_kg - h.weight_kg, 0), 0),
            case when pk.kit_id is not null then pk.carry_limit_kg
                 when {CARRIED.format("p")} then least(p.carry_limit_kg, coalesce(m.carry_limit_kg,
                     if({OVER_NIGHT.format("p.opens", "p.closes")}, $overnight_load_kg, $day_load_kg))) end
        from post as p cross join kit join member as m on m.member_id = kit.member_id join holding as h using (kit_id)
        left join post_kit as pk on pk.post_id = p.post_id and pk.kit_id = kit.kit_id
        where p.post_id = $post_id and kit.kit_id = $kit_id
        """,
        {"post_id": post_id, "kit_id": kit_id}
        | {name: float(assessment.policy.facts[name]) for name in ("overnight_load_kg", "day_load_kg", "night_until_h")},
    )  # fmt: skip
    verdicts = {severity for severity, _ in after}
    return LoadOut(
        kit=kit_subject, post=post_subject, part="thing" if is_by_thing else "module", take=tuple(taken),
        stay=tuple(module for module in modules if module not in taken),
        weight_kg=round(sum(module.weight_kg for module in taken), 3),
        whole_kg=round(sum(module.weight_kg for module in modules), 3),
        beside_kg=round(beside, 3), carry_limit_kg=limit, is_met="blocks" not in verdicts, bound_kg=round(found.bound_kg, 3),
        is_each_judged=found.is_each_judged, sets_judged=len(judge.known),
        lacks=tuple(f"{severity}: {title}" for severity, title in after),
        unweighed=tuple(item.loc[item["weight_kg"].isna(), "item"]),
        packing=packing[["module", "item", "kind", "quantity", "weight_kg", "line"]].reset_index(drop=True),
        is_freed=judge.may_be_new is not None and "blocks" not in verdicts,
    )  # fmt: skip


def _find(assessment: Assessment, subject_kind: str, subject: str) -> int:
    found = assessment.tuples(
        "select subject_id from subject where subject_kind = ? and subject = ?", [subject_kind, subject]
    )
    if not found:
        form = {"kit": "MEMBER/KIT as in inventory.csv", "post": "EVENT/POST as in posts.csv"}[subject_kind]
        raise LookupError(f'{subject_kind}: "{subject}" is not there. Write {form}.')
    return int(found[0][0])


class _Judge:
    """Judges sets of modules by what the rules say against the kit at the post."""

    def __init__(
        self, assessment: Assessment, kit_id: int, post_id: int, item: pd.DataFrame, modules: list[str], is_sent: bool
    ) -> None:  # fmt: skip
        self.assessment, self.kit_id, self.post_id, self.is_sent = assessment, kit_id, post_id, is_sent
        self.items = [item.loc[item["part"] == name, "item_id"].tolist() for name in modules]
        self.heard = {number for number, rule in enumerate(assessment.rules) if "kit_runtime" not in rule.sql}
        self.safety = {number for number, rule in enumerate(assessment.rules) if rule.family == SAFETY}
        self.on_posts = [number for number, rule in enumerate(assessment.rules) if rule.subject == "post"]
        self.own = set(item["item_id"])
        self.known: dict[Picked, frozenset[Fault]] = {}
        self.whole: Picked = tuple(range(len(modules)))
        self.may_be_new: frozenset[Fault] | None = None

    def changes(self, sets: Sequence[tuple[int, ...]], first: int = 1) -> Changes:
        """The copies that hold only these modules at the post."""
        left = [
            (trial, item_id)
            for trial, picked in enumerate(sets, first)
            for j, items in enumerate(self.items)
            if j not in picked
            for item_id in items
        ]
        made = Changes()
        if left:
            made.dropped = pd.DataFrame(left, columns=["trial", "item_id"])
        if not self.is_sent:
            made.sent = pd.DataFrame(
                {"trial": range(first, first + len(sets)), "kit_id": self.kit_id, "post_id": self.post_id}
            )
        return made

    def bad(self, sets: Sequence[Picked], batch: int = BATCH) -> list[frozenset[Fault]]:
        """For each set, what is not in order and counts; each set is judged once."""
        fresh = [picked for picked in dict.fromkeys(sets) if picked not in self.known]
        for at in range(0, len(fresh), batch):
            lot = fresh[at : at + batch]
            frame = pd.DataFrame({"trial": range(1, len(lot) + 1), "kit_id": self.kit_id})
            found = trials.judge(self.assessment, frame, self.changes(lot), self.on_posts).open
            for trial, picked in enumerate(lot, 1):
                self.known[picked] = self._ours(found[found["trial"] == trial])
        return [self.known[picked] for picked in sets]

    def faults(self, picked: Picked) -> frozenset[Fault]:
        """What is out of order with a set that is in order with the whole kit; with none it meets the post."""
        here, whole = self.bad([picked, self.whole])
        if self.may_be_new is None:
            return here - whole
        return frozenset(fault for fault in here if self.blocks(fault)) | (here - whole - self.may_be_new)

    def blocks(self, fault: Fault) -> bool:
        """Whether a finding is not met and blocks the kit there, or the post."""
        key, level = fault
        return level == 1 and self.assessment.rules[key[0]].severity == "blocks" and not self._is_others(key)

    def _is_others(self, key: trials.Key) -> bool:
        _, subject_kind, _, b = key
        return subject_kind == "post_kit" and b != self.kit_id

    def free(self) -> list[Picked]:
        """Of the sets judged so far those that nothing blocks, and of which no more is not known that might."""
        severity = [rule.severity for rule in self.assessment.rules]
        (whole,) = self.bad([self.whole])
        return [
            picked
            for picked, here in self.known.items()
            if not any(self.blocks(fault) for fault in here)
            and not any(severity[key[0]] == "blocks" for key, _ in here - whole)
        ]

    def _ours(self, rows: pd.DataFrame) -> frozenset[Fault]:
        counts = (rows["severity_no"] < SEVERITIES.index("advice")) | rows["rule_no"].isin(self.safety)
        grave = rows[counts & rows["rule_no"].isin(self.heard)]
        found = zip(
            zip(*(grave[name].tolist() for name in trials.KEY), strict=True),
            grave["is_not_met"].tolist(),
            strict=True,
        )
        return frozenset(
            (key, level) for key, is_not_met in found if self._is_ours(key) for level in range(1 + is_not_met)
        )

    def _is_ours(self, key: trials.Key) -> bool:
        _, subject_kind, a, _ = key
        if subject_kind in ("post_kit", "post"):
            return a == self.post_id
        return a in self.own if subject_kind == "item" else a == self.kit_id

    def applied(self, picked: tuple[int, ...]) -> list[tuple[str, str]]:
        """What the rules say against the kit and the post, of the whole club with only these modules: severity and title, worst first."""
        rows = trials.standing(
            trials.whole(self.assessment, self.changes([picked], first=0)), self.on_posts
        ).open
        keys = self._ours(rows[rows["is_not_met"]])
        rules = [self.assessment.rules[key[0]] for key, _ in sorted(keys) if not self._is_others(key)]
        return sorted(
            {(rule.severity, rule.title) for rule in rules},
            key=lambda row: (SEVERITIES.index(row[0]), row[1]),
        )


@dataclass(frozen=True)
class _Found:
    """The lightest set found, the least that any set weighs which meets the post (kg), and whether all were judged."""

    best: Picked
    bound_kg: float
    is_each_judged: bool


@dataclass(frozen=True, order=True)
class _Cut:
    """A finding stands in every set that holds all of `present` and none of `absent`; places as bits."""

    present: int
    absent: int


def _new_limits(judge: _Judge, weights: Sequence[float], ends: float, batch: int) -> frozenset[Fault] | None:
    """What a kit that is blocked as a whole may lack beside, so that a set of it is not: the fewest, of the lightest.

    None where nothing blocks the whole kit, or no set frees it. Among many modules those are left at home first that
    leave least to block, and from the set that frees it one goes on to better ones near it.
    """
    (whole,) = judge.bad([judge.whole])
    if not any(judge.blocks(fault) for fault in whole):
        return None
    places = range(len(weights))

    def rank(picked: Picked) -> tuple[int, float, Picked]:
        return len(judge.known[picked] - whole), round(_total(weights, picked), 6), picked

    if 2 ** len(weights) <= batch:
        judge.bad([picked for size in places for picked in itertools.combinations(places, size)], batch)
    else:
        light = [judge.whole]
        while light[-1] and not judge.free() and time.perf_counter() < ends:
            lot = [tuple(j for j in light[-1] if j != left) for left in light[-1]]
            judge.bad(
                [*lot, *itertools.combinations(places, len(weights) - 2)] if len(light) == 1 else lot, batch
            )
            light.append(
                min(lot, key=lambda picked: (sum(map(judge.blocks, judge.known[picked])), *rank(picked)))
            )
        best = min(judge.free(), key=rank, default=None)
        while best is not None and time.perf_counter() < ends:
            flips: list[tuple[int, ...]] = [(j,) for j in places]
            if len(weights) <= NEAR:
                flips += itertools.combinations(places, 2)
            judge.bad([tuple(sorted({*best} ^ {*flip})) for flip in flips], batch)
            better = min(judge.free(), key=rank)
            if better == best:
                break
            best = better
    best = min(judge.free(), key=rank, default=None)
    return None if best is None else judge.known[best] - whole


def _search(judge: _Judge, weights: Sequence[float], ends: float, batch: int) -> _Found:
    """The lightest set that meets the post: among few by judging all that are lighter, among many by cuts."""
    is_few = 2 ** len(weights) <= batch
    return (_one_by_one if is_few else _by_cuts)(judge, weights, ends, batch)


def _total(weights: Sequence[float], picked: Picked) -> float:
    return sum(weights[j] for j in picked)


def _one_by_one(judge: _Judge, weights: Sequence[float], ends: float, batch: int) -> _Found:
    """The first set, lightest first, that meets the post."""
    limit = _total(weights, judge.whole)
    lighter = itertools.takewhile(lambda row: row[0] < limit - GRAM / 2, lightest_first(weights))
    while lot := list(itertools.islice(lighter, batch)):
        if time.perf_counter() > ends:
            return _Found(judge.whole, lot[0][0], False)
        judge.bad([judge.whole, *(picked for _, picked in lot)], batch)
        for total, picked in lot:
            if not judge.faults(picked):
                return _Found(picked, total, True)
    return _Found(judge.whole, limit, True)


def _by_cuts(judge: _Judge, weights: Sequence[float], ends: float, batch: int) -> _Found:
    """Propose the lightest set that no cut rules out, judge it and what lies around it, until one meets the post."""
    chance, bound = random.Random(1), 0.0
    around = _to_begin_with(len(weights))
    while time.perf_counter() < ends:
        judge.bad([judge.whole, *around], batch)
        picked = _lightest(weights, _cuts(judge), ends)
        if picked is None:
            break
        bound = max(bound, _total(weights, picked))
        if picked in judge.known and not judge.faults(picked):
            break
        around = [picked, *_around(judge.whole, picked, chance)]
    fit = [picked for picked in {*judge.known, judge.whole} if not judge.faults(picked)]
    best = min(fit, key=lambda picked: (round(_total(weights, picked), 6), len(picked), picked))
    return _Found(best, min(bound, _total(weights, best)), False)


def _to_begin_with(count: int) -> list[Picked]:
    """Nothing, each module alone, and all but one or two."""
    whole = range(count)
    sizes = (0, 1, count - 1, count - 2) if count <= PAIRS else (0, 1, count - 1)
    return [picked for size in sizes for picked in itertools.combinations(whole, max(size, 0))]


def _around(whole: Picked, picked: Picked, chance: random.Random) -> Iterator[Picked]:
    """From a set towards the whole kit and towards nothing, one module after the other, in several orders."""
    inside, outside = list(picked), [j for j in whole if j not in picked]
    for _ in range(ORDERS):
        chance.shuffle(inside)
        chance.shuffle(outside)
        for count in range(1, len(outside)):
            yield tuple(sorted([*picked, *outside[:count]]))
        for count in range(1, len(inside)):
            yield tuple(sorted(inside[count:]))


def _cuts(judge: _Judge) -> list[_Cut]:
    """What the judged sets rule out: of each finding, all between the least and the widest sets in which it stands.

    Where a set between them was judged to meet the post, those between sets that are nearer to one another.
    """
    bits = {picked: sum(1 << j for j in picked) for picked in judge.known}
    whole = bits[judge.whole]
    stands: dict[Fault, set[int]] = {}
    fit: list[int] = []
    for picked, mask in bits.items():
        faults = judge.faults(picked)
        if not faults:
            fit.append(mask)
        for fault in faults:
            stands.setdefault(fault, set()).add(mask)
    cuts = set()
    for alike in {frozenset(masks) for masks in stands.values()}:
        widest: list[int] = []
        for mask in sorted(alike, key=int.bit_count, reverse=True):
            if not any(mask & other == mask for other in widest):
                widest.append(mask)
        least: list[int] = []
        for mask in sorted(alike, key=int.bit_count):
            if not any(mask & other == other for other in least):
                least.append(mask)
        spans = [(low, high) for high in widest for low in least if low & high == low]
        if any(_is_between(mask, *span) for span in spans for mask in fit):
            spans = _apart_from(alike, fit)
        cuts |= {_Cut(low, whole ^ high) for low, high in spans}
    return sorted(cuts)


def _is_between(mask: int, low: int, high: int) -> bool:
    """Whether a set (as bits) holds all of one set and nothing beyond another."""
    return low & mask == low and mask & high == mask


def _apart_from(alike: frozenset[int], fit: Sequence[int]) -> list[tuple[int, int]]:
    """Pairs of sets, the less first, with none that meets the post between them; those within others are left out."""
    found: list[tuple[int, int]] = []
    widest_first = sorted(alike, key=lambda mask: (-mask.bit_count(), mask))
    for low in reversed(widest_first):
        for high in widest_first:
            is_open = low & high == low and not any(_is_between(mask, low, high) for mask in fit)
            if is_open and not any(_is_between(low, *span) and _is_between(high, *span) for span in found):
                found.append((low, high))
    return found


def _lightest(weights: Sequence[float], cuts: Sequence[_Cut], ends: float) -> Picked | None:
    """The lightest set, and of those the one with the fewest modules, that no cut rules out; None when time is up."""
    places = np.arange(len(weights))
    cost = np.round(np.array(weights) / GRAM) * (len(weights) + 1) + 1
    rows = np.array(
        [[(cut.absent >> j & 1) - (cut.present >> j & 1) for j in places.tolist()] for cut in cuts], float
    )
    low = np.array([1 - cut.present.bit_count() for cut in cuts], float)
    answer = milp(
        cost,
        constraints=[LinearConstraint(rows, low, np.inf)] if cuts else [],
        integrality=np.ones(len(weights)),
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0.0, "time_limit": max(ends - time.perf_counter(), 0.01)},
    )
    if answer.status != 0:
        return None
    return tuple(places[answer.x > 0.5].tolist())
