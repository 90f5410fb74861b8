"""Whose battery can run whose radio: plugs and leads of the whole club, compared pair by pair of kits."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import cache

import pandas as pd

from dashboard import parts
from dashboard.palette import WAYS
from dashboard.standing import Standing
from data import plain_words
from rules.engine import Assessment

AS_THEY_ARE, ADAPTED, NOT_KNOWN, NOT_AT_ALL = WAYS
NOT_TOLD = "plug not told"
TOO_FINE = re.compile(r" \([^)]*\)|5\.5 x ")  # of a plug's name, for two of them on one line of a phone
PAIR = ["from", "to"]
Ends = tuple[str, str]  # plugs at the two ends of a lead

SOURCES = """
    select distinct i.kit_id, i.dc_plug as plug, i.volts_min, i.volts_max from item as i
    where i.is_usable and i.role = 'source' and i.chemistry is not null
"""
LOADS = """
    select distinct s.kit_id, r.dc_plug as plug, r.volts_min, r.volts_max
    from supply as s join item as r on r.item_id = s.radio_item_id where s.is_main and not s.is_handheld
"""
LEADS = """
    select distinct kit_id, dc_plug as near, dc_plug_far as far from item
    where is_usable and role = 'lead' and kind <> 'extension_cord'
"""


@dataclass(frozen=True)
class Plugs:
    """What mates with what, and the leads of each kit and of them all."""

    mates: dict[str, frozenset[str]]
    leads: dict[int, frozenset[Ends]]
    has_open_lead: frozenset[int]

    def reached(self, plugs: Iterable[str], leads: Iterable[Ends]) -> frozenset[str]:
        """Plugs at which power from these plugs can be had, by any run of the leads."""
        found, ways = set(plugs), [*leads, *((far, near) for near, far in leads)]
        while True:
            more = {far for near, far in ways if self.mates.get(near, frozenset()) & found} - found
            if not more:
                return frozenset(found)
            found |= more

    def fits(self, plugs: Iterable[str], other: str) -> bool:
        """Whether one of the plugs goes into the other."""
        return bool(self.mates.get(other, frozenset()) & set(plugs))


def pairs(now: Standing, hidden: Collection[str] = ()) -> pd.DataFrame:
    """Each battery plug of a kit with the main radio of every other kit that takes its voltage.

    A handheld takes only packs of its own family and is left out. `as they are`: plugs mate directly or through the
    leads of the two kits; `with a club adapter`: through one more lead or adapter that somebody of the club has.

    Parameters
    ----------
    hidden
        Members whose kits are left out.

    Returns
    -------
    from, to (member/kit), battery, radio (kind of plug and its gender, in plain words), way (a word of WAYS); one row
    per kit, kind of its battery plugs, and other kit.
    """
    return now.kept.once(("plugs", frozenset(hidden)), lambda: _pairs(now.assessment, frozenset(hidden)))


def _pairs(assessment: Assessment, hidden: frozenset[str]) -> pd.DataFrame:
    named = assessment.frame("select kit_id, member, member || '/' || kit as name from kit")
    names = dict(named.loc[~named["member"].isin(hidden), ["kit_id", "name"]].itertuples(index=False))
    sides = {plug: TOO_FINE.sub("", name) for plug, name in plain_words.sides().items()}
    sources, loads, leads = (
        [row for row in assessment.tuples(query) if row[0] in names] for query in (SOURCES, LOADS, LEADS)
    )
    plugs = _plugs(assessment.tuples("select plug_a, plug_b from mating where mates"), leads)
    every = frozenset(ends for own in plugs.leads.values() for ends in own)

    @cache
    def way(source: str | None, load: str | None, own: frozenset[Ends], is_open: bool) -> str:
        if source is None or load is None:
            return NOT_KNOWN
        out, back = plugs.reached([source], own), plugs.reached([load], own)
        if plugs.fits(out, load):
            return AS_THEY_ARE
        for near, far in every:
            if (plugs.fits(out, near) and plugs.fits(back, far)) or (
                plugs.fits(out, far) and plugs.fits(back, near)
            ):
                return ADAPTED
        return NOT_KNOWN if is_open else NOT_AT_ALL

    none: frozenset[Ends] = frozenset()
    rows = [
        (
            names[source[0]],
            names[load[0]],
            sides.get(source[1], NOT_TOLD),
            sides.get(load[1], NOT_TOLD),
            way(
                source[1],
                load[1],
                plugs.leads.get(source[0], none) | plugs.leads.get(load[0], none),
                bool({source[0], load[0]} & plugs.has_open_lead),
            ),
        )
        for source in sources
        for load in loads
        if source[0] != load[0] and _overlap(source[2:], load[2:])
    ]
    frame = pd.DataFrame(rows, columns=[*PAIR, "battery", "radio", "way"])
    return _best(frame, [*PAIR, "battery", "radio"])


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


def _overlap(one: tuple[float | None, ...], other: tuple[float | None, ...]) -> bool:
    """Whether two ranges of volts meet; what is not told is taken to."""
    (low, high), (least, most) = one, other
    return (high is None or least is None or high >= least) and (low is None or most is None or low <= most)


def _best(rows: pd.DataFrame, by: list[str]) -> pd.DataFrame:
    """For each group the best of its ways."""
    order = pd.Categorical(rows["way"], list(WAYS), ordered=True)
    return rows.assign(way=order).groupby(by, as_index=False, sort=True)["way"].min().astype({"way": str})


def title(rows: pd.DataFrame) -> str:
    """What the comparison comes to, as its finding; `rows` as of `pairs`, at least one."""
    told = rows[(rows["battery"] != NOT_TOLD) & (rows["radio"] != NOT_TOLD)]
    best = _best(told, ["to", "radio"])
    apart = best[best["way"] == NOT_AT_ALL]
    if not apart.empty:
        every = best["radio"].nunique()
        verb = "keeps" if apart["radio"].nunique() == 1 else "keep"
        return (
            f"{apart['radio'].nunique()} of {parts.many(every, 'kind of plug', 'kinds of plugs')} "
            f"{verb} {parts.many(apart['to'].nunique(), 'kit')} apart from every battery whose plug is told"
        )
    ways = _best(rows, PAIR)["way"].value_counts()
    return (
        f"{ways.get(AS_THEY_ARE, 0)} of {parts.many(int(ways.sum()), 'pair')} of kits can share power as they are, "
        f"{ways.get(ADAPTED, 0)} more with an adapter that the club has"
    )


def counts(rows: pd.DataFrame) -> pd.DataFrame:
    """Pairs by kinds of their plugs, those that are told first, then most pairs first.

    Columns: plugs (`battery to radio`), batteries and radios (how many kits carry them), way, pairs; a row for each
    word of WAYS.
    """
    found = []
    sizes = rows.groupby(["battery", "radio"]).size()
    order = sorted(sizes.index, key=lambda families: (NOT_TOLD in families, -sizes[families]))
    for battery, radio in order:
        own = rows[(rows["battery"] == battery) & (rows["radio"] == radio)]
        held = own["way"].value_counts()
        kits = own["from"].nunique(), own["to"].nunique()
        found += [(f"{battery} to {radio}", *kits, way, int(held.get(way, 0))) for way in WAYS]
    return pd.DataFrame(found, columns=["plugs", "batteries", "radios", "way", "pairs"])
