"""The lightest set of a kit's modules that still meets a post.

What stays at home must not matter: with the modules taken, every rule that blocks or limits and is in order with
the whole kit is still in order. The rules on the kit, on what is in it, and on the kit at this post count; those on
the hours that the kit sets itself do not, for the post sets the hours. Sets are judged by the rules on copies, the
lightest first; the first that meets the post is the lightest, since all that are lighter were judged before.
"""

from __future__ import annotations

import heapq
import itertools
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import pandas as pd

from rules.engine import SEVERITIES, Assessment
from rules.facts.posts import CARRIED, DAY_LOAD_KG
from rules.plans import trials
from rules.plans.trials import Changes

Fault = tuple[trials.Key, int]
"""A finding that is not known (0), and with it as 1 one that is not met."""
BATCH = 64
"""Sets judged in one copy; the first few are judged in smaller ones."""
MOST = 1 << 14


@dataclass(frozen=True)
class Module:
    """A bag or box of the kit and what it weighs (kg)."""

    module: str
    weight_kg: float
    items: int


@dataclass(frozen=True)
class LoadOut:
    """What to take to a post and what stays.

    is_proven : every lighter set was judged and fails. lacks : what the rules say against the kit there, with the
    modules taken; with `is_met` none of it blocks. unweighed : things that have no weight and count as 0 kg.
    packing : module, item, kind, quantity, weight_kg, line.
    """

    kit: str
    post: str
    take: tuple[Module, ...]
    stay: tuple[Module, ...]
    weight_kg: float
    whole_kg: float
    carry_limit_kg: float | None
    is_met: bool
    is_proven: bool
    sets_judged: int
    lacks: tuple[str, ...]
    unweighed: tuple[str, ...]
    packing: pd.DataFrame


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
    assessment: Assessment, kit_subject: str, post_subject: str, seconds: float = 20.0, batch: int = BATCH
) -> LoadOut:
    """The lightest modules of MEMBER/KIT that meet EVENT/POST, as judged.

    Parameters
    ----------
    seconds
        Time to search; after that the lightest set found so far, and is_proven is false.

    Raises
    ------
    LookupError
        There is no such kit or post.
    """
    kit_id, post_id = _find(assessment, "kit", kit_subject), _find(assessment, "post", post_subject)
    item = assessment.table("item")
    item = item[(item["kit_id"] == kit_id) & (item["condition"] != "removed")]
    is_sent = assessment.table("assignment").query("kit_id == @kit_id and post_id == @post_id").shape[0] > 0
    weighed = item.assign(weight_kg=item["weight_kg"].fillna(0.0) * item["quantity"])
    modules = [
        Module(str(name), round(float(part["weight_kg"].sum()), 3), int(part["quantity"].sum()))
        for name, part in weighed.groupby("module", sort=True)
    ]
    judge = _Judge(assessment, kit_id, post_id, item, [module.module for module in modules], is_sent)
    whole = tuple(range(len(modules)))
    judge.at_most = judge.bad([whole])[0]
    best, is_proven = _search(judge, [module.weight_kg for module in modules], whole, seconds, batch)
    after = judge.applied(best)
    taken = [modules[j] for j in best]
    packing = weighed[weighed["module"].isin([module.module for module in taken])]
    limit = assessment.con.cursor().execute(
        "select case when list_contains(?, p.access) then least(p.carry_limit_kg, coalesce(m.carry_limit_kg, ?)) end "
        "from post as p, kit join member as m using (member_id) where post_id = ? and kit_id = ?",
        [list(CARRIED), DAY_LOAD_KG, post_id, kit_id],
    ).fetchall()  # fmt: skip
    verdicts = {severity for severity, _ in after}
    return LoadOut(
        kit=kit_subject, post=post_subject, take=tuple(taken),
        stay=tuple(module for module in modules if module not in taken),
        weight_kg=round(sum(module.weight_kg for module in taken), 3),
        whole_kg=round(sum(module.weight_kg for module in modules), 3),
        carry_limit_kg=limit[0][0], is_met="blocks" not in verdicts, is_proven=is_proven, sets_judged=judge.judged,
        lacks=tuple(f"{severity}: {title}" for severity, title in after),
        unweighed=tuple(item.loc[item["weight_kg"].isna(), "item"]),
        packing=packing[["module", "item", "kind", "quantity", "weight_kg", "line"]].reset_index(drop=True),
    )  # fmt: skip


def _find(assessment: Assessment, subject_kind: str, subject: str) -> int:
    rows = assessment.con.cursor().execute(
        "select subject_id from subject where subject_kind = ? and subject = ?", [subject_kind, subject]
    )
    found = rows.fetchall()
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
        self.items = [item.loc[item["module"] == name, "item_id"].tolist() for name in modules]
        self.heard = {number for number, rule in enumerate(assessment.rules) if "kit_runtime" not in rule.sql}
        self.own = set(item["item_id"])
        self.at_most: frozenset[Fault] = frozenset()
        self.judged = 0

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

    def bad(self, sets: Sequence[tuple[int, ...]]) -> list[frozenset[Fault]]:
        """For each set, the findings that block or limit and are not in order."""
        frame = pd.DataFrame({"trial": range(1, len(sets) + 1), "kit_id": self.kit_id})
        found = trials.judge(self.assessment, frame, self.changes(sets)).open
        self.judged += len(sets)
        return [self._ours(found[found["trial"] == trial]) for trial in range(1, len(sets) + 1)]

    def meets(self, bad: frozenset[Fault]) -> bool:
        """Whether nothing is out of order that is in order with the whole kit."""
        return bad <= self.at_most

    def _ours(self, rows: pd.DataFrame) -> frozenset[Fault]:
        grave = rows[(rows["severity_no"] < SEVERITIES.index("advice")) & rows["rule_no"].isin(self.heard)]
        found = zip(
            zip(*(grave[name].tolist() for name in trials.KEY), strict=True),
            grave["is_not_met"].tolist(),
            strict=True,
        )
        return frozenset(
            (key, level) for key, is_not_met in found if self._is_ours(key) for level in range(1 + is_not_met)
        )

    def _is_ours(self, key: trials.Key) -> bool:
        _, subject_kind, a, b = key
        if subject_kind == "post_kit":
            return a == self.post_id and b == self.kit_id
        if subject_kind == "post":
            return False
        return a in self.own if subject_kind == "item" else a == self.kit_id

    def applied(self, picked: tuple[int, ...]) -> list[tuple[str, str]]:
        """What the rules say of the whole club with only these modules in the kit: severity and title, worst first."""
        rows = trials.standing(trials.whole(self.assessment, self.changes([picked], first=0))).open
        keys = self._ours(rows[rows["is_not_met"]])
        rules = [self.assessment.rules[key[0]] for key, _ in sorted(keys)]
        return sorted(
            {(rule.severity, rule.title) for rule in rules},
            key=lambda row: (SEVERITIES.index(row[0]), row[1]),
        )


def _search(
    judge: _Judge, weights: Sequence[float], whole: tuple[int, ...], seconds: float, batch: int
) -> tuple[tuple[int, ...], bool]:
    """The lightest set that meets the post, and whether all lighter ones were judged."""
    ends = time.perf_counter() + seconds
    best = whole if 2 ** len(whole) <= batch else _thinned(judge, weights, whole, ends)
    limit = sum(weights[j] for j in best)
    lighter = itertools.takewhile(lambda row: row[0] < limit - 1e-9, lightest_first(weights))
    waiting = (picked for _, picked in lighter)
    while sets := list(itertools.islice(waiting, batch)):
        if time.perf_counter() > ends or judge.judged > MOST:
            return best, False
        for picked, bad in zip(sets, judge.bad(sets), strict=True):
            if judge.meets(bad):
                return picked, True
    return best, True


def _thinned(judge: _Judge, weights: Sequence[float], whole: tuple[int, ...], ends: float) -> tuple[int, ...]:
    """The whole kit with one module after the other left out, the heaviest that can be first: a set to beat."""
    best = whole
    while time.perf_counter() < ends:
        without = [tuple(j for j in best if j != left) for left in sorted(best, key=lambda j: -weights[j])]
        fit = (
            [picked for picked, bad in zip(without, judge.bad(without), strict=True) if judge.meets(bad)]
            if without
            else []
        )
        if not fit:
            break
        best = fit[0]
    return best
