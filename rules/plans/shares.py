"""What the club asks of all its gear together: a share of its things that one family of plugs fits."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

from data import reference
from rules.engine import Assessment
from rules.plans.trials import Key, Plug

Counts = tuple[int, int, int]
"""Things, of these fitted, and of these not told; or how many more of each."""
NONE: Counts = (0, 0, 0)
POWER, ANTENNA = "power", "antenna"


@dataclass(frozen=True)
class Share:
    """A rule on the club that asks for a share of `things` with plugs of a family; its remedy says which `sort`."""

    rule_no: int
    plug: Plug
    least: float
    counts: Counts

    @property
    def key(self) -> Key:
        return self.rule_no, "club", 0, 0

    def answer(self, more: Counts = NONE) -> bool | None:
        """Whether the share is reached with so many more, as the rule answers."""
        things, fitted, untold = (a + b for a, b in zip(self.counts, more, strict=True))
        if things == 0 or fitted / things >= self.least:
            return True
        return False if (fitted + untold) / things < self.least else None

    def surely(self, more: Counts) -> float:
        """How far things so many more move the club to its aim (in things; 0 is the aim), by what is told."""
        return more[1] - self.least * more[0]

    def possibly(self, more: Counts) -> float:
        """As `surely`, if all that is not told fits."""
        return more[1] + more[2] - self.least * more[0]


@dataclass(frozen=True)
class Lacking:
    """What stands between the club and its shares, by kit.

    contacts : items without the club's power plug. adapters : plugs of both ends, one adapter for each plug in the
    kit that is not the club's antenna plug.
    """

    contacts: Mapping[int, list[int]]
    adapters: Mapping[int, list[tuple[str, str]]]


NOTHING = Lacking({}, {})


def shares(assessment: Assessment) -> tuple[Share, ...]:
    """The rules on shares, with what the club has now."""
    found = []
    for number, rule in enumerate(assessment.rules):
        if sort := rule.remedy.get("share"):
            family, least = (
                assessment.policy.value(rule.name, name, rule.param[name].value)
                for name in ("club_family", "least_share")
            )
            rows = assessment.tuples(
                "select count(*), count(*) filter (list_contains(families, $family)), "
                "count(*) filter (families is null) from shared_plug where sort = $sort",
                {"sort": sort, "family": family},
            )
            found.append(Share(number, (sort, str(family)), float(least), rows[0]))
    return tuple(found)


def lacking(assessment: Assessment, of: Iterable[Share]) -> Lacking:
    """What could be fitted for the shares that are not reached."""
    contacts: dict[int, list[int]] = {}
    adapters: dict[int, list[tuple[str, str]]] = {}
    plugs = reference.table("connectors").set_index("plug")
    mating = reference.table("mating").query("mates")
    pairs = [*zip(mating["plug_a"], mating["plug_b"], strict=True)]
    mates = {
        one: other
        for pair in pairs
        for one, other in (pair, pair[::-1])
        if plugs["family"].get(one) == plugs["family"].get(other)
    }
    for share in of:
        if share.answer() is not False:
            continue
        sort, family = share.plug
        rows = assessment.tuples(
            "select s.kit_id, s.item_id, i.rf_plug from shared_plug as s join item as i using (item_id) "
            "where s.sort = $sort and not coalesce(list_contains(s.families, $family), false) order by all",
            {"sort": sort, "family": family},
        )
        own = plugs[plugs["family"] == family]
        for kit_id, item_id, plug in rows:
            if sort == POWER:
                contacts.setdefault(kit_id, []).append(item_id)
            elif sort == ANTENNA and plug in mates:
                alike = own[own["gender"] == plugs.loc[plug, "gender"]].index
                ends = (mates[plug], str((alike if len(alike) else own.index)[0]))
                if ends not in adapters.setdefault(kit_id, []):
                    adapters[kit_id].append(ends)
    return Lacking(contacts, {kit_id: sorted(ends) for kit_id, ends in adapters.items()})


def by_kit(plugs: pd.DataFrame, of: tuple[Share, ...]) -> dict[tuple[int, int], dict[int, Counts]]:
    """Of the frame `Answers.plugs`, by trial and kit: what each share counts there, by the number of its rule."""
    found: dict[tuple[int, int], dict[int, Counts]] = {}
    for trial, kit_id, place, *counts in plugs.itertuples(index=False):
        found.setdefault((trial, kit_id), {})[of[place].rule_no] = (counts[0], counts[1], counts[2])
    return found
