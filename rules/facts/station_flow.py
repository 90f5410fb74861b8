"""Complete stations of every kit in the club, counted as paths that share no item.

A complete station is source, DC elements, radio, RF elements, antenna, in which every joint mates, the voltage
that arrives lies inside the radio's window, every DC element carries the radio's transmit current, and antenna
and radio share a band. The number of independent stations is the largest number of such paths that use no item
more often than its quantity: a maximum flow with node capacities (Menger's theorem).

The graph is that of ``station_graph``; its limits are stated there. Where every item of a kit is useful in one
state only, one flow over the whole club is exact. Where items have several states that share their quantity the
problem is a flow with bundled capacities, which flow alone cannot decide, so:

1. two club-wide flows are upper bounds: one merges all states of an item, which can only add paths, the other
   gives each state of a lead or cable the whole quantity;
2. shortest stations are taken out one after the other, for all kits at once: a lower bound;
3. kits whose bounds differ are solved exactly, some dozens together, by an integer program over their edges.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import maximum_flow

from rules.facts.station_graph import (
    COLUMNS,
    Array,
    Graph,
    distinct,
    has_null,
    join,
    reach,
    state_graph,
    usable_parts,
)

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
    parts = usable_parts(items, kit_ids)
    bands = None if bands is None else set(bands)

    low = state_graph(parts, mating, bands, len(kit_ids), unknown_fits=False)
    cap = parts["quantity"].to_numpy()
    count_low, path_low, upper, raisable = _count(low, cap)
    open_kit = np.zeros(len(kit_ids), dtype=bool)
    open_kit[parts["kit"].to_numpy()[has_null(parts)]] = True
    few = parts[open_kit[parts["kit"].to_numpy()]].reset_index(drop=True)
    high = state_graph(few, mating, bands, len(kit_ids), unknown_fits=True)
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
    kit_ids: Array, g: Graph, parts: pd.DataFrame, items: Array, nodes: Array | None, sure: bool
) -> pd.DataFrame:
    """Rows of ``weak``, or of ``path`` when the path's nodes are given (in order within each kit)."""
    frame = pd.DataFrame({"kit_id": kit_ids[g.kit[items]]})
    if nodes is not None:
        frame["step"] = frame.groupby("kit_id").cumcount()
    frame["item_id"] = parts["item_id"].to_numpy()[items]
    frame["is_certain"] = np.full(len(items), sure)
    return frame


def _count(g: Graph, cap: Array, than: Array | None = None) -> tuple[Array, Array, Array, Array]:
    """Exact stations per kit, nodes of one example path each, the merged bound, and the items that hold it down.

    If only whether there are more ``than`` some number matters, kits whose bounds tell are not searched.
    """
    merged, tight = _flow(g, cap, np.ones(g.n_kits, dtype=bool), merged=True)
    upper = merged
    if g.is_multi.any():
        upper = np.where(g.is_multi, np.minimum(merged, _flow(g, cap, g.is_multi, merged=False)[0]), merged)
    lower, example = _greedy(g, cap, upper > 0, upper)
    count = np.where(g.is_multi, lower, upper)
    is_open = g.is_multi & (lower < upper)
    if than is not None:
        is_open &= (lower <= than) & (than < upper)
    unsure = np.flatnonzero(is_open)
    for at in range(0, len(unsure), KITS_A_PROGRAM):
        kits = np.zeros(g.n_kits, dtype=bool)
        kits[unsure[at : at + KITS_A_PROGRAM]] = True
        exact, nodes = _search(g, cap, kits)
        count[kits] = exact[kits]
        example = np.concatenate([example, nodes[lower[g.kit[g.item[nodes]]] == 0]])
    return count, example[np.argsort(g.kit[g.item[example]], kind="stable")], merged, tight


def _flow(g: Graph, cap: Array, kits: Array, *, merged: bool) -> tuple[Array, Array]:
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
    arcs = distinct(spot[g.u[use]] * size + spot[g.v[use]])
    tail, head = arcs // max(size, 1), arcs % max(size, 1)
    first, last = (distinct(spot[mark & kits[g.kit[g.item]]]) for mark in (g.is_start, g.is_end))
    spots = distinct(np.concatenate([tail, head, first, last]))
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
    from_start = reach(a[inner], b[inner], np.isin(index, first))[0] >= 0
    to_end = reach(b[inner], a[inner], np.isin(index, k + last))[0] >= 0
    tight = np.zeros(n, dtype=bool)
    tight[of_spot[spots[from_start[:k] & to_end[k:]]]] = True
    return upper, tight


def _greedy(g: Graph, cap: Array, kits: Array, upper: Array) -> tuple[Array, Array]:
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


def _shortest(g: Graph, kits: Array, left: Array) -> Array:
    """Nodes of one shortest path in each of the kits marked, kit after kit, over items of which any is left."""
    usable = (kits[g.kit] & (left > 0))[g.item]
    open_edge = usable[g.u] & usable[g.v]
    steps, before = reach(g.u[open_edge], g.v[open_edge], g.is_start & usable)
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


def _search(g: Graph, cap: Array, kits: Array) -> tuple[Array, Array]:
    """Exact stations of the marked kits by an integer program over their edges, and one path from each answer."""
    chosen = kits[g.kit[g.item[g.u]]]
    u, v = g.u[chosen], g.v[chosen]
    mine = kits[g.kit[g.item]]
    starts, ends = np.flatnonzero(g.is_start & mine), np.flatnonzero(g.is_end & mine)
    nodes = distinct(np.concatenate([u, v, starts, ends]))
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


def _weak(g: Graph, cap: Array, path: Array) -> Array:
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
    tried = distinct(items[single & ~simple])
    weak.append(tried[~_try(g, cap, tried, -1, np.zeros(len(tried), dtype=np.int64))])
    return distinct(np.concatenate(weak))


def _try(g: Graph, cap: Array, tried: Array, more: int, than: Array) -> Array:
    """Whether an item's kit has more ``than`` so many stations with ``more`` of it; one copy of the kit an item."""
    nodes = distinct(np.concatenate([g.u, g.v, np.flatnonzero(g.is_start | g.is_end)]))
    nodes = nodes[np.argsort(g.kit[g.item[nodes]], kind="stable")]
    items = distinct(g.item[nodes])
    item_at, node_at = np.full(len(g.kit), -1), np.full(len(g.item), -1)
    lot, i = join(g.kit[tried], g.kit[items])
    to, j = join(g.kit[tried], g.kit[g.item[nodes]])
    copy_of, edge = join(g.kit[tried], g.kit[g.item[g.u]])
    item_at[items], node_at[nodes] = np.arange(len(items)), np.arange(len(nodes))
    item_key, node_key = lot * len(items) + i, to * len(nodes) + j
    node_order = np.argsort(node_key)

    def node_of(node: Array) -> Array:
        at: Array = node_order[
            np.searchsorted(node_key, copy_of * len(nodes) + node_at[node], sorter=node_order)
        ]
        return at

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
    has_more: Array = _count(copies, cap[items[i]] + more * (items[i] == tried[lot]), than)[0] > than
    return has_more


def _spare(g: Graph, cap: Array, count: Array, upper: Array, raisable: Array) -> Array:
    """First item of each kit of which one more gives one more station; -1 where there is none or no station.

    Only items that hold down the merged flow can do so where that flow is reached; elsewhere any useful item may.
    """
    spare = np.full(g.n_kits, -1)
    useful = distinct(g.item[np.concatenate([g.u, g.v, np.flatnonzero(g.is_start | g.is_end)])])
    asked = useful[(count[g.kit[useful]] > 0) & (raisable[useful] | (count < upper)[g.kit[useful]])]
    is_multi = g.is_multi[g.kit[asked]]
    tried = asked[is_multi]
    wins = np.concatenate([asked[~is_multi], tried[_try(g, cap, tried, +1, count[g.kit[tried]])]])
    wins = np.sort(wins)[::-1]
    spare[g.kit[wins]] = wins
    return spare


def _missing(g: Graph, parts: pd.DataFrame, count: Array) -> tuple[Array, Array, Array]:
    """First missing link of kits without a station, and the plugs that a missing path would have to join."""
    role, kit = parts["role"].to_numpy(dtype=object), g.kit
    link = np.where(count > 0, "", "dc_path").astype(object)
    plug_from, plug_to = np.full(g.n_kits, None, dtype=object), np.full(g.n_kits, None, dtype=object)

    def has(items: Array) -> Array:
        return np.bincount(kit[items], minlength=g.n_kits) > 0

    r, e = g.fit_source
    q, a = g.fit_antenna
    is_fed = has(np.flatnonzero(g.is_fed))
    can_start = g.is_fed[q]
    no_station = count == 0
    link[no_station & is_fed] = "rf_path"
    link[no_station & is_fed & ~has(q[can_start])] = "antenna"
    link[no_station & ~is_fed & ~has(e)] = "source"
    any_source = np.isin(role, ["source", "pack"]) | (parts["dc_plug"] == "builtin").to_numpy(dtype=bool)
    link[no_station & has(np.flatnonzero(any_source)) & ~has(np.flatnonzero(role == "radio"))] = "radio"
    for name, start, end, plug in (
        ("dc_path", e, r, "dc_plug"),
        ("rf_path", q[can_start], a[can_start], "rf_plug"),
    ):
        words = parts[plug].astype(object).where(parts[plug].notna(), None).to_numpy(dtype=object)
        order = np.lexsort((end, start, kit[start]))
        start, end = start[order], end[order]
        ks, at = np.unique(kit[start], return_index=True)
        mine = link[ks] == name
        plug_from[ks[mine]], plug_to[ks[mine]] = words[start[at[mine]]], words[end[at[mine]]]
    return link, plug_from, plug_to
