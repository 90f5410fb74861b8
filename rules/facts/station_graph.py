"""State graph of the parts of every kit: which item can follow which on the way from a source to an antenna.

What fits depends on the radio, so a lead may be good for one radio and too thin for another. The graph therefore
has *states*: one node for an item, the way round it is used, the *layer* (radios of a kit that the same sources,
leads and converters suit share a DC layer; radios that the same antennas suit share an RF layer) and, on the DC
side, whether the voltage is already right for that layer, else from which volts, and which converters do not take it.
Paths in the state graph are stations.

Volts: a source suits a radio where it gives what the radio takes and never more. A battery may fall below that, when the radio
stops before it is empty (`rules.facts.lasting` says when); a converter must stay inside.

Current: behind volts that suit the radio flows its own, also where a booster follows, which is no part of each of these
stations: what that draws more is judged thing by thing (`passing` in facts.sql). Behind other volts, and before a converter,
flows the radio's power, at what its lowest converter gives, over these volts and the share that a converter gives out: less
than the radio's current from a battery of 24 V, more from one of 9 V. Losses count once where one converter feeds another,
and volts that are not told count as the radio's own.

Limits of the model:

- A converter's volts are its output; what it accepts is not recorded. A boost converter takes nothing that never falls to
  what it delivers, a buck converter nothing whose middle is not above that, as `rules.facts.power` has it; any source may feed
  the others.
- A pack is taken to fit its handheld unless its known figures say otherwise, or both tell their family and it is not the same.
- A battery or pack that is not charged is no source.
- A radio whose plug is ``builtin`` holds its own pack or antenna.
- Leads have no voltage limit, and voltage drop is not looked at.
- A distribution strip is one item however many outlets it has: two stations that hang on it are not independent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa

Array = npt.NDArray[Any]

COLUMNS = [
    *["kit_id", "item_id", "role", "kind", "quantity", "is_usable"],
    *["dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far", "volts_min", "volts_max"],
    *["amps_tx", "amps_rated", "bands", "is_charged", "capacity_ah", "pack_family"],
]
PLUGS = ("dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far")
FIGURES = ("volts_min", "volts_max", "amps_tx", "amps_rated")
DC_ROLES = ("source", "pack", "lead", "fuse", "converter")
RF_ROLES = ("coax", "rf_adapter", "antenna")
ROLES = ("radio", *DC_ROLES, *RF_ROLES)
RADIO, SOURCE, PACK, FUSE = (ROLES.index(role) for role in ("radio", "source", "pack", "fuse"))
NOT_TOLD, BUILTIN = -1, -2
BUILT_IN, LATCH = "builtin", "pack_latch"
RAW, RIGHT = 0, 1
ODD = np.uint64(0x9E3779B97F4A7C15)
STEPS = ("boost_converter", "buck_converter")


@dataclass(frozen=True)
class Graph:
    """State graph of the items on some way from a start to an end; edges lead from node u to node v."""

    u: Array
    v: Array
    item: Array  # of node
    is_start: Array
    is_end: Array
    way: Array  # of node: which way round its item is used, at which voltage and from what; the same in every layer
    part: Array  # of item: its place among the parts, ascending
    kit: Array  # of item
    cap: Array  # of item: its quantity
    is_radio: Array  # of item
    n_kits: int
    is_multi: Array  # of kit: an item has several useful states
    is_twice: Array  # of kit: one path could meet an item in two states

    @property
    def node_kit(self) -> Array:
        """Kit of each node."""
        kit: Array = self.kit[self.item]
        return kit


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

    def plays(self, *roles: str) -> Array:
        """Whether each item has one of the roles."""
        played: Array = _are(roles)[self.role]
        return played


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


def _numbers(values: pa.ChunkedArray) -> Array:
    """A column as numbers, NaN for null."""
    numbers: Array = values.cast(pa.float64()).to_numpy()
    return numbers


def unlike(family: Array, other: Array) -> Array:
    """Whether two families are told and not the same."""
    are: Array = (family != other) & (family != NOT_TOLD) & (other != NOT_TOLD)
    return are


def usable_parts(items: pa.Table, kit_ids: Array, mating: Mating) -> Parts:
    """Items that work, or of which that is not known, and that can be part of a station, by kit and item."""
    roles = {role: number for number, role in enumerate(ROLES)}
    role = _placed(items["role"], roles)
    quantity = np.nan_to_num(_numbers(items["quantity"]), nan=1)
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
        {name: _numbers(items[name]) for name in FIGURES},
        np.where(is_store, _numbers(items["is_charged"]), 1.0), items["is_usable"].is_valid().to_numpy(),
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


def runs(begin: Array, size: Array) -> tuple[Array, Array]:
    """For all runs one after the other: the number of the run, and the places begin, begin + 1 ... within it."""
    run = np.repeat(np.arange(len(size)), size)
    return run, np.arange(len(run)) + (begin - (np.cumsum(size) - size))[run]


def join(left: Array, right: Array) -> tuple[Array, Array]:
    """All index pairs i, j with left[i] == right[j], by i and j."""
    order = np.argsort(right, kind="stable")
    words, word = ranked(right[order])
    size = np.append(np.bincount(word, minlength=len(words)), 0)
    at = np.searchsorted(words, left)
    at[np.append(words, -1)[at] != left] = len(words)
    i, place = runs((np.cumsum(size) - size)[at], size[at])
    return i, order[place]


def ranked(ascending: Array) -> tuple[Array, Array]:
    """The distinct values of an ascending array, and of each value the number among them."""
    is_first = np.ones(len(ascending), dtype=bool)
    is_first[1:] = ascending[1:] != ascending[:-1]
    return ascending.compress(is_first), np.cumsum(is_first) - 1


def distinct(x: Array) -> Array:
    """Sorted distinct values; faster here than hashing."""
    return ranked(np.sort(x))[0]


def by_second(first: Array, second: Array) -> tuple[Array, Array]:
    """Pairs sorted by the second, then the first; both are less than 2**31, so that one number sorts both."""
    both = np.sort((second << 32) | first)
    return both & (2**32 - 1), both >> 32


def numbered(size: int, marked: Array) -> tuple[Array, Array]:
    """The places of `size` that are marked, ascending; and the number of each of them."""
    is_there = np.zeros(size, dtype=bool)
    is_there[marked] = True
    return np.flatnonzero(is_there), np.cumsum(is_there) - 1


def _layers(radios: Array, r: Array, sign: Array, own: Array) -> tuple[Array, Array]:
    """Layer of each item (radios only), and which of the pairs, which are of radio r, describe their layer.

    Radios whose sets of signs, 64-bit random numbers of what fits them, are equal share a layer; sets are compared by
    their sums, to which each radio adds one of its own. A layer is numbered as the place of the first of its radios.
    """
    total, n = own.copy(), len(own)
    np.add.at(total, r, sign)
    _, first, layer = np.unique(total[radios], return_index=True, return_inverse=True)
    of_item = np.full(n, -1)
    of_item[radios] = first[layer]
    speaks = np.zeros(n, dtype=bool)
    speaks[radios[first]] = True
    return of_item, np.flatnonzero(speaks[r])


def _shared_bands(parts: Parts, unknown_fits: bool) -> tuple[Array, Array]:
    """Number of each item's set of bands, and a table of which sets share one; the last set is 'not told'."""
    sets = [set(text.split()) for text in parts.band_texts]
    words = sorted(set().union(*sets))
    has = np.array([[word in one for word in words] for one in sets], dtype=np.float32)
    has = has.reshape(len(sets), len(words))
    shares = np.full((len(sets) + 1, len(sets) + 1), unknown_fits)
    shares[:-1, :-1] = has @ has.T > 0
    return np.where(parts.bands < 0, len(sets), parts.bands), shares


@dataclass(frozen=True)
class Fits:
    """Which parts of a kit suit which of its radios by their figures, whatever their plugs."""

    radio: Array  # of each pair of a radio and a DC element, once for each grade
    element: Array
    grade: Array  # RIGHT: good straight before the radio; RAW: behind what gives other volts, where a lead is left to be asked
    source: tuple[Array, Array]  # radio, charged source whose voltage suits it or can be converted to
    antenna: tuple[Array, Array]  # radio, antenna that share a band
    drawn_w: Array  # of item: what a converter takes in for a radio; NaN where that has none, or is not told
    refused: tuple[Array, Array]  # what gives a voltage, converter of its kit that does not take it
    is_charged: Array  # of item
    unknown_fits: bool

    def only(self, chosen: Array) -> Fits:
        """Those of the radios chosen, by a mask of items."""
        dc = np.flatnonzero(chosen[self.radio])
        source, antenna = (
            (r.compress(chosen[r]), x.compress(chosen[r])) for r, x in (self.source, self.antenna)
        )
        return replace(
            self, radio=self.radio[dc], element=self.element[dc], grade=self.grade[dc], source=source, antenna=antenna
        )  # fmt: skip


def fits(parts: Parts, kits: Array, converter_share: float, *, unknown_fits: bool) -> Fits:
    """Compare figures and bands of each radio of the kits marked with the other parts of its kit.

    What is not known fits everywhere or nowhere, but in a pack, which fits its handheld; so does what may not work.
    A converter gives out ``converter_share`` of what it takes in.
    """
    low_v, high_v, tx, rated = (parts.figures[name] for name in FIGURES)
    middle_v = (low_v + high_v) / 2
    is_charged = (parts.charge_fits == 1) | (np.isnan(parts.charge_fits) & unknown_fits)
    is_source = parts.plays("source", "pack")
    is_lead, is_converter = parts.plays("lead", "fuse"), parts.plays("converter")
    is_loose = (parts.role == PACK) | unknown_fits
    asked = kits[parts.kit] & (parts.is_sure | unknown_fits)
    radios = np.flatnonzero((parts.role == RADIO) & asked)
    dc = np.flatnonzero(((is_source & is_charged) | is_lead | is_converter) & asked)
    every_i, every_j = join(parts.kit[radios], parts.kit[dc])

    def suits(given: Array, asked: Array, i: Array, j: Array) -> Array:
        """Whether what a DC element gives is at least what the radio asks for."""
        given, asked, loose = given[dc], asked[radios], is_loose[dc]
        most = np.where(np.isnan(given), np.where(loose, np.inf, -np.inf), given)
        least = np.concatenate([np.where(np.isnan(asked), unknown, asked) for unknown in (np.inf, -np.inf)])
        is_enough: Array = most[j] >= least[i + len(radios) * loose[j]]
        return is_enough

    is_fit, other = is_lead[dc][every_j], np.flatnonzero(~is_lead[dc][every_j])
    i, j, reached_v = every_i[other], every_j[other], np.where(is_source, high_v, low_v)
    is_fit[other] = suits(reached_v, low_v, i, j) & suits(-high_v, -high_v, i, j)
    is_fit[other] &= ~unlike(parts.family[radios][i], parts.family[dc][j])
    right = np.flatnonzero(suits(rated, tx, every_i, every_j) & is_fit)
    r, e = radios[every_i[right]], dc[every_j[right]]

    last = is_converter[e]
    has_converter = np.zeros(len(parts.kit), dtype=bool)
    has_converter[r[last]] = True
    drawn_w = np.full(len(parts.kit), np.nan)
    np.fmin.at(drawn_w, r[last], middle_v[e[last]])
    drawn_w *= tx / converter_share
    refused = _refused(parts, is_loose, asked)
    is_taken = in_kit(parts.kit, np.ones(len(parts.kit)), is_converter & asked, len(kits))[parts.kit]
    np.subtract.at(is_taken, refused[0], 1)
    is_far = ~is_fit | is_lead[dc][every_j]
    before = np.flatnonzero(has_converter[radios][every_i] & (is_taken[dc] > 0)[every_j] & is_far)
    raw_r, raw_e = radios[every_i[before]], dc[every_j[before]]
    bears = carries_before(parts, drawn_w, raw_r, raw_e, raw_e, unknown_fits=unknown_fits) | is_lead[raw_e]
    raw_r, raw_e = raw_r[bears], raw_e[bears]
    grade = np.repeat([RIGHT, RAW], [len(r), len(raw_r)])
    r, e = np.concatenate([r, raw_r]), np.concatenate([e, raw_e])
    feeds = is_source[e]

    antennas = np.flatnonzero(parts.plays("antenna") & asked)
    band_set, shares = _shared_bands(parts, unknown_fits)
    q, a = join(parts.kit[radios], parts.kit[antennas])
    q, a = radios[q], antennas[a]
    on_band = shares[band_set[q], band_set[a]]
    source, antenna = (r.compress(feeds), e.compress(feeds)), (q.compress(on_band), a.compress(on_band))
    return Fits(r, e, grade, source, antenna, drawn_w, refused, is_charged, unknown_fits)


def carries_before(
    parts: Parts, drawn_w: Array, radio: Array, giver: Array, element: Array, *, unknown_fits: bool
) -> Array:
    """Whether each element bears the current from a giver to the converter of a radio; the giver's volts not told count as the radio's."""
    low_v, high_v, tx, rated = (parts.figures[name] for name in FIGURES)
    current_a = drawn_w[radio] * 2 / (low_v + high_v)[giver]
    spare_a = rated[element] - np.where(np.isnan(current_a), tx[radio], current_a)
    loose = (parts.role[element] == PACK) | unknown_fits
    bears: Array = np.where(np.isnan(spare_a), loose, spare_a >= 0)
    return bears


def _refused(parts: Parts, is_loose: Array, asked: Array) -> tuple[Array, Array]:
    """Pairs of a part that gives a voltage and a converter of its kit that does not take it; what is loose fits if not known."""
    low_v = parts.figures["volts_min"]
    middle_v = (low_v + parts.figures["volts_max"]) / 2
    boosts, bucks = (parts.kind == (parts.kinds.index(kind) if kind in parts.kinds else -2) for kind in STEPS)
    givers = np.flatnonzero(parts.plays("source", "pack", "converter") & asked)
    converters = np.flatnonzero(parts.plays("converter") & (boosts | bucks) & asked)
    i, j = join(parts.kit[givers], parts.kit[converters])
    g, c = givers[i], converters[j]
    over_v = np.where(boosts[c], middle_v[c] - low_v[g], middle_v[g] - middle_v[c])
    takes = np.where(np.isnan(over_v), is_loose[g], np.where(boosts[c], over_v >= 0, over_v > 0))
    return g[~takes], c[~takes]


def needs(parts: Parts, suited: Fits, n_kits: int) -> list[tuple[Array, Array]]:
    """Marks of parts of which every station needs one, whatever their plugs, and how many a kit has.

    They are the radios with a source and an antenna, those sources, and those antennas.
    """
    holds = {side: is_builtin(parts, side) for side in ("dc", "rf")}
    holds["dc"] &= suited.is_charged
    fed, aired = holds["dc"].copy(), holds["rf"].copy()
    fed[suited.source[0]] = True
    aired[suited.antenna[0]] = True
    good = fed & aired
    marks = [good, good & holds["dc"], good & holds["rf"]]
    for mark, (radio, other) in zip(marks[1:], (suited.source, suited.antenna), strict=True):
        mark[other.compress(good[radio])] = True
    return [(mark, in_kit(parts.kit, parts.quantity, mark, n_kits)) for mark in marks]


def in_kit(kit: Array, quantity: Array, mark: Array, n_kits: int) -> Array:
    """How many items of those marked each kit has."""
    place = np.flatnonzero(mark)
    return np.bincount(kit[place], weights=quantity[place], minlength=n_kits).astype(np.int64)


def is_builtin(parts: Parts, side: str) -> Array:
    """Radios that hold their own pack (side ``dc``) or antenna (``rf``)."""
    near, far = parts.plugs[f"{side}_plug"], parts.plugs[f"{side}_plug_far"]
    holds: Array = (parts.role == RADIO) & ((near == BUILTIN) | (far == BUILTIN))
    return holds


class _Side:
    """States on one side of the radios, joined where one can be left by a plug that mates with one of the next.

    A joint is a plug in a group of states, as one number; a state is left for a joint of the same group. States that
    share a joint can be left for the same ones, so what is reached is spread from joint to joint, and pairs of states
    are written out at the end only, of states on some way.
    """

    def __init__(self, does: Array, first: int) -> None:
        self._does = does
        self._exits: list[tuple[Array, Array]] = []
        self._entries: list[tuple[Array, Array]] = []
        self.items: list[Array] = []
        self.layers: list[Array] = []
        self.ways: list[Array] = []
        self.size = first

    def add(self, item: Array, layer: Array, way: Array) -> Array:
        """New states, one for each item used in a way."""
        self.items.append(item)
        self.layers.append(layer)
        self.ways.append(way)
        self.size += len(item)
        return np.arange(self.size - len(item), self.size)

    def leave(self, state: Array, group: Array, plug: Array) -> None:
        """States that can be left by a plug, where it is there."""
        there = np.flatnonzero(plug >= 0)
        self._exits.append((state[there], group[there] * len(self._does) + plug[there]))

    def enter(self, state: Array, group: Array, plug: Array) -> None:
        """States that can be entered by a plug, where it is there."""
        there = np.flatnonzero(plug >= 0)
        self._entries.append((state[there], group[there] * len(self._does) + plug[there]))

    def join(self) -> None:
        """Find the pairs of joints that mate, when all ends are there.

        Joints to leave by and to enter by are numbered, each sort from 0: ``_out`` and ``_in`` are the states that
        have one, by joint, ``_out_joint`` and ``_in_joint`` the number of each, ``_a`` and ``_b`` the numbers of pairs.
        """
        (self._out, out_joint), (self._in, in_joint) = map(_by_joint, (self._exits, self._entries))
        (out, self._out_joint), (into, self._in_joint) = map(ranked, (out_joint, in_joint))
        span = len(self._does)
        a, b = join(out // span, into // span)
        mates = self._does[(out % span)[a], (into % span)[b]]
        self._a, self._b = a.compress(mates), b.compress(mates)

    def ahead(self, start: Array) -> Array:
        """Mark of the states that are reached from those marked, which are among them."""
        return _spread(start, self._out, self._out_joint, self._a, self._b, self._in, self._in_joint)

    def behind(self, end: Array) -> Array:
        """Mark of the states from which those marked are reached, which are among them."""
        return _spread(end, self._in, self._in_joint, self._b, self._a, self._out, self._out_joint)

    def edges(self, live: Array, number: Array) -> tuple[Array, Array]:
        """Pairs of states marked, one that can be left for the other, by their numbers."""
        of_out, of_in = (np.flatnonzero(live[states]) for states in (self._out, self._in))
        out, into = number[self._out[of_out]], number[self._in[of_in]]
        pair, place = runs(*_members(self._in_joint[of_in], self._b))
        edge, from_place = runs(*_members(self._out_joint[of_out], self._a[pair]))
        u, v = out[from_place], into[place[edge]]
        differ = u != v
        return u.compress(differ), v.compress(differ)


def _by_joint(ends: list[tuple[Array, Array]]) -> tuple[Array, Array]:
    """States and their joints, by joint and state."""
    return by_second(*(np.concatenate(x) for x in zip(*ends, strict=True)))


def _members(joint: Array, asked: Array) -> tuple[Array, Array]:
    """Where the states of each joint asked for begin, and how many there are; ``joint`` is of each state, ascending."""
    size = np.bincount(joint, minlength=int(asked.max(initial=-1)) + 1)
    return (np.cumsum(size) - size)[asked], size[asked]


def _spread(
    start: Array, leave: Array, leave_joint: Array, a: Array, b: Array, enter: Array, enter_joint: Array
) -> Array:
    """States that are reached from those marked, leaving by a joint a and entering by its b."""
    seen = start.copy()
    while True:
        left, met = (np.zeros(int(x.max(initial=-1)) + 1, dtype=bool) for x in (leave_joint, enter_joint))
        left[leave_joint.compress(seen[leave])] = True
        met[b.compress(left[a])] = True
        new = enter.compress(met[enter_joint])
        new = new.compress(~seen[new])
        if not len(new):
            return seen
        seen[new] = True


def state_graph(parts: Parts, suited: Fits, kits: Array) -> tuple[Graph, Array]:
    """State graph of the kits marked, and a mark of their radios that some source reaches."""
    n, kit, columns, mates = len(parts.kit), parts.kit, parts.plugs, parts.mates.copy()
    mates[-1] = mates[:, -1] = suited.unknown_fits
    # A plug that is not told is any plug (high) or no plug (low); a second plug of a one-ended item is optional.
    any_plug = len(mates) - 1
    dc_a, dc_b, rf_a, rf_b = (
        np.where(columns[k] == NOT_TOLD, any_plug, columns[k]) if suited.unknown_fits else columns[k]
        for k in PLUGS
    )
    dc_c, rf_c = columns["dc_plug_far"], columns["rf_plug_far"]

    asked = kits[kit] & (parts.is_sure | suited.unknown_fits)
    radios = np.flatnonzero((parts.role == RADIO) & asked)
    sign = np.random.default_rng(7).integers(2**62, size=n, dtype=np.uint64) * 2 + 1
    own, raw = np.zeros(n, dtype=np.uint64), distinct(suited.radio[suited.grade == RAW])
    own[raw] = suited.drawn_w[raw].view(np.uint64) * ODD ^ parts.figures["amps_tx"][raw].view(np.uint64)
    layer_of, speaks = _layers(
        radios, suited.radio, sign[suited.element] << suited.grade.astype(np.uint64), own
    )
    r, e, grade = suited.radio[speaks], suited.element[speaks], suited.grade[speaks]
    is_source, is_converter = parts.plays("source", "pack"), parts.plays("converter")
    is_lead = parts.plays("lead", "fuse")

    # States: item, layer, group; two-ended items that differ at their ends have one state for each way round. Items
    # that stand at the ends of a side have one state, numbered as the item, for all layers.
    # A group is of one layer, grade and sort: givers of one sort are refused by the same converters and, where they do not
    # suit the radio, give the same volts.
    dc = _Side(mates, n)
    refuses = np.zeros(n, dtype=np.uint64)
    np.add.at(refuses, suited.refused[0], sign[suited.refused[1]])
    layer, is_whole = layer_of[r], (dc_a >= 0) & (dc_b >= 0)
    gives = np.flatnonzero((is_source | (is_converter & is_whole))[e])
    volts = (parts.figures["volts_min"] + parts.figures["volts_max"])[e[gives]]
    is_other = (grade[gives] == RAW) & ~np.isnan(volts)
    sorts, sort = np.unique(
        refuses[e[gives]] + np.where(is_other, volts.view(np.uint64) * ODD, 0), return_inverse=True
    )
    key = (layer[gives] * len(sorts) + sort) * 2 + grade[gives]
    _, head, number = np.unique(key, return_index=True, return_inverse=True)
    group_of = np.full(len(r), -1)
    group_of[gives] = number
    giver, of_layer, of_grade, of_sort = e[gives[head]], layer[gives[head]], grade[gives[head]], sort[head]

    leads = np.flatnonzero((is_lead & is_whole)[e])
    pair, at = join(layer[leads] * 2 + grade[leads], of_layer * 2 + of_grade)
    pair = leads[pair]
    raw = np.flatnonzero(of_grade[at] == RAW)
    bears = np.ones(len(at), dtype=bool)
    bears[raw] = carries_before(
        parts, suited.drawn_w, r[pair[raw]], giver[at[raw]], e[pair[raw]], unknown_fits=suited.unknown_fits
    )
    pair, at = pair.compress(bears), at.compress(bears)
    turn = dc_a[e[pair]] != dc_b[e[pair]]
    for turned, (a, b) in enumerate(((dc_a, dc_b), (dc_b, dc_a))):
        item, group = (x.compress(turn) if turned else x for x in (e[pair], at))
        state = dc.add(item, of_layer[group], (2 * of_sort[group] + of_grade[group]) * 2 + turned)
        dc.enter(state, group, a[item])
        dc.leave(state, group, b[item])
    who = np.flatnonzero((is_converter & is_whole)[e])
    _, first, same = np.unique(layer[who] * n + e[who], return_index=True, return_inverse=True)
    item, own_layer = e[who[first]], layer[who[first]]
    state = dc.add(item, own_layer, np.zeros(len(item), dtype=np.int64))
    dc.leave(state[same], group_of[who], dc_b[e[who]])
    i, at = join(own_layer, of_layer)
    takes = ~np.isin(giver[at] * n + item[i], suited.refused[0] * n + suited.refused[1])
    i, at = i.compress(takes), at.compress(takes)
    dc.enter(state[i], at, dc_a[item[i]])
    who = np.flatnonzero(is_source[e])
    item = e[who]
    right, at = join(layer_of[radios], np.where(of_grade == RIGHT, of_layer, -1))
    for plug in (dc_a, dc_c):
        dc.leave(item, group_of[who], plug[item])
        dc.enter(radios[right], at, plug[radios[right]])
    dc.join()
    is_start = np.zeros(dc.size, dtype=bool)
    is_start[item] = True
    is_start[radios] = (is_builtin(parts, "dc") & suited.is_charged)[radios]
    fed = dc.ahead(is_start)

    radios = radios.compress(fed[radios])
    q, a = (x.compress(fed[suited.antenna[0]]) for x in suited.antenna)
    layer_of, speaks = _layers(radios, q, sign[a], np.zeros(n, dtype=np.uint64))
    q, a = q[speaks], a[speaks]
    heads = distinct(q)
    coaxes = np.flatnonzero(parts.plays("coax", "rf_adapter") & asked & (rf_a >= 0) & (rf_b >= 0))
    h, c = join(kit[heads], kit[coaxes])
    c, layer = coaxes[c], layer_of[heads[h]]
    rf = _Side(mates, dc.size)
    for near, far, used in ((rf_a, rf_b, c >= 0), (rf_b, rf_a, rf_a[c] != rf_b[c])):
        item, group = c.compress(used), layer.compress(used)
        state = rf.add(item, group, np.full(len(item), len(rf.ways)))
        rf.enter(state, group, near[item])
        rf.leave(state, group, far[item])
    for plug in (rf_a, rf_c):
        rf.enter(a, layer_of[q], plug[a])
        rf.leave(radios, layer_of[radios], plug[radios])
    rf.join()
    is_end = np.zeros(rf.size, dtype=bool)
    is_end[a] = True
    is_end[radios] = is_builtin(parts, "rf")[radios]
    aired = rf.behind(is_end)

    is_good = np.zeros(rf.size, dtype=bool)
    is_good[radios] = aired[radios]
    live = rf.ahead(is_good) & aired
    live[: dc.size] |= dc.behind(is_good[: dc.size]) & fed
    nodes, number = numbered(rf.size, np.flatnonzero(live))
    u, v = (np.concatenate(x) for x in zip(dc.edges(live, number), rf.edges(live, number), strict=True))
    node_part = np.concatenate([np.arange(n), *dc.items, *rf.items])[nodes]
    layer = np.concatenate([np.full(n, -1), *dc.layers, *rf.layers])[nodes]
    way = np.concatenate([np.zeros(n, dtype=np.int64), *dc.ways, *rf.ways])[nodes]
    part, item_of = numbered(n, node_part)
    item = item_of[node_part]
    several = np.flatnonzero((np.bincount(item, minlength=len(part)) > 1)[item])
    state, times = np.unique(item[several] * n + layer[several], return_counts=True)
    is_multi, is_twice = np.zeros(len(kits), dtype=bool), np.zeros(len(kits), dtype=bool)
    is_multi[kit[node_part[several]]] = True
    is_twice[kit[part[state[times > 1] // n]]] = True
    is_start = np.append(is_start, np.zeros(rf.size - dc.size, dtype=bool))[nodes]
    is_radio = parts.role[part] == RADIO
    graph = Graph(
        u, v, item, is_start, is_end[nodes], way, part, kit[part], parts.quantity[part], is_radio,
        len(kits), is_multi, is_twice,
    )  # fmt: skip
    return graph, fed[:n] & (parts.role == RADIO)


def reach(tail: Array, head: Array, start: Array) -> tuple[Array, Array]:
    """Steps from the nearest start to every node (-1: not reached), and the arc that leads to it (-1: none)."""
    seen = start.copy()
    steps, by = np.where(seen, 0, -1), np.full(len(seen), -1)
    arc, step = np.flatnonzero(~seen[head]), 0
    tail, head = tail[arc], head[arc]
    while True:
        new = np.flatnonzero(seen[tail])
        if not len(new):
            return steps, by
        step += 1
        met = head[new]
        steps[met], by[met], seen[met] = step, arc[new], True
        ahead = np.flatnonzero(~seen[head])
        arc, tail, head = arc[ahead], tail[ahead], head[ahead]
