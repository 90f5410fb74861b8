"""Complete stations of every kit in the club, counted as paths that share no item.

A complete station is source, DC elements, radio, RF elements, antenna, in which every joint mates, the voltage
that arrives lies inside the radio's window, every DC element carries the radio's transmit current, and antenna
and radio share a band. The number of independent stations is the largest number of such paths that use no item
more often than its quantity: a maximum flow with node capacities (Menger's theorem).

What fits depends on the radio, so a lead may be good for one radio and too thin for another. The graph therefore
has *states*: one node for an item, the way round it is used, the *layer* (radios of a kit that the same sources,
leads and converters suit share a DC layer; radios that the same antennas suit share an RF layer) and, on the DC
side, whether the voltage is already right for that layer. Paths in the state graph are stations. Where every item
of a kit is useful in one state only, one flow over the whole club is exact. Where items have several states that
share their quantity the problem is a flow with bundled capacities, which flow alone cannot decide, so:

1. all states of an item are merged into one node, which can only add paths: the club-wide flow is an upper bound;
2. shortest stations are taken out one after the other, for all kits at once: a lower bound;
3. kits whose bounds differ are solved exactly, each as a small integer program.

Limits of the model. A converter's volts are its output; what it accepts is not recorded, so any source may feed it,
and elements before it must carry the radio's current too. A pack is taken to fit its handheld unless its known
figures say otherwise. A battery or pack that is not charged is no source. A radio whose plug is ``builtin`` holds
its own pack or antenna. Leads have no voltage limit. Voltage drop is not looked at. A distribution strip is one
item however many outlets it has: two stations that hang on it are not independent.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import maximum_flow

Array = npt.NDArray[Any]

COLUMNS = (
    "kit_id item_id role kind quantity is_usable dc_plug dc_plug_far rf_plug rf_plug_far volts_min volts_max "
    "amps_tx amps_rated bands is_charged capacity_ah"
).split()
DC_ROLES = ("source", "pack", "lead", "fuse", "converter")
RF_ROLES = ("coax", "rf_adapter", "antenna")
NOT_TOLD, BUILTIN = -1, -2
RAW, RIGHT = 0, 1
PLENTY = 1_000_000
KITS_A_PROGRAM = 32


@dataclass(frozen=True)
class StationResult:
    """Stations of every kit.

    per_kit : kit_id, stations_low and stations_high (what is not known fits nowhere, or everywhere), has_unknown
        (the two differ), missing_link (first link not there for certain when stations_low is 0: source, radio,
        dc_path, antenna or rf_path; else ''), plug_from and plug_to (the plugs a missing path would have to
        join), spare_kind (kind of the first item of which one more gives one more station; '' if no single one).
    weak : kit_id, item_id, is_certain; single points of failure: items without which the kit has no station.
    path : kit_id, step, item_id, is_certain; one shortest station from source to antenna.
    ``is_certain`` is false where the kit has a station only if what is not known fits.
    """

    per_kit: pd.DataFrame
    weak: pd.DataFrame
    path: pd.DataFrame


@dataclass(frozen=True)
class _Graph:
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


def stations(items: pd.DataFrame, mating: pd.DataFrame, bands: Iterable[str] | None = None) -> StationResult:
    """Count independent complete stations, find weak items and one example path for every kit.

    Parameters
    ----------
    items : one row per item of the whole club, with the columns of ``COLUMNS``; volts in V, currents in A;
        plugs, bands and figures that are not known are null; ``builtin`` is an integral pack or antenna.
    mating : plug_a, plug_b; one row per ordered pair that mates.
    bands : if given, only stations on one of these bands count.

    Raises
    ------
    ValueError : a column is missing from ``items``.
    """
    absent = [name for name in COLUMNS if name not in items.columns]
    if absent:
        raise ValueError(
            f"items: no column {', '.join(absent)}. Give one column each of {', '.join(COLUMNS)}."
        )
    kit_ids = np.unique(items["kit_id"].to_numpy(dtype=np.int64))
    parts = _parts(items, kit_ids)
    bands = None if bands is None else set(bands)

    low = _graph(parts, mating, bands, len(kit_ids), unknown_fits=False)
    cap = parts["quantity"].to_numpy()
    count_low, path_low, upper, raisable = _count(low, cap)
    open_kit = np.zeros(len(kit_ids), dtype=bool)
    open_kit[parts["kit"].to_numpy()[_has_null(parts)]] = True
    few = parts[open_kit[parts["kit"].to_numpy()]].reset_index(drop=True)
    high = _graph(few, mating, bands, len(kit_ids), unknown_fits=True)
    cap_high = few["quantity"].to_numpy()
    count_high, path_high, _, _ = _count(high, cap_high)
    count_high = np.where(open_kit, count_high, count_low)

    per_kit = pd.DataFrame({"kit_id": kit_ids, "stations_low": count_low, "stations_high": count_high})
    per_kit["has_unknown"] = count_low != count_high
    link, plug_from, plug_to = _missing(low, parts, count_low)
    per_kit["missing_link"], per_kit["plug_from"], per_kit["plug_to"] = link, plug_from, plug_to
    spare = _spare(low, cap, count_low, upper, raisable)
    kinds = parts["kind"].to_numpy(dtype=object)
    per_kit["spare_kind"] = np.where(spare >= 0, kinds[spare] if len(kinds) else "", "")

    maybe = count_low == 0
    path_high = path_high[maybe[high.kit[high.item[path_high]]]]
    found = [
        (low, parts, path_low, _weak(low, cap, path_low), True),
        (high, few, path_high, _weak(high, cap_high, path_high), False),
    ]
    weak = [_rows(kit_ids, g, table, items_, None, sure) for g, table, _, items_, sure in found]
    path = [_rows(kit_ids, g, table, g.item[nodes], nodes, sure) for g, table, nodes, _, sure in found]
    return StationResult(
        per_kit,
        pd.concat(weak).sort_values(["kit_id", "item_id"], ignore_index=True),
        pd.concat(path).sort_values(["kit_id", "step"], ignore_index=True),
    )


def _rows(
    kit_ids: Array, g: _Graph, parts: pd.DataFrame, items: Array, nodes: Array | None, sure: bool
) -> pd.DataFrame:
    """Rows of ``weak``, or of ``path`` when the path's nodes are given (in order within each kit)."""
    frame = pd.DataFrame({"kit_id": kit_ids[g.kit[items]]})
    if nodes is not None:
        frame["step"] = frame.groupby("kit_id").cumcount()
    frame["item_id"] = parts["item_id"].to_numpy()[items]
    frame["is_certain"] = np.full(len(items), sure)
    return frame


def _parts(items: pd.DataFrame, kit_ids: Array) -> pd.DataFrame:
    """Usable items that can be part of a station, with kit number and typed figures, by kit and item."""
    role = items["role"]
    takes_part = role.isin(["radio", *DC_ROLES, *RF_ROLES])
    takes_part &= (role != "fuse") | (items["dc_plug"].notna() & items["dc_plug_far"].notna())
    quantity = items["quantity"].fillna(1).astype(np.int64)
    parts = items.loc[takes_part & items["is_usable"].astype(bool) & (quantity > 0), COLUMNS]
    parts = parts.sort_values(["kit_id", "item_id"], ignore_index=True)
    parts["kit"] = np.searchsorted(kit_ids, parts["kit_id"].to_numpy(dtype=np.int64))
    parts["quantity"] = parts["quantity"].fillna(1).astype(np.int64)
    for name in ("volts_min", "volts_max", "amps_tx", "amps_rated", "capacity_ah"):
        parts[name] = parts[name].astype(np.float64)
    builtin = (parts["role"] == "radio") & (
        (parts["dc_plug"] == "builtin") | (parts["dc_plug_far"] == "builtin")
    )
    is_store = (parts["role"] == "pack") | builtin
    is_store |= (parts["role"] == "source") & parts["capacity_ah"].notna()
    charge = parts["is_charged"].astype("boolean")
    parts["charge_fits"] = np.where(
        is_store, charge.astype("Float64").to_numpy(np.float64, na_value=np.nan), 1.0
    )
    return parts


def _has_null(parts: pd.DataFrame) -> Array:
    """True for a part with something not known that a fit may ask for."""
    role = parts["role"]
    dc, two = role.isin(["radio", *DC_ROLES]), role.isin(["lead", "converter", "coax", "rf_adapter"])
    rf = role.isin(["radio", *RF_ROLES])
    null = parts[COLUMNS].isna()
    gaps = dc & (null["dc_plug"] | (two & null["dc_plug_far"]))
    gaps |= rf & (null["rf_plug"] | (two & null["rf_plug_far"]))
    gaps |= role.isin(["radio", "source", "converter"]) & (null["volts_min"] | null["volts_max"])
    gaps |= (dc & (role != "radio") & (role != "pack") & null["amps_rated"]) | (
        (role == "radio") & null["amps_tx"]
    )
    gaps |= role.isin(["radio", "antenna"]) & null["bands"]
    return (gaps | parts["charge_fits"].isna()).to_numpy(dtype=bool)


def _plug_codes(parts: pd.DataFrame, mating: pd.DataFrame) -> tuple[dict[str, Array], Array, Array, int]:
    """Plug columns as numbers, the ordered pairs that mate, and how many plugs there are."""
    names = ["dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far"]
    pairs = mating[["plug_a", "plug_b"]].astype(object)
    pairs = pairs[(pairs["plug_a"] != "builtin") & (pairs["plug_b"] != "builtin")]
    words = pd.concat([parts[name].astype(object) for name in names] + [pairs["plug_a"], pairs["plug_b"]])
    words = pd.concat([words, pd.Series(["pack_latch"], dtype=object)])
    codes, plugs = pd.factorize(words)
    codes = np.where(words.to_numpy(dtype=object) == "builtin", BUILTIN, codes).astype(np.int64)
    n, m = len(parts), len(pairs)
    columns = {name: codes[i * n : (i + 1) * n] for i, name in enumerate(names)}
    latch = codes[-1:]
    a = np.concatenate([codes[4 * n : 4 * n + m], latch])
    b = np.concatenate([codes[4 * n + m : 4 * n + 2 * m], latch])
    return columns, a, b, len(plugs)


def _join(left: Array, right: Array) -> tuple[Array, Array]:
    """All index pairs i, j with left[i] == right[j]."""
    order = np.argsort(right, kind="stable")
    first = np.searchsorted(right, left, "left", sorter=order)
    n = np.searchsorted(right, left, "right", sorter=order) - first
    i = np.repeat(np.arange(len(left)), n)
    return i, order[np.arange(n.sum()) - np.repeat(np.cumsum(n) - n, n) + np.repeat(first, n)]


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


def _shared_bands(
    parts: pd.DataFrame, bands: Iterable[str] | None, unknown_fits: bool
) -> tuple[Array, Array]:
    """Number of each item's set of bands, and a table of which sets share one; the last set is 'not told'."""
    code, texts = pd.factorize(parts["bands"].astype(object))
    sets = [set(str(text).split()) for text in texts]
    words = sorted(set().union(*sets) if bands is None else bands)
    has = np.array([[word in one for word in words] for one in sets], dtype=np.float32)
    has = has.reshape(len(sets), len(words))
    shares = np.full((len(sets) + 1, len(sets) + 1), unknown_fits)
    shares[:-1, :-1] = has @ has.T > 0
    if bands is not None:
        shares[:-1, -1] &= has.any(axis=1)
        shares[-1, :-1] &= has.any(axis=1)
    return np.where(code < 0, len(sets), code), shares


def _graph(
    parts: pd.DataFrame,
    mating: pd.DataFrame,
    bands: Iterable[str] | None,
    n_kits: int,
    *,
    unknown_fits: bool,
) -> _Graph:
    """State graph of all kits; what is not known fits everywhere or nowhere."""
    n, kit = len(parts), parts["kit"].to_numpy()
    role = parts["role"].to_numpy(dtype=object)
    low_v, high_v, tx, rated, charge = (
        parts[name].to_numpy() for name in ("volts_min", "volts_max", "amps_tx", "amps_rated", "charge_fits")
    )
    columns, mate_a, mate_b, any_plug = _plug_codes(parts, mating)
    every = np.arange(any_plug + 1)
    if unknown_fits:
        mate_a = np.concatenate([mate_a, np.full(any_plug + 1, any_plug), every[:-1]])
        mate_b = np.concatenate([mate_b, every, np.full(any_plug, any_plug)])
    # A plug that is not told is any plug (high) or no plug (low); a second plug of a one-ended item is optional.
    near_far = {k: np.where((c == NOT_TOLD) & unknown_fits, any_plug, c) for k, c in columns.items()}
    dc_a, dc_b, rf_a, rf_b = (near_far[k] for k in ("dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far"))
    dc_c, rf_c = columns["dc_plug_far"], columns["rf_plug_far"]
    is_charged = (charge == 1) | (np.isnan(charge) & unknown_fits)

    is_radio, is_source = role == "radio", np.isin(role, ["source", "pack"])
    is_converter, is_antenna = role == "converter", role == "antenna"
    is_lead, is_coax = np.isin(role, ["lead", "fuse"]), np.isin(role, ["coax", "rf_adapter"])
    radios = np.flatnonzero(is_radio)

    dc = np.flatnonzero((is_source & is_charged) | is_lead | is_converter)
    r, e = _join(kit[radios], kit[dc])
    r, e = radios[r], dc[e]
    is_loose = unknown_fits | (role[e] == "pack")
    carries = ~(rated[e] < tx[r]) & (is_loose | ~np.isnan(rated[e] + tx[r]))
    suits = ~(low_v[e] < low_v[r]) & ~(high_v[e] > high_v[r])
    suits &= is_loose | ~np.isnan(low_v[e] + low_v[r] + high_v[e] + high_v[r])
    r, e, grade = r[carries], e[carries], np.where(is_lead[e] | suits, RIGHT, RAW)[carries]
    dc_layer, speaks = _layers(radios, r, e, grade, n)
    converts = np.zeros(n, dtype=bool)
    converts[r[is_converter[e] & (grade == RIGHT)]] = True
    fit_source = is_source[e] & ((grade == RIGHT) | converts[r])
    fit_source_pairs = (r[fit_source], e[fit_source])
    r, e, grade = r[speaks], e[speaks], grade[speaks]

    antennas, coaxes = np.flatnonzero(is_antenna), np.flatnonzero(is_coax)
    band_set, shares = _shared_bands(parts, bands, unknown_fits)
    q, a = _join(kit[radios], kit[antennas])
    q, a = radios[q], antennas[a]
    on_band = shares[band_set[q], band_set[a]]
    q, a = q[on_band], a[on_band]
    rf_layer, speaks_rf = _layers(radios, q, a, np.zeros(len(q), dtype=np.int64), n)
    fit_antenna_pairs = (q, a)
    heads = np.unique(q[speaks_rf])
    h, c = _join(kit[heads], kit[coaxes])

    # States: item, layer, level; two-ended items that differ at their ends have one state for each way round.
    lead, turn = is_lead[e], dc_a[e] != dc_b[e]
    raw = lead & converts[r]
    hc, cc = heads[h], coaxes[c]
    turn_c = rf_a[cc] != rf_b[cc]
    n_dc = len(radios)  # DC layers are fewer; RF groups are numbered after them
    state_item = [np.arange(n)]
    state_layer = [np.where(is_radio, -2, -1)]
    exits: list[tuple[Array, Array, Array]] = []
    entries: list[tuple[Array, Array, Array]] = []

    def add(item: Array, layer: Array) -> Array:
        first = sum(map(len, state_item))
        state_item.append(item)
        state_layer.append(layer)
        return np.arange(first, first + len(item))

    for level, flip, who in (
        (RIGHT, False, lead),
        (RIGHT, True, lead & turn),
        (RAW, False, raw),
        (RAW, True, raw & turn),
    ):
        one, layer = e[who], dc_layer[r[who]]
        node = add(one, layer)
        entries.append((node, 2 * layer + level, (dc_b if flip else dc_a)[one]))
        exits.append((node, 2 * layer + level, (dc_a if flip else dc_b)[one]))
    for who, far in ((is_source[e], dc_c), (is_converter[e], dc_b)):
        one, layer = e[who], dc_layer[r[who]]
        node = add(one, layer)
        exits.append((node, 2 * layer + grade[who], far[one]))
        if far is dc_c:
            exits.append((node, 2 * layer + grade[who], dc_a[one]))
        else:
            entries += [(node, 2 * layer + level, dc_a[one]) for level in (RAW, RIGHT)]
    for flip, who in ((False, np.ones(len(cc), dtype=bool)), (True, turn_c)):
        one, layer = cc[who], n_dc + rf_layer[hc[who]]
        node = add(one, layer)
        entries.append((node, 2 * layer, (rf_b if flip else rf_a)[one]))
        exits.append((node, 2 * layer, (rf_a if flip else rf_b)[one]))
    one, layer = a[speaks_rf], n_dc + rf_layer[q[speaks_rf]]
    node = add(one, layer)
    entries += [(node, 2 * layer, rf_a[one]), (node, 2 * layer, rf_c[one])]
    entries += [(radios, 2 * dc_layer[radios] + RIGHT, plug[radios]) for plug in (dc_a, dc_c)]
    exits += [(radios, 2 * (n_dc + rf_layer[radios]), plug[radios]) for plug in (rf_a, rf_c)]

    item, layer = np.concatenate(state_item), np.concatenate(state_layer)
    out_node, out_group, out_plug = (np.concatenate(x) for x in zip(*exits, strict=True))
    in_node, in_group, in_plug = (np.concatenate(x) for x in zip(*entries, strict=True))
    pairs = np.unique(mate_a * (any_plug + 1) + mate_b)
    i, m = _join(out_plug, pairs // (any_plug + 1))
    span = any_plug + 1
    told = in_plug >= 0
    in_node, in_key = in_node[told], (in_group * span + in_plug)[told]
    x, y = _join(out_group[i] * span + (pairs % span)[m], in_key)
    edge = np.unique(in_node[y] * len(item) + out_node[i[x]])
    u, v = edge % len(item), edge // len(item)
    u, v = u[u != v], v[u != v]
    is_state = layer >= 0
    is_start, is_end = is_state & is_source[item], is_state & is_antenna[item]
    is_start[:n] = is_radio & ((dc_a == BUILTIN) | (dc_b == BUILTIN)) & is_charged
    is_end[:n] = is_radio & ((rf_a == BUILTIN) | (rf_b == BUILTIN))
    return _trimmed(
        u, v, item, layer, is_start, is_end, kit, n_kits, is_radio, fit_source_pairs, fit_antenna_pairs
    )


def _trimmed(
    u: Array,
    v: Array,
    item: Array,
    layer: Array,
    is_start: Array,
    is_end: Array,
    kit: Array,
    n_kits: int,
    is_radio: Array,
    fit_source: tuple[Array, Array],
    fit_antenna: tuple[Array, Array],
) -> _Graph:
    """Keep only nodes on some way from a start to an end, and see which kits have items in several states."""
    fed = _reach(u, v, is_start)[0] >= 0
    live = fed & (_reach(v, u, is_end)[0] >= 0)
    is_fed = np.zeros(len(kit), dtype=bool)
    is_fed[item[fed]] = True
    keep = live[u] & live[v]
    nodes = np.flatnonzero(live)
    is_multi, is_twice = np.zeros(n_kits, dtype=bool), np.zeros(n_kits, dtype=bool)
    is_multi[kit[np.flatnonzero(np.bincount(item[nodes], minlength=len(kit)) > 1)]] = True
    width = int(layer.max(initial=0)) + 3
    state, times = np.unique(item[nodes] * width + layer[nodes] + 2, return_counts=True)
    is_twice[kit[state[times > 1] // width]] = True
    return _Graph(
        u[keep],
        v[keep],
        item,
        is_start & live,
        is_end & live,
        kit,
        n_kits,
        is_multi,
        is_twice,
        is_fed & is_radio,
        fit_source,
        fit_antenna,
    )


def _reach(u: Array, v: Array, start: Array) -> tuple[Array, Array]:
    """Steps from the nearest start to every node (-1: not reached), and the node before it (-1: none)."""
    steps = np.where(start, 0, -1)
    before = np.full(len(start), -1)
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


def _shortest(g: _Graph, kits: Array, left: Array) -> Array:
    """Nodes of one shortest path in each of the kits marked, kit after kit, over items of which any is left."""
    usable = (kits[g.kit] & (left > 0))[g.item]
    open_edge = usable[g.u] & usable[g.v]
    steps, before = _reach(g.u[open_edge], g.v[open_edge], g.is_start & usable)
    ends = np.flatnonzero(g.is_end & usable & (steps >= 0))
    ends = ends[np.lexsort((ends, steps[ends], g.kit[g.item[ends]]))]
    node = ends[np.unique(g.kit[g.item[ends]], return_index=True)[1]]
    path = []
    while len(node):
        path.append(node)
        node = before[node]
        node = node[node >= 0]
    nodes = np.concatenate([*path, np.zeros(0, dtype=np.int64)])
    return nodes[np.lexsort((steps[nodes], g.kit[g.item[nodes]]))]


def _flow(g: _Graph, cap: Array, kits: Array, *, merged: bool) -> tuple[Array, Array]:
    """Upper bound of stations per kit by one flow over all kits, and the items that hold that flow down.

    With ``merged`` all states of an item are one node, which lets a path change layers; without it leads and
    cables have one node a state, which lets them be used once in every state.
    """
    n, nodes = len(g.kit), np.arange(len(g.item))
    ends = np.zeros(n, dtype=bool)
    ends[g.item[g.is_start | g.is_end]] = True
    spot = np.where(merged | ends[g.item], g.item, n + nodes)
    of_spot = np.concatenate([np.arange(n), g.item])
    use = kits[g.kit[g.item[g.u]]]
    size = n + len(nodes)
    arcs = np.unique(spot[g.u[use]] * size + spot[g.v[use]])
    tail, head = arcs // max(size, 1), arcs % max(size, 1)
    first, last = (np.unique(spot[mark & kits[g.kit[g.item]]]) for mark in (g.is_start, g.is_end))
    spots = np.unique(np.concatenate([tail, head, first, last]))
    k = len(spots)
    tail, head, first, last = (np.searchsorted(spots, x) for x in (tail, head, first, last))
    source, sink, each = 2 * k, 2 * k + 1, np.arange(k)
    rows = np.concatenate([np.full(len(first), source), each, k + tail, k + last])
    columns = np.concatenate([first, k + each, head, np.full(len(last), sink)])
    limit = np.full(len(rows), PLENTY, dtype=np.int32)
    limit[len(first) : len(first) + k] = cap[of_spot[spots]]
    room = csr_array((limit, (rows, columns)), shape=(2 * k + 2, 2 * k + 2))
    flow = maximum_flow(room, source, sink).flow
    sent = coo_array(flow[[source], :])
    kit_sent = g.kit[of_spot[spots[sent.coords[1]]]]
    upper = np.bincount(kit_sent, weights=sent.data, minlength=g.n_kits).astype(np.int64)
    spare = coo_array(room - flow)
    a, b = (x[spare.data > 0] for x in spare.coords)
    inner = (a < source) & (b < source)
    index = np.arange(2 * k)
    from_start = _reach(a[inner], b[inner], np.isin(index, first))[0] >= 0
    to_end = _reach(b[inner], a[inner], np.isin(index, k + last))[0] >= 0
    tight = np.zeros(n, dtype=bool)
    tight[of_spot[spots[from_start[:k] & to_end[k:]]]] = True
    return upper, tight


def _greedy(g: _Graph, cap: Array, kits: Array, upper: Array) -> tuple[Array, Array]:
    """Stations found by taking out shortest paths until the bound is met, and the first path of each kit."""
    left, lower = cap.copy(), np.zeros(g.n_kits, dtype=np.int64)
    example = np.zeros(0, dtype=np.int64)
    active = kits & (upper > 0)
    while active.any():
        nodes = _shortest(g, active, left)
        used = np.bincount(g.item[nodes], minlength=len(left))
        good = np.zeros(g.n_kits, dtype=bool)
        good[g.kit[g.item[nodes]]] = True
        good[g.kit[np.flatnonzero(used > left)]] = False
        nodes = nodes[good[g.kit[g.item[nodes]]]]
        left -= np.bincount(g.item[nodes], minlength=len(left))
        example = example if lower.any() else nodes
        lower += good
        active = good & g.is_multi & (lower < upper)
    return lower, example


def _count(g: _Graph, cap: Array) -> tuple[Array, Array, Array, Array]:
    """Exact stations per kit, nodes of one example path each, the merged bound, and the items that hold it down."""
    merged, tight = _flow(g, cap, np.ones(g.n_kits, dtype=bool), merged=True)
    upper = merged
    if g.is_multi.any():
        upper = np.where(g.is_multi, np.minimum(merged, _flow(g, cap, g.is_multi, merged=False)[0]), merged)
    lower, example = _greedy(g, cap, upper > 0, upper)
    count = np.where(g.is_multi, lower, upper)
    unsure = np.flatnonzero(g.is_multi & (lower < upper))
    for at in range(0, len(unsure), KITS_A_PROGRAM):
        kits = np.zeros(g.n_kits, dtype=bool)
        kits[unsure[at : at + KITS_A_PROGRAM]] = True
        exact, nodes = _search(g, cap, kits)
        count[kits] = exact[kits]
        example = np.concatenate([example, nodes[lower[g.kit[g.item[nodes]]] == 0]])
    return count, example[np.argsort(g.kit[g.item[example]], kind="stable")], merged, tight


def _search(g: _Graph, cap: Array, kits: Array) -> tuple[Array, Array]:
    """Exact stations of the marked kits by an integer program over their edges, and one path from each answer."""
    chosen = kits[g.kit[g.item[g.u]]]
    u, v = g.u[chosen], g.v[chosen]
    mine = kits[g.kit[g.item]]
    starts, ends = np.flatnonzero(g.is_start & mine), np.flatnonzero(g.is_end & mine)
    nodes = np.unique(np.concatenate([u, v, starts, ends]))
    items, of = np.unique(g.item[nodes], return_inverse=True)
    m, more, n = len(u), len(u) + len(starts), len(u) + len(starts) + len(ends)
    enter_row = np.searchsorted(nodes, np.concatenate([v, starts]))
    leave_row = np.searchsorted(nodes, np.concatenate([u, ends]))
    leave_column = np.concatenate([np.arange(m), np.arange(more, n)])
    enter = csr_array((np.ones(more), (enter_row, np.arange(more))), shape=(len(nodes), n))
    leave = csr_array((np.ones(len(leave_row)), (leave_row, leave_column)), shape=(len(nodes), n))
    joint = csr_array((np.ones(len(of)), (of, np.arange(len(of)))), shape=(len(items), len(nodes)))
    gain = np.zeros(n)
    gain[m:more] = -1
    answer = milp(
        gain,
        integrality=np.ones(n),
        bounds=Bounds(0, float(cap[items].max())),
        constraints=[
            LinearConstraint(enter - leave, 0, 0),
            LinearConstraint(joint @ enter, -np.inf, cap[items]),
        ],
        options={"mip_rel_gap": 0},
    )
    amount = np.rint(answer.x).astype(np.int64)
    count = np.bincount(g.kit[g.item[starts]], weights=amount[m:more], minlength=g.n_kits).astype(np.int64)
    is_start, is_end = np.zeros_like(g.is_start), np.zeros_like(g.is_end)
    is_start[starts[amount[m:more] > 0]] = True
    is_end[ends[amount[more:] > 0]] = True
    used = amount[:m] > 0
    answered = replace(g, u=u[used], v=v[used], is_start=is_start, is_end=is_end)
    return count, _shortest(answered, kits, cap)


def _weak(g: _Graph, cap: Array, path: Array) -> Array:
    """Items, one of a kind, without which their kit has no station; each stands on the example path.

    The items met on every walk from a start are found for all nodes at once by intersection over the edges. Where
    one path could meet an item twice a walk need not be a station, and each item is taken away and counted again.
    """
    items, kits = g.item[path], g.kit[g.item[path]]
    step = np.arange(len(path)) - np.searchsorted(kits, kits)
    single = np.bincount(items, minlength=len(g.kit))[items] >= cap[items]
    simple = single & ~g.is_twice[kits] & (step < 64)
    bit = np.zeros(len(g.kit), dtype=np.uint64)
    bit[items[simple]] = np.uint64(1) << step[simple].astype(np.uint64)
    full = np.uint64(2**64 - 1)
    must = np.where(g.is_start, bit[g.item], full)
    heads, begin = np.unique(g.v, return_index=True)
    while len(heads):
        met = np.bitwise_and.reduceat(must[g.u], begin) | bit[g.item[heads]]
        met = np.where(g.is_start[heads], must[heads], met)
        if (met == must[heads]).all():
            break
        must[heads] = met
    always = np.full(g.n_kits, full)
    ends = np.flatnonzero(g.is_end)
    np.bitwise_and.at(always, g.kit[g.item[ends]], must[ends])
    weak = [items[simple & ((always[kits] & bit[items]) > 0)]]
    tried = np.unique(items[single & ~simple])
    weak.append(tried[_try(g, cap, tried, -1) == 0])
    return np.unique(np.concatenate(weak))


def _try(g: _Graph, cap: Array, tried: Array, more: int) -> Array:
    """Stations of an item's kit if there were ``more`` of it; one copy of the kit for each item tried."""
    nodes = np.unique(np.concatenate([g.u, g.v, np.flatnonzero(g.is_start | g.is_end)]))
    nodes = nodes[np.argsort(g.kit[g.item[nodes]], kind="stable")]
    items = np.unique(g.item[nodes])
    item_at, node_at = np.full(len(g.kit), -1), np.full(len(g.item), -1)
    lot, i = _join(g.kit[tried], g.kit[items])
    to, j = _join(g.kit[tried], g.kit[g.item[nodes]])
    copy_of, edge = _join(g.kit[tried], g.kit[g.item[g.u]])
    item_at[items], node_at[nodes] = np.arange(len(items)), np.arange(len(nodes))
    item_key, node_key = lot * len(items) + i, to * len(nodes) + j
    node_order = np.argsort(node_key)

    def node_of(node: Array) -> Array:
        return node_order[np.searchsorted(node_key, copy_of * len(nodes) + node_at[node], sorter=node_order)]

    u, v = node_of(g.u[edge]), node_of(g.v[edge])
    by_head = np.argsort(v, kind="stable")
    item_order = np.argsort(item_key)
    item = item_order[
        np.searchsorted(item_key, to * len(items) + item_at[g.item[nodes[j]]], sorter=item_order)
    ]
    copies = replace(
        g,
        u=u[by_head],
        v=v[by_head],
        item=item,
        is_start=g.is_start[nodes[j]],
        is_end=g.is_end[nodes[j]],
        kit=lot,
        n_kits=len(tried),
        is_multi=g.is_multi[g.kit[tried]],
        is_twice=g.is_twice[g.kit[tried]],
    )
    return _count(copies, cap[items[i]] + more * (items[i] == tried[lot]))[0]


def _spare(g: _Graph, cap: Array, count: Array, upper: Array, raisable: Array) -> Array:
    """First item of each kit of which one more gives one more station; -1 where there is none or no station.

    Only items that hold down the merged flow can do so where that flow is reached; elsewhere any useful item may.
    """
    spare = np.full(g.n_kits, -1)
    useful = np.unique(g.item[np.concatenate([g.u, g.v, np.flatnonzero(g.is_start | g.is_end)])])
    asked = useful[(count[g.kit[useful]] > 0) & (raisable[useful] | (count < upper)[g.kit[useful]])]
    is_multi = g.is_multi[g.kit[asked]]
    tried = asked[is_multi]
    wins = np.concatenate([asked[~is_multi], tried[_try(g, cap, tried, +1) > count[g.kit[tried]]]])
    wins = np.sort(wins)[::-1]
    spare[g.kit[wins]] = wins
    return spare


def _missing(g: _Graph, parts: pd.DataFrame, count: Array) -> tuple[Array, Array, Array]:
    """First missing link of kits without a station, and the plugs that a missing path would have to join."""
    role, kit = parts["role"].to_numpy(dtype=object), g.kit
    link = np.where(count > 0, "", "dc_path").astype(object)
    plug_from, plug_to = np.full(g.n_kits, None, dtype=object), np.full(g.n_kits, None, dtype=object)

    def has(items: Array) -> Array:
        return np.bincount(kit[items], minlength=g.n_kits) > 0

    r, e = g.fit_source
    q, a = g.fit_antenna
    is_fed = has(np.flatnonzero(g.is_fed))
    reach = g.is_fed[q]
    no_station = count == 0
    link[no_station & is_fed] = "rf_path"
    link[no_station & is_fed & ~has(q[reach])] = "antenna"
    link[no_station & ~is_fed & ~has(e)] = "source"
    any_source = np.isin(role, ["source", "pack"]) | (parts["dc_plug"] == "builtin").to_numpy(dtype=bool)
    link[no_station & has(np.flatnonzero(any_source)) & ~has(np.flatnonzero(role == "radio"))] = "radio"
    for name, start, end, plug in (("dc_path", e, r, "dc_plug"), ("rf_path", q[reach], a[reach], "rf_plug")):
        words = parts[plug].astype(object).where(parts[plug].notna(), None).to_numpy(dtype=object)
        order = np.lexsort((end, start, kit[start]))
        start, end = start[order], end[order]
        ks, at = np.unique(kit[start], return_index=True)
        mine = link[ks] == name
        plug_from[ks[mine]], plug_to[ks[mine]] = words[start[at[mine]]], words[end[at[mine]]]
    return link, plug_from, plug_to
