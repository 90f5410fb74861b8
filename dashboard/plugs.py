"""Whose battery and antenna work at whose radio: plugs and leads of the whole club, compared pair by pair of kits."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd

from dashboard import parts
from dashboard.palette import WAYS
from dashboard.standing import Standing
from data import plain_words
from rules.engine import Assessment

AS_THEY_ARE, ADAPTED, NOT_KNOWN, NOT_AT_ALL = WAYS
NOT_TOLD = "plug not told"
TOO_FINE = re.compile(r" \([^)]*\)|5\.5 x ")  # of a plug's name, for two of them on one line of a phone
PAIR, PLUGS = ["from", "to"], ["plug", "radio"]
Ends = tuple[str, str]  # plugs at the two ends of a lead


@dataclass(frozen=True)
class Gear:
    """What kits can lend one another, and with what it is joined.

    Queries: `pairs` gives kit_id and plug of what is lent, kit_id and plug of the main radio of another kit that it suits, as
    `pairs` does; `links` kit_id and the two plugs of what joins them. Volts and bands that are not told are taken to suit.
    """

    name: str
    shared: str
    pairs: str
    links: str


BATTERIES = Gear(
    "battery",
    "power",
    """
    select distinct b.kit_id as "from", b.dc_plug as plug, s.kit_id as "to", r.dc_plug as radio
    from item as b join supply as s on s.kit_id <> b.kit_id join item as r on r.item_id = s.radio_item_id
    where b.is_usable and b.role = 'source' and b.chemistry is not null and s.is_main and not s.is_handheld
        and coalesce(b.volts_max >= r.volts_min, true) and coalesce(b.volts_min <= r.volts_max, true)
    """,
    """
    select distinct kit_id, dc_plug, dc_plug_far from item
    where is_usable and role = 'lead' and kind <> 'extension_cord'
    """,
)
ANTENNAS = Gear(
    "antenna",
    "antennas",
    """
    select distinct a.kit_id as "from", a.rf_plug as plug, s.kit_id as "to", r.rf_plug as radio
    from item as a join supply as s on s.kit_id <> a.kit_id join item as r on r.item_id = s.radio_item_id
    where a.is_usable and a.role = 'antenna' and s.is_main and (s.is_handheld or a.kind <> 'whip')
        and coalesce(list_has_any(string_split(a.bands, ' '), string_split(r.bands, ' ')), true)
    """,
    "select distinct kit_id, rf_plug, rf_plug_far from item where is_usable and role in ('coax', 'rf_adapter')",
)
GEAR = {gear.name: gear for gear in (BATTERIES, ANTENNAS)}


@dataclass(frozen=True)
class Plugs:
    """What mates with what, and the leads of each kit and of them all."""

    mates: dict[str, frozenset[str]]
    leads: dict[int, frozenset[Ends]]
    has_open_lead: frozenset[int]

    def of(self, kit: int) -> tuple[frozenset[Ends], bool]:
        """The leads of a kit, and whether it has one of which an end is not told."""
        return self.leads.get(kit, frozenset()), kit in self.has_open_lead

    def reached(self, plugs: Iterable[str], leads: Iterable[Ends]) -> frozenset[str]:
        """Plugs to which these lead, by any run of the leads."""
        found, ways = set(plugs), [*leads, *((far, near) for near, far in leads)]
        while True:
            more = {far for near, far in ways if self.mates.get(near, frozenset()) & found} - found
            if not more:
                return frozenset(found)
            found |= more

    def fits(self, plugs: Iterable[str], other: str) -> bool:
        """Whether one of the plugs goes into the other."""
        return bool(self.mates.get(other, frozenset()) & set(plugs))


def pairs(now: Standing, gear: Gear, hidden: Collection[str] = ()) -> pd.DataFrame:
    """Each plug of a kit's batteries or antennas with the main radio of every other kit that it suits by volts or bands.

    A handheld takes only packs of its own family and is left out of batteries. `as they are`: plugs mate directly or through
    the leads of the two kits; `with a club adapter`: through one more lead or adapter that somebody of the club has.

    Parameters
    ----------
    hidden
        Members whose kits are left out.

    Returns
    -------
    from, to (kit_id), plug, radio (kind of plug and its gender, in plain words), way (a word of WAYS); one row per kit, kind
    of its plugs, and other kit.
    """
    asked = ("plugs", gear.name, frozenset(hidden))
    return now.kept.once(asked, lambda: _pairs(now.assessment, gear, frozenset(hidden)))


def _pairs(assessment: Assessment, gear: Gear, hidden: frozenset[str]) -> pd.DataFrame:
    named = assessment.frame("select kit_id, member from kit")
    seen = set(named.loc[~named["member"].isin(hidden), "kit_id"])
    rows = assessment.frame(gear.pairs)
    rows = rows[rows["from"].isin(seen) & rows["to"].isin(seen)]
    plugs = _plugs(
        assessment.tuples("select plug_a, plug_b from mating where mates"),
        (row for row in assessment.tuples(gear.links) if row[0] in seen),
    )
    every = frozenset(ends for own in plugs.leads.values() for ends in own)

    @cache
    def way(plug: str | None, radio: str | None, own: frozenset[Ends], is_open: bool) -> str:
        if plug is None or radio is None:
            return NOT_KNOWN
        out, back = plugs.reached([plug], own), plugs.reached([radio], own)
        if plugs.fits(out, radio):
            return AS_THEY_ARE
        for near, far in every:
            if (plugs.fits(out, near) and plugs.fits(back, far)) or (
                plugs.fits(out, far) and plugs.fits(back, near)
            ):
                return ADAPTED
        return NOT_KNOWN if is_open else NOT_AT_ALL

    equipped = list(
        dict.fromkeys(plugs.of(kit) for kit in seen)
    )  # kits with the same leads are asked about once
    place = {own: number for number, own in enumerate(equipped)}
    alike = {kit: place[plugs.of(kit)] for kit in seen}
    rows = rows.assign(one=rows["from"].map(alike), other=rows["to"].map(alike))
    asked = rows[[*PLUGS, "one", "other"]].drop_duplicates()
    asked["way"] = pd.Categorical(
        [
            way(plug, radio, equipped[one][0] | equipped[other][0], equipped[one][1] or equipped[other][1])
            for plug, radio, one, other in asked.replace({np.nan: None}).itertuples(index=False)
        ],
        list(WAYS),
        ordered=True,
    )
    found = rows.merge(asked, on=[*PLUGS, "one", "other"])
    sides = {plug: TOO_FINE.sub("", name) for plug, name in plain_words.sides().items()}
    for column in PLUGS:
        found[column] = found[column].map(sides).fillna(NOT_TOLD).astype("category")
    return _best(found, [*PAIR, *PLUGS])


def _plugs(mating: Iterable[Ends], leads: Iterable[tuple[int, str | None, str | None]]) -> Plugs:
    mates: dict[str, set[str]] = {}
    for a, b in mating:
        mates.setdefault(a, set()).add(b)
        mates.setdefault(b, set()).add(a)
    own: dict[int, set[Ends]] = {}
    opened = set()
    for kit, near, far in leads:
        if near is None or far is None:
            opened.add(kit)
        else:
            own.setdefault(kit, set()).add((near, far))
    return Plugs(
        {plug: frozenset(others) for plug, others in mates.items()},
        {kit: frozenset(ends) for kit, ends in own.items()},
        frozenset(opened),
    )


def _best(rows: pd.DataFrame, by: list[str]) -> pd.DataFrame:
    """For each group the best of its ways."""
    return rows.groupby(by, as_index=False, observed=True)["way"].min()


def title(rows: pd.DataFrame, gear: Gear) -> str:
    """What the comparison comes to, as its finding; `rows` as of `pairs`, at least one."""
    told = rows[(rows["plug"] != NOT_TOLD) & (rows["radio"] != NOT_TOLD)]
    best = _best(told, ["to", "radio"])
    apart = best[best["way"] == NOT_AT_ALL]
    if not apart.empty:
        every = best["radio"].nunique()
        verb = "keeps" if apart["radio"].nunique() == 1 else "keep"
        return (
            f"{apart['radio'].nunique()} of {parts.many(every, 'kind of plug', 'kinds of plugs')} "
            f"{verb} {parts.many(apart['to'].nunique(), 'kit')} apart from every {gear.name} whose plug is told"
        )
    ways = _best(rows, PAIR)["way"].value_counts()
    return (
        f"{ways.get(AS_THEY_ARE, 0)} of {parts.many(int(ways.sum()), 'pair')} of kits can share {gear.shared} as they are, "
        f"{ways.get(ADAPTED, 0)} more with an adapter that the club has"
    )


def counts(rows: pd.DataFrame) -> pd.DataFrame:
    """Pairs by kinds of their plugs, those that are told first, then most pairs first.

    Columns: plugs (`plug to radio`), lenders and radios (how many kits carry them), way, pairs; a row for each
    word of WAYS.
    """
    found = []
    sizes = rows.groupby(PLUGS, observed=True).size()
    order = sorted(sizes.index, key=lambda families: (NOT_TOLD in families, -sizes[families]))
    for plug, radio in order:
        own = rows[(rows["plug"] == plug) & (rows["radio"] == radio)]
        held = own["way"].value_counts()
        kits = own["from"].nunique(), own["to"].nunique()
        found += [(f"{plug} to {radio}", *kits, way, int(held.get(way, 0))) for way in WAYS]
    return pd.DataFrame(found, columns=["plugs", "lenders", "radios", "way", "pairs"])
