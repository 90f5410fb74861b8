"""State graph of the parts of every kit: which item can follow which on the way from a source to an antenna.

What fits depends on the radio, so a lead may be good for one radio and too thin for another. The graph therefore
has *states*: one node for an item, the way round it is used, the *layer* (radios of a kit that the same sources,
leads and converters suit share a DC layer; radios that the same antennas suit share an RF layer) and, on the DC
side, whether the voltage is already right for that layer. Paths in the state graph are stations.

Limits of the model. A converter's volts are its output; what it accepts is not recorded, so any source may feed it,
and elements before it must carry the radio's current too. A pack is taken to fit its handheld unless its known
figures say otherwise. A battery or pack that is not charged is no source. A radio whose plug is ``builtin`` holds
its own pack or antenna. Leads have no voltage limit. Voltage drop is not looked at. A distribution strip is one
item however many outlets it has: two stations that hang on it are not independent.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa

Array = npt.NDArray[Any]

COLUMNS = [
    *["kit_id", "item_id", "role", "kind", "quantity", "is_usable"],
    *["dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far", "volts_min", "volts_max"],
    *["amps_tx", "amps_rated", "bands", "is_charged", "capacity_ah"],
]
PLUGS = ("dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far")
FIGURES = ("volts_min", "volts_max", "amps_tx", "amps_rated")
DC_ROLES = ("source", "pack", "lead", "fuse", "converter")
RF_ROLES = ("coax", "rf_adapter", "antenna")
ROLES = ("radio", *DC_ROLES, *RF_ROLES)
RADIO, SOURCE, PACK, FUSE = (ROLES.index(role) for role in ("radio", "source", "pack", "fuse"))
NOT_TOLD, BUILTIN = -1, -2
BUILTIN_CODE = 0
RAW, RIGHT = 0, 1


@dataclass(frozen=True)
class Graph:
    """State graph. Edges u to v are sorted by v; only edges on some way from a start to an end are kept."""

    u: Array
    v: Array
    item: Array  # of node
    is_start: Array
    is_end: Array
    kit: Array  # of item
    n_kits: int
    is_multi: Array  # of kit: an item has several useful states
    is_twice: Array  # of kit: one path could meet an item in two states
    is_fed: Array  # of item: a radio that some source reaches
    fit_source: tuple[Array, Array]  # radio, source pairs whose figures agree
    fit_antenna: tuple[Array, Array]  # radio, antenna pairs whose bands agree


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
    bands: Array  # place in band_texts
    kinds: list[str]
    plug_words: list[str]
    band_texts: list[str]

    def only(self, chosen: Array) -> Parts:
        """Those chosen, by a mask or by place."""
        flat = ("item_id", "kit", "role", "kind", "quantity", "charge_fits", "bands")
        return replace(
            self,
            **{name: getattr(self, name)[chosen] for name in flat},
            plugs={name: plug[chosen] for name, plug in self.plugs.items()},
            figures={name: figure[chosen] for name, figure in self.figures.items()},
        )

    def plays(self, *roles: str) -> Array:
        """Whether each item has one of the roles."""
        is_one = np.isin(np.arange(len(ROLES)), [ROLES.index(role) for role in roles])
        played: Array = is_one[self.role]
        return played


def _coded(values: pa.ChunkedArray) -> tuple[Array, list[str]]:
    """Place of each value among the distinct words of a column, NOT_TOLD for null, and these words."""
    coded = values.dictionary_encode().unify_dictionaries().combine_chunks()
    return coded.indices.cast(pa.int64()).fill_null(NOT_TOLD).to_numpy(), coded.dictionary.to_pylist()


def _placed(values: pa.ChunkedArray, known: dict[str, int]) -> Array:
    """Number of each value in `known`, to which new words are added; NOT_TOLD for null."""
    codes, words = _coded(values)
    number = np.array([*(known.setdefault(word, len(known)) for word in words), NOT_TOLD])
    numbers: Array = number[codes]
    return numbers


def _numbers(values: pa.ChunkedArray, unknown: float = np.nan) -> Array:
    """A column as numbers."""
    numbers: Array = values.cast(pa.float64()).fill_null(unknown).to_numpy()
    return numbers


def usable_parts(items: pa.Table, kit_ids: Array) -> Parts:
    """Usable items that can be part of a station, by kit and item."""
    roles = {role: number for number, role in enumerate(ROLES)}
    role = _placed(items["role"], roles)
    quantity = _numbers(items["quantity"], 1)
    plug_of = {"builtin": BUILTIN_CODE}
    plugs = {name: _placed(items[name], plug_of) for name in PLUGS}
    plugs = {name: np.where(plug == BUILTIN_CODE, BUILTIN, plug) for name, plug in plugs.items()}
    is_open_fuse = (role == FUSE) & ((plugs["dc_plug"] == NOT_TOLD) | (plugs["dc_plug_far"] == NOT_TOLD))
    is_usable = items["is_usable"].to_numpy()
    chosen = (role >= 0) & (role < len(ROLES)) & is_usable & (quantity > 0) & ~is_open_fuse
    kit_id, item_id = (items[name].cast(pa.int64()).to_numpy() for name in ("kit_id", "item_id"))
    place = np.flatnonzero(chosen)
    place = place[np.lexsort((item_id[place], kit_id[place]))]
    kind, kinds = _coded(items["kind"])
    bands, band_texts = _coded(items["bands"])
    is_builtin = (role == RADIO) & ((plugs["dc_plug"] == BUILTIN) | (plugs["dc_plug_far"] == BUILTIN))
    has_capacity = items["capacity_ah"].is_valid().to_numpy()
    is_store = (role == PACK) | is_builtin | ((role == SOURCE) & has_capacity)
    whole = Parts(
        item_id, np.searchsorted(kit_ids, kit_id), role, kind, quantity.astype(np.int64), plugs,
        {name: _numbers(items[name]) for name in FIGURES},
        np.where(is_store, _numbers(items["is_charged"]), 1.0), bands, kinds, list(plug_of), band_texts,
    )  # fmt: skip
    return whole.only(place)


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
    is_gap: Array = gaps | np.isnan(parts.charge_fits)
    return is_gap


def _mating_codes(parts: Parts, mating: pa.Table) -> tuple[Array, Array, int]:
    """The ordered pairs of plugs that mate, as numbers, and how many plugs there are."""
    number = {word: place for place, word in enumerate(parts.plug_words)}
    a, b = (_placed(mating[name], number) for name in ("plug_a", "plug_b"))
    is_joint = (a != BUILTIN_CODE) & (b != BUILTIN_CODE)
    latch = [number.setdefault("pack_latch", len(number))]
    return np.concatenate([a[is_joint], latch]), np.concatenate([b[is_joint], latch]), len(number)


def join(left: Array, right: Array) -> tuple[Array, Array]:
    """All index pairs i, j with left[i] == right[j]."""
    order = np.argsort(right, kind="stable")
    right = right[order]
    begin = np.flatnonzero(np.append(True, right[1:] != right[:-1])) if len(right) else np.zeros(0, np.int64)
    word, size = right[begin], np.diff(np.append(begin, len(right)))
    at = np.searchsorted(word, left)
    at[at == len(word)] = 0
    n = np.where(word[at] == left, size[at], 0) if len(word) else np.zeros(len(left), np.int64)
    i = np.repeat(np.arange(len(left)), n)
    first = np.append(begin, 0)[at] - (np.cumsum(n) - n)
    return i, order[np.arange(len(i)) + first[i]]


def distinct(x: Array) -> Array:
    """Sorted distinct values; faster here than hashing."""
    x = np.sort(x)
    is_first: Array = np.concatenate([np.ones(min(len(x), 1), dtype=bool), x[1:] != x[:-1]])
    values: Array = x[is_first]
    return values


def numbered(size: int, *marked: Array) -> tuple[Array, Array]:
    """The places of `size` that are marked anywhere, by place or by mask, ascending; and the number of each of them."""
    is_there = np.zeros(size, dtype=bool)
    for places in marked:
        is_there[places] = True
    return np.flatnonzero(is_there), np.cumsum(is_there) - 1


def _layers(radios: Array, r: Array, e: Array, grade: Array, n: int) -> tuple[Array, Array]:
    """Layer of each item (radios only), and which of the pairs r, e describe their layer.

    Radios whose sets of (fitting item, grade) are equal share a layer; sets are compared by 64-bit random sums.
    """
    mark = np.random.default_rng(7).integers(1, 2**63, size=n, dtype=np.uint64)
    total = np.zeros(n, dtype=np.uint64)
    np.add.at(total, r, mark[e] * (2 * grade + 1).astype(np.uint64))
    _, first, layer = np.unique(total[radios], return_index=True, return_inverse=True)
    of_item = np.full(n, -1)
    of_item[radios] = layer
    speaks = np.zeros(n, dtype=bool)
    speaks[radios[first]] = True
    return of_item, speaks[r]


def _shared_bands(parts: Parts, bands: Collection[str] | None, unknown_fits: bool) -> tuple[Array, Array]:
    """Number of each item's set of bands, and a table of which sets share one; the last set is 'not told'."""
    sets = [set(text.split()) for text in parts.band_texts]
    words = sorted(set().union(*sets) if bands is None else bands)
    has = np.array([[word in one for word in words] for one in sets], dtype=np.float32)
    has = has.reshape(len(sets), len(words))
    shares = np.full((len(sets) + 1, len(sets) + 1), unknown_fits)
    shares[:-1, :-1] = has @ has.T > 0
    if bands is not None:
        shares[:-1, -1] &= has.any(axis=1)
        shares[-1, :-1] &= has.any(axis=1)
    return np.where(parts.bands < 0, len(sets), parts.bands), shares


@dataclass(frozen=True)
class Fits:
    """Which parts of a kit suit which of its radios by their figures, whatever their plugs; pairs by radio."""

    radio: Array  # of each pair of a radio and a DC element that carries its current
    element: Array
    grade: Array  # RIGHT where the element hands on a voltage that suits the radio, or any that it is given
    source: tuple[Array, Array]  # radio, charged source whose voltage suits it or can be converted to
    antenna: tuple[Array, Array]  # radio, antenna that share a band
    converts: Array  # of item: a radio with a converter to its voltage
    is_charged: Array  # of item


def fits(parts: Parts, bands: Collection[str] | None, *, unknown_fits: bool) -> Fits:
    """Compare figures and bands of each radio with the other parts of its kit."""
    low_v, high_v, tx, rated = (parts.figures[name] for name in FIGURES)
    is_charged = (parts.charge_fits == 1) | (np.isnan(parts.charge_fits) & unknown_fits)
    is_source = parts.plays("source", "pack")
    is_lead, is_converter = parts.plays("lead", "fuse"), parts.plays("converter")
    radios = np.flatnonzero(parts.role == RADIO)

    dc = np.flatnonzero((is_source & is_charged) | is_lead | is_converter)
    r, e = join(parts.kit[radios], parts.kit[dc])
    r, e = radios[r], dc[e]
    is_loose = (parts.role[e] == PACK) | unknown_fits
    carries = ~(rated[e] < tx[r]) & (is_loose | ~np.isnan(rated[e] + tx[r]))
    r, e, is_loose = r[carries], e[carries], is_loose[carries]
    suits = ~(low_v[e] < low_v[r]) & ~(high_v[e] > high_v[r])
    suits &= is_loose | ~np.isnan(low_v[e] + low_v[r] + high_v[e] + high_v[r])
    grade = np.where(is_lead[e] | suits, RIGHT, RAW)
    converts = np.zeros(len(parts.kit), dtype=bool)
    converts[r[is_converter[e] & (grade == RIGHT)]] = True
    feeds = is_source[e] & ((grade == RIGHT) | converts[r])

    antennas = np.flatnonzero(parts.plays("antenna"))
    band_set, shares = _shared_bands(parts, bands, unknown_fits)
    q, a = join(parts.kit[radios], parts.kit[antennas])
    q, a = radios[q], antennas[a]
    on_band = shares[band_set[q], band_set[a]]
    return Fits(r, e, grade, (r[feeds], e[feeds]), (q[on_band], a[on_band]), converts, is_charged)


def most_stations(parts: Parts, suited: Fits, n_kits: int) -> Array:
    """No more stations per kit than radios with a source and an antenna, than such sources, or than such antennas."""
    holds = {side: is_builtin(parts, side) for side in ("dc", "rf")}
    holds["dc"] &= suited.is_charged
    fed, aired = holds["dc"].copy(), holds["rf"].copy()
    fed[suited.source[0]] = True
    aired[suited.antenna[0]] = True
    good = fed & aired
    most = np.full(n_kits, np.inf)
    for radio, other, mark in (
        (*suited.source, good & holds["dc"]),
        (*suited.antenna, good & holds["rf"]),
        (suited.source[0][:0], suited.source[1][:0], good),
    ):
        mark = mark.copy()
        mark[other[good[radio]]] = True
        there = np.bincount(parts.kit[mark], weights=parts.quantity[mark], minlength=n_kits)
        most = np.minimum(most, there)
    return most.astype(np.int64)


def is_builtin(parts: Parts, side: str) -> Array:
    """Radios that hold their own pack (side ``dc``) or antenna (``rf``)."""
    near, far = parts.plugs[f"{side}_plug"], parts.plugs[f"{side}_plug_far"]
    holds: Array = (parts.role == RADIO) & ((near == BUILTIN) | (far == BUILTIN))
    return holds


class _Ends:
    """Where states can be entered, or left: the state, its group, and the plug there. Joints are within a group."""

    def __init__(self) -> None:
        self._parts: list[tuple[Array, Array, Array]] = []

    def add(self, node: Array, group: Array, plug: Array) -> None:
        """More ends; a plug that is not there is no end."""
        there = plug >= 0
        self._parts.append((node[there], group[there], plug[there]))

    def all(self, span: int) -> tuple[Array, Array]:
        """State and joint (group and plug as one number) of all ends."""
        node, group, plug = (np.concatenate(x) for x in zip(*self._parts, strict=True))
        return node, group * span + plug


def state_graph(
    parts: Parts,
    mating: pa.Table,
    bands: Collection[str] | None,
    n_kits: int,
    *,
    unknown_fits: bool,
) -> Graph:
    """State graph of all kits; what is not known fits everywhere or nowhere."""
    n, kit, columns = len(parts.kit), parts.kit, parts.plugs
    mate_a, mate_b, any_plug = _mating_codes(parts, mating)
    if unknown_fits:
        every = np.arange(any_plug + 1)
        mate_a = np.concatenate([mate_a, np.full(any_plug + 1, any_plug), every[:-1]])
        mate_b = np.concatenate([mate_b, every, np.full(any_plug, any_plug)])
    # A plug that is not told is any plug (high) or no plug (low); a second plug of a one-ended item is optional.
    near_far = {k: np.where((c == NOT_TOLD) & unknown_fits, any_plug, c) for k, c in columns.items()}
    dc_a, dc_b, rf_a, rf_b = (near_far[name] for name in PLUGS)
    dc_c, rf_c = columns["dc_plug_far"], columns["rf_plug_far"]

    suited = fits(parts, bands, unknown_fits=unknown_fits)
    is_radio, is_source = parts.role == RADIO, parts.plays("source", "pack")
    is_converter, is_lead = parts.plays("converter"), parts.plays("lead", "fuse")
    radios, coaxes = np.flatnonzero(is_radio), np.flatnonzero(parts.plays("coax", "rf_adapter"))
    dc_layer, speaks = _layers(radios, suited.radio, suited.element, suited.grade, n)
    r, e, grade = suited.radio[speaks], suited.element[speaks], suited.grade[speaks]
    q, a = suited.antenna
    rf_layer, speaks_rf = _layers(radios, q, a, np.zeros(len(q), dtype=np.int64), n)
    heads = distinct(q[speaks_rf])
    h, c = join(kit[heads], kit[coaxes])

    # States: item, layer, level; two-ended items that differ at their ends have one state for each way round.
    lead, turn = is_lead[e], dc_a[e] != dc_b[e]
    raw = lead & suited.converts[r]
    hc, cc = heads[h], coaxes[c]
    turn_c = rf_a[cc] != rf_b[cc]
    n_dc = len(radios)  # DC layers are fewer; RF groups are numbered after them
    state_item = [np.arange(n)]
    state_layer = [np.where(is_radio, -2, -1)]
    exits, entries = _Ends(), _Ends()

    def add(item: Array, layer: Array) -> Array:
        first = sum(map(len, state_item))
        state_item.append(item)
        state_layer.append(layer)
        return np.arange(first, first + len(item))

    ways = ((RIGHT, False, lead), (RIGHT, True, lead & turn), (RAW, False, raw), (RAW, True, raw & turn))
    for volts, flip, who in ways:
        one, layer = e[who], dc_layer[r[who]]
        node = add(one, layer)
        entries.add(node, 2 * layer + volts, (dc_b if flip else dc_a)[one])
        exits.add(node, 2 * layer + volts, (dc_a if flip else dc_b)[one])
    one, layer, level = (x[is_source[e]] for x in (e, dc_layer[r], grade))
    node = add(one, layer)
    for plug in (dc_a, dc_c):
        exits.add(node, 2 * layer + level, plug[one])
    one, layer, level = (x[is_converter[e]] for x in (e, dc_layer[r], grade))
    node = add(one, layer)
    for before in (RAW, RIGHT):
        entries.add(node, 2 * layer + before, dc_a[one])
    exits.add(node, 2 * layer + level, dc_b[one])
    for flip, who in ((False, np.ones(len(cc), dtype=bool)), (True, turn_c)):
        one, layer = cc[who], n_dc + rf_layer[hc[who]]
        node = add(one, layer)
        entries.add(node, 2 * layer, (rf_b if flip else rf_a)[one])
        exits.add(node, 2 * layer, (rf_a if flip else rf_b)[one])
    one, layer = a[speaks_rf], n_dc + rf_layer[q[speaks_rf]]
    node = add(one, layer)
    for plug in (rf_a, rf_c):
        entries.add(node, 2 * layer, plug[one])
    for plug in (dc_a, dc_c):
        entries.add(radios, 2 * dc_layer[radios] + RIGHT, plug[radios])
    for plug in (rf_a, rf_c):
        exits.add(radios, 2 * (n_dc + rf_layer[radios]), plug[radios])

    item, layer = np.concatenate(state_item), np.concatenate(state_layer)
    is_start, is_end = (layer >= 0) & is_source[item], (layer >= 0) & parts.plays("antenna")[item]
    is_start[:n] = is_builtin(parts, "dc") & suited.is_charged
    is_end[:n] = is_builtin(parts, "rf")
    return _joined(
        exits, entries, (mate_a, mate_b, any_plug + 1), item, layer, is_start, is_end, parts, suited, n_kits
    )


def _joined(
    exits: _Ends, entries: _Ends, mating: tuple[Array, Array, int], item: Array, layer: Array, is_start: Array,
    is_end: Array, parts: Parts, suited: Fits, n_kits: int,
) -> Graph:  # fmt: skip
    """Join the states on some way from a start to an end, and see which kits have items in several states."""
    mate_a, mate_b, span = mating
    pairs = distinct(mate_a * span + mate_b)
    mate_a, mate_b = pairs // span, pairs % span
    leave, enter = exits.all(span), entries.all(span)
    fed = _spread(is_start, leave, enter, mate_a, mate_b, span)
    leave, enter = _of(fed, leave), _of(fed, enter)
    live = _spread(is_end & fed, enter, leave, mate_b, mate_a, span)
    (out_node, out_joint), (in_node, in_joint) = _of(live, leave), _of(live, enter)
    i, m = join(out_joint % span, mate_a)
    x, y = join((out_joint - out_joint % span)[i] + mate_b[m], in_joint)
    edge = distinct(in_node[y] * len(item) + out_node[i[x]])
    u, v = (edge % len(item)).astype(np.int32), (edge // len(item)).astype(np.int32)
    u, v = u[u != v], v[u != v]

    kit, nodes = parts.kit, np.flatnonzero(live)
    is_fed = np.zeros(len(kit), dtype=bool)
    is_fed[item[fed]] = True
    is_multi, is_twice = np.zeros(n_kits, dtype=bool), np.zeros(n_kits, dtype=bool)
    is_multi[kit[np.flatnonzero(np.bincount(item[nodes], minlength=len(kit)) > 1)]] = True
    width = int(layer.max(initial=0)) + 3
    state, times = np.unique(item[nodes] * width + layer[nodes] + 2, return_counts=True)
    is_twice[kit[state[times > 1] // width]] = True
    is_radio = parts.role == RADIO
    return Graph(
        u, v, item, is_start & live, is_end & live, kit, n_kits, is_multi, is_twice, is_fed & is_radio,
        suited.source, suited.antenna,
    )  # fmt: skip


def _of(kept: Array, ends: tuple[Array, Array]) -> tuple[Array, Array]:
    """The ends of states that are kept."""
    node, joint = ends
    return node[kept[node]], joint[kept[node]]


def _spread(
    start: Array,
    leave: tuple[Array, Array],
    enter: tuple[Array, Array],
    mate_a: Array,
    mate_b: Array,
    span: int,
) -> Array:
    """States that are reached from the start, leaving by one joint and entering by one that mates with it."""
    seen, new = start.copy(), start
    size = max(int(joint.max(initial=0)) for _, joint in (leave, enter)) // span * span + span
    met = np.zeros(size, dtype=bool)
    while new.any():
        joint = distinct(leave[1][new[leave[0]]])
        i, m = join(joint % span, mate_a)
        met[(joint - joint % span)[i] + mate_b[m]] = True
        new = np.zeros(len(start), dtype=bool)
        new[enter[0][met[enter[1]]]] = True
        new &= ~seen
        seen |= new
    return seen


def reach(u: Array, v: Array, start: Array) -> tuple[Array, Array]:
    """Steps from the nearest start to every node (-1: not reached), and the node before it (-1: none)."""
    steps = np.where(start, 0, -1).astype(np.int32)
    before = np.full(len(start), -1, dtype=np.int32)
    step = 0
    while len(u):
        ahead = steps[v] < 0
        u, v = u[ahead], v[ahead]
        new = steps[u] >= 0
        if not new.any():
            break
        step += 1
        steps[v[new]] = step
        before[v[new]] = u[new]
    return steps, before
