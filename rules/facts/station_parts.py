"""The things of every kit that stations are made of, as arrays: their plugs, volts, currents and bands.

A radio whose plug is ``builtin`` holds its own pack or antenna.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pyarrow as pa

from data.items import LATCH
from rules.facts.places import Array
from rules.facts.select import floats

COLUMNS = [
    *["kit_id", "item_id", "role", "kind", "quantity", "is_usable"],
    *["dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far", "volts_min", "volts_max"],
    *["amps_tx", "amps_rated", "usual_a", "bands", "is_charged", "capacity_ah", "pack_family"],
]
PLUGS = ("dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far")
FIGURES = ("volts_min", "volts_max", "amps_tx", "amps_rated", "usual_a")
DC_ROLES = ("source", "pack", "lead", "fuse", "converter")
RF_ROLES = ("coax", "rf_adapter", "antenna")
ROLES = ("radio", *DC_ROLES, *RF_ROLES)
RADIO, SOURCE, PACK, FUSE = (ROLES.index(role) for role in ("radio", "source", "pack", "fuse"))
NOT_TOLD, BUILTIN = -1, -2
BUILT_IN = "builtin"


@dataclass(frozen=True)
class Mating:
    """Plugs, and which of them mate.

    words : built in comes first
    does : a table by their numbers; what is built in mates with nothing
    """

    words: tuple[str, ...]
    does: Array


def mating_of(pairs: Iterable[tuple[str, str]], words: Iterable[str] = ()) -> Mating:
    """Plugs of ordered pairs that mate, after those of ``words``; a pack mates with the radio that it is latched on."""
    told = {*pairs, (LATCH, LATCH)}
    named = dict.fromkeys([BUILT_IN, *words, *sorted(plug for pair in told for plug in pair)])
    number = {plug: place for place, plug in enumerate(named)}
    does = np.zeros((len(number), len(number)), dtype=bool)
    for a, b in told:
        does[number[a], number[b]] = BUILT_IN not in (a, b)
    return Mating(tuple(number), does)


@dataclass(frozen=True)
class Parts:
    """Usable items that can be part of a station, by kit and item. Words are numbers; what is not told is -1 or NaN."""

    item_id: Array
    kit: Array
    role: Array  # place in ROLES
    kind: Array  # place in kinds
    quantity: Array
    plugs: dict[str, Array]  # of each column of PLUGS: place in plug_words, NOT_TOLD or BUILTIN
    figures: dict[str, Array]  # of each column of FIGURES
    charge_fits: Array  # 1, 0 or NaN
    is_sure: Array  # whether it is known to work
    bands: Array  # place in band_texts
    family: Array  # number of the word for the packs that fit, NOT_TOLD
    kinds: list[str]
    plug_words: list[str]
    mates: Array  # of two plugs: whether they do; the last is one that is not told, and does not
    band_texts: list[str]

    def only(self, chosen: Array) -> Parts:
        """Those chosen, by place."""
        flat = ("item_id", "kit", "role", "kind", "quantity", "charge_fits", "is_sure", "bands", "family")
        return replace(
            self,
            **{name: getattr(self, name)[chosen] for name in flat},
            plugs={name: plug[chosen] for name, plug in self.plugs.items()},
            figures={name: figure[chosen] for name, figure in self.figures.items()},
        )

    def bears_a(self, unknown_fits: bool) -> Array:
        """Rated currents; where what is not known fits nowhere, of a battery that tells none what its size usually bears."""
        rated = self.figures["amps_rated"]
        return rated if unknown_fits else np.where(np.isnan(rated), self.figures["usual_a"], rated)

    def plays(self, *roles: str) -> Array:
        """Whether each item has one of the roles."""
        played: Array = _are(roles)[self.role]
        return played

    def are(self, kind: str) -> Array:
        """Whether each item is of a kind."""
        is_kind: Array = self.kind == (self.kinds.index(kind) if kind in self.kinds else -2)
        return is_kind


@cache
def _are(roles: tuple[str, ...]) -> Array:
    """Of each of ROLES, whether it is among some."""
    return np.array([role in roles for role in ROLES])


def _placed(values: pa.ChunkedArray, known: dict[str, int], named: Callable[[str], str] = str) -> Array:
    """Number of each value in `known`, to which new words are added in their order, as they are named; NOT_TOLD for null."""
    coded = values.dictionary_encode().unify_dictionaries().combine_chunks()
    words = coded.dictionary.to_pylist()
    for word in sorted(words):
        known.setdefault(named(word), len(known))
    number = np.array([*(known[named(word)] for word in words), NOT_TOLD])
    numbers: Array = number[coded.indices.fill_null(len(words)).to_numpy()]
    return numbers


def usable_parts(items: pa.Table, kit_ids: Array, mating: Mating) -> Parts:
    """Items that work, or of which that is not known, and that can be part of a station, by kit and item."""
    roles = {role: number for number, role in enumerate(ROLES)}
    role = _placed(items["role"], roles)
    quantity = np.nan_to_num(floats(items["quantity"]), nan=1)
    plug_of = {word: place for place, word in enumerate(mating.words)} | {BUILT_IN: BUILTIN}
    plugs = {name: _placed(items[name], plug_of) for name in PLUGS}
    mates = np.pad(mating.does, (0, len(plug_of) + 1 - len(mating.does)))
    is_open_fuse = (role == FUSE) & ((plugs["dc_plug"] == NOT_TOLD) | (plugs["dc_plug_far"] == NOT_TOLD))
    is_usable = items["is_usable"].fill_null(True).to_numpy()
    chosen = (role >= 0) & (role < len(ROLES)) & is_usable & (quantity > 0) & ~is_open_fuse
    kit_id, item_id = (items[name].cast(pa.int64()).to_numpy() for name in ("kit_id", "item_id"))
    place = np.flatnonzero(chosen)
    place = place[np.lexsort((item_id[place], kit_id[place]))]
    kinds: dict[str, int] = {}
    bands: dict[str, int] = {}
    is_builtin = (role == RADIO) & ((plugs["dc_plug"] == BUILTIN) | (plugs["dc_plug_far"] == BUILTIN))
    has_capacity = items["capacity_ah"].is_valid().to_numpy()
    is_store = (role == PACK) | is_builtin | ((role == SOURCE) & has_capacity)
    whole = Parts(
        item_id, kit_id, role, _placed(items["kind"], kinds), quantity.astype(np.int64), plugs,
        {name: floats(items[name]) for name in FIGURES},
        np.where(is_store, floats(items["is_charged"]), 1.0), items["is_usable"].is_valid().to_numpy(),
        _placed(items["bands"], bands), _placed(items["pack_family"], {}, lambda word: word.strip().lower()),
        [*kinds], [*plug_of], mates, [*bands],
    )  # fmt: skip
    parts = whole.only(place)
    size = np.diff(np.searchsorted(parts.kit, kit_ids), append=len(place))
    return replace(parts, kit=np.repeat(np.arange(len(kit_ids)), size))


def has_null(parts: Parts) -> Array:
    """True for a part with something not known that a fit may ask for."""
    dc, two = parts.plays("radio", *DC_ROLES), parts.plays("lead", "converter", "coax", "rf_adapter")
    rf = parts.plays("radio", *RF_ROLES)
    plug = {name: codes == NOT_TOLD for name, codes in parts.plugs.items()}
    figure = {name: np.isnan(values) for name, values in parts.figures.items()}
    gaps = dc & (plug["dc_plug"] | (two & plug["dc_plug_far"]))
    gaps |= rf & (plug["rf_plug"] | (two & plug["rf_plug_far"]))
    gaps |= parts.plays("radio", "source", "converter") & (figure["volts_min"] | figure["volts_max"])
    gaps |= parts.plays("source", "lead", "fuse", "converter") & figure["amps_rated"]
    gaps |= parts.plays("radio") & figure["amps_tx"]
    gaps |= parts.plays("radio", "antenna") & (parts.bands == NOT_TOLD)
    is_gap: Array = gaps | np.isnan(parts.charge_fits) | ~parts.is_sure
    return is_gap


def is_builtin(parts: Parts, side: str) -> Array:
    """Radios that hold their own pack (side ``dc``) or antenna (``rf``)."""
    near, far = parts.plugs[f"{side}_plug"], parts.plugs[f"{side}_plug_far"]
    holds: Array = (parts.role == RADIO) & ((near == BUILTIN) | (far == BUILTIN))
    return holds
