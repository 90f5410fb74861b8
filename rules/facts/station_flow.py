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
import pyarrow as pa
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import maximum_flow

from rules.facts.station_graph import (
    BUILTIN,
    COLUMNS,
    Array,
    Graph,
    Parts,
    distinct,
    fits,
    has_null,
    join,
    most_stations,
    numbered,
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
    weak : kit_id, item_id, is_certain, is_doubtful; single points of failure: items without which the kit has no
        station. Doubtful where it would have one without the item if what is not known fits.
    path : kit_id, step, item_id, is_certain; one shortest station from source to antenna.
    ``is_certain`` is false where the kit has a station only if what is not known fits.
    """

    per_kit: pa.Table
    weak: pa.Table
    path: pa.Table


def stations(
    items: pa.Table,
    mating: pa.Table,
    bands: Iterable[str] | None = None,
    kit_ids: Array | None = None,
) -> StationResult:
    """Count independent complete stations, find weak items and one example path for every kit.

    Parameters
    ----------
    items : one row per item of the whole club, with the columns of ``COLUMNS``; volts in V, currents in A;
        plugs, bands and figures that are not known are null; ``builtin`` is an integral pack or antenna.
    mating : plug_a, plug_b; one row per ordered pair that mates.
    bands : if given, only stations on one of these bands count.
    kit_ids : the kits, ascending, where ``items`` does not name them all.

    Raises
    ------
    ValueError : a column is missing from ``items``.
    """
    absent = [name for name in COLUMNS if name not in items.column_names]
    if absent:
        raise ValueError(
            f"items: no column {', '.join(absent)}. Give one column each of {', '.join(COLUMNS)}."
        )
    if kit_ids is None:
        kit_ids = distinct(items["kit_id"].to_numpy())
    every = usable_parts(items, kit_ids)
    stands_for, first = _alike(every, len(kit_ids))
    is_asked = np.zeros(len(kit_ids), dtype=bool)
    is_asked[first] = True
    parts = every.only(is_asked[every.kit])
    parts = replace(parts, kit=stands_for[parts.kit])
    n_kits = len(first)
    bands = None if bands is None else set(bands)

    low = state_graph(parts, mating, bands, n_kits, unknown_fits=False)
    cap = parts.quantity
    upper_low, raisable = _flow(low, cap, np.ones(n_kits, dtype=bool), merged=True, is_tight_asked=True)
    count_low, path_low = _count(low, cap, upper_low)
    few = _may_have_more(parts, bands, count_low)
    high = state_graph(parts.only(few), mating, bands, n_kits, unknown_fits=True)
    cap_high = cap[few]
    count_high, path_high = _count(high, cap_high)
    count_high = np.maximum(count_high, count_low)

    missing_link, plug_from, plug_to = _missing(low, parts, count_low)
    spare = _spare(low, cap, count_low, upper_low, raisable)
    spare_kind = np.array([*parts.kinds, ""], dtype=object)[np.append(parts.kind, -1)[spare]]
    of_kit = {"stations_low": count_low, "stations_high": count_high, "has_unknown": count_low != count_high}
    words = {"missing_link": missing_link, "spare_kind": spare_kind}
    words |= {"plug_from": plug_from, "plug_to": plug_to}
    per_kit = pa.table(
        {"kit_id": kit_ids}
        | {name: values[stands_for] for name, values in of_kit.items()}
        | {name: pa.array(values[stands_for], pa.string()) for name, values in words.items()}
    )

    maybe = count_low == 0
    path_high = path_high[maybe[high.kit[high.item[path_high]]]]
    weak = _weak(low, cap, path_low), few[_weak(high, cap_high, path_high)]
    doubtful = weak[0][_may_do_without(parts, mating, bands, count_high, weak[0])]
    path = low.item[path_low], few[high.item[path_high]]
    weak_rows = _rows(parts, every, stands_for, first, *weak)
    doubtful_rows = _rows(parts, every, stands_for, first, doubtful, doubtful[:0])
    weak_rows["is_doubtful"] = np.isin(weak_rows["item_id"], doubtful_rows["item_id"])
    path_rows = _rows(parts, every, stands_for, first, *path)
    order = np.lexsort((weak_rows["item_id"], weak_rows["kit"]))
    weak_rows = {name: values[order] for name, values in weak_rows.items()}
    kits, begin = path_rows["kit"], np.arange(len(path_rows["kit"]))
    step = begin - np.searchsorted(kits, kits)
    return StationResult(
        per_kit,
        pa.table({"kit_id": kit_ids[weak_rows.pop("kit")], **weak_rows}),
        pa.table({"kit_id": kit_ids[path_rows.pop("kit")], "step": step, **path_rows}),
    )


def _alike(parts: Parts, n_kits: int) -> tuple[Array, Array]:
    """For each kit the number of the one that stands for it, and those kits; kits alike have the same answer.

    Kits are alike where their items, in order, differ in nothing but number. They are compared by 64-bit hashes.
    """
    told = [parts.role, parts.kind, parts.quantity, parts.bands, parts.charge_fits]
    row = _hashes([*told, *parts.plugs.values(), *parts.figures.values()])
    place = np.arange(len(row)) - np.searchsorted(parts.kit, parts.kit)
    odd = (
        np.random.default_rng(7).integers(1, 2**62, size=int(place.max(initial=0)) + 1, dtype=np.uint64) * 2
        + 1
    )
    total = np.zeros(n_kits, dtype=np.uint64)
    np.add.at(total, parts.kit, row * odd[place])
    _, first, alike = np.unique(total, return_index=True, return_inverse=True)
    number = np.argsort(np.argsort(first))
    return number[alike], np.sort(first)


def _hashes(columns: list[Array]) -> Array:
    """A 64-bit hash of each row of numbers, mixed as in SplitMix64 (Steele, Lea and Flood 2014)."""
    row = np.zeros(len(columns[0]), dtype=np.uint64)
    for column in columns:
        row += column.astype(np.float64).view(np.uint64) + np.uint64(0x9E3779B97F4A7C15)
        row = (row ^ (row >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
        row = (row ^ (row >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
        row ^= row >> np.uint64(31)
    return row


def _may_have_more(parts: Parts, bands: set[str] | None, count: Array) -> Array:
    """Items of the kits that may have more stations than counted if what is not known fits."""
    is_open = np.zeros(len(count), dtype=bool)
    is_open[parts.kit[has_null(parts)]] = True
    few = np.flatnonzero(is_open[parts.kit])
    there = parts.only(few)
    most = most_stations(there, fits(there, bands, unknown_fits=True), len(count))
    chosen: Array = few[(most > count)[there.kit]]
    return chosen


def _may_do_without(
    parts: Parts, mating: pa.Table, bands: set[str] | None, count_high: Array, weak: Array
) -> Array:
    """Whether the kit of each weak item has a station without it if what is not known fits."""
    kit, is_open = parts.kit[weak], np.zeros(len(count_high), dtype=bool)
    is_open[parts.kit[has_null(parts)]] = True
    is_asked = is_open[kit] & (count_high[kit] == 1)
    is_doubtful: Array = count_high[kit] > 1
    if not is_asked.any():
        return is_doubtful
    few = np.flatnonzero(np.isin(parts.kit, kit[is_asked]))
    graph = state_graph(parts.only(few), mating, bands, len(count_high), unknown_fits=True)
    tried = np.searchsorted(few, weak[is_asked])
    is_doubtful[is_asked] = _try(graph, parts.quantity[few], tried, -1, np.zeros(len(tried), dtype=np.int64))
    return is_doubtful


def _rows(
    parts: Parts, every: Parts, stands_for: Array, first: Array, sure: Array, unsure: Array
) -> dict[str, Array]:
    """Kit, item and certainty of items found in the kits asked, for every kit that these stand for, by kit."""
    found = np.concatenate([sure, unsure])
    is_certain = np.arange(len(found)) < len(sure)
    kit, at = join(stands_for, parts.kit[found])
    begin = np.searchsorted(every.kit, np.arange(len(stands_for)))
    place = found[at] - np.searchsorted(parts.kit, parts.kit[found[at]])
    return {"kit": kit, "item_id": every.item_id[begin[kit] + place], "is_certain": is_certain[at]}


def _count(
    g: Graph, cap: Array, upper: Array | None = None, than: Array | None = None
) -> tuple[Array, Array]:
    """Exact stations per kit, and nodes of one example path each.

    ``upper`` are bounds that are known. If only whether there are more ``than`` some number matters, kits whose
    bounds tell are not searched.
    """
    if upper is None:
        upper = _narrowest_end(g, cap)
        wide = (upper > 1) | _has(g, np.flatnonzero(cap == 0))
        if wide.any():
            upper[wide] = _flow(g, cap, wide, merged=True)[0][wide]
    apart = g.is_multi & (upper > (0 if than is None else than))
    if apart.any():
        upper = np.where(apart, np.minimum(upper, _flow(g, cap, apart, merged=False)[0]), upper)
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
    return count, example[np.argsort(g.kit[g.item[example]], kind="stable")]


def _has(g: Graph, items: Array) -> Array:
    """Kits that hold any of the items."""
    held = np.zeros(g.n_kits, dtype=bool)
    held[g.kit[items]] = True
    return held


def _narrowest_end(g: Graph, cap: Array) -> Array:
    """No more stations than items to start from, or to end at. If that is one and all are there, there is one."""
    ends = [distinct(g.item[mark]) for mark in (g.is_start, g.is_end)]
    first, last = (np.bincount(g.kit[items], weights=cap[items], minlength=g.n_kits) for items in ends)
    return np.minimum(first, last).astype(np.int64)


def _flow(
    g: Graph, cap: Array, kits: Array, *, merged: bool, is_tight_asked: bool = False
) -> tuple[Array, Array]:
    """Upper bound of stations per kit by one flow over all kits, and, if asked, the items that hold it down.

    With ``merged`` all states of an item are one node, which lets a path change layers; without it leads and
    cables have one node a state, which lets them be used once in every state.
    """
    n, mine = len(g.kit), kits[g.kit][g.item]
    ends = np.zeros(n, dtype=bool)
    ends[g.item[g.is_start | g.is_end]] = True
    spot = np.where(merged | ends[g.item], g.item, n + np.arange(len(g.item)))
    of_spot = np.concatenate([np.arange(n), g.item])
    use = mine[g.u]
    tail, head, first, last = (spot[x] for x in (g.u[use], g.v[use], g.is_start & mine, g.is_end & mine))
    spots, number = numbered(len(of_spot), tail, head, first, last)
    k = len(spots)
    tail, head, first, last = (number[x] for x in (tail, head, first, last))
    source, sink, each = 2 * k, 2 * k + 1, np.arange(k)
    rows = np.concatenate([np.full(len(first), source), each, k + tail, k + last])
    columns = np.concatenate([first, k + each, head, np.full(len(last), sink)])
    limit = np.full(len(rows), PLENTY)
    limit[len(first) : len(first) + k] = cap[of_spot[spots]]
    room = csr_array((limit, (rows, columns)), shape=(2 * k + 2, 2 * k + 2))
    room.data = np.minimum(room.data, PLENTY).astype(np.int32)  # arcs met twice were added up
    flow = maximum_flow(room, source, sink).flow
    sent = coo_array(flow[[source], :])
    kit_sent = g.kit[of_spot[spots[sent.coords[1]]]]
    upper = np.bincount(kit_sent, weights=sent.data, minlength=g.n_kits).astype(np.int64)
    tight = np.zeros(n, dtype=bool)
    if not is_tight_asked:
        return upper, tight
    spare = coo_array(room - flow)
    a, b = (x[spare.data > 0] for x in spare.coords)
    inner = (a < source) & (b < source)
    index = np.arange(2 * k)
    from_start = reach(a[inner], b[inner], np.isin(index, first))[0] >= 0
    to_end = reach(b[inner], a[inner], np.isin(index, k + last))[0] >= 0
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
        options={"mip_rel_gap": 0, "presolve": False},  # the programs are small
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
    if not len(tried):
        return np.zeros(0, dtype=bool)
    kit, kits = g.kit[tried], np.zeros(g.n_kits, dtype=bool)
    kits[kit] = True
    mine = kits[g.kit][g.item]
    edges = np.flatnonzero(mine[g.u])
    nodes, _ = numbered(len(g.item), g.u[edges], g.v[edges], (g.is_start | g.is_end) & mine)
    nodes = nodes[np.argsort(g.kit[g.item[nodes]], kind="stable")]
    items, _ = numbered(len(g.kit), g.item[nodes])

    def copied(of_kit: Array, size: int, places: Array) -> tuple[Array, Array, Array]:
        """Copy and original of each, by kit, and what a place among all is to be moved by within its copy."""
        lot, at = join(kit, of_kit)
        move = np.full(size, -1)
        move[places] = np.arange(len(places)) - np.searchsorted(of_kit, of_kit)
        return lot, places[at], move

    item_lot, item, item_move = copied(g.kit[items], len(g.kit), items)
    lot, node, node_move = copied(g.kit[g.item[nodes]], len(g.item), nodes)
    edge_lot, edge = join(kit, g.kit[g.item[g.u[edges]]])
    begin_item, begin = (np.searchsorted(x, np.arange(len(tried))) for x in (item_lot, lot))
    copies = replace(
        g,
        u=begin[edge_lot] + node_move[g.u[edges[edge]]],
        v=begin[edge_lot] + node_move[g.v[edges[edge]]],
        item=begin_item[lot] + item_move[g.item[node]],
        is_start=g.is_start[node],
        is_end=g.is_end[node],
        kit=item_lot,
        n_kits=len(tried),
        is_multi=g.is_multi[kit],
        is_twice=g.is_twice[kit],
    )
    cap_of_copy = cap[item] + more * (item == tried[item_lot])
    has_more: Array = _count(copies, cap_of_copy, than=than)[0] > than
    return has_more


def _spare(g: Graph, cap: Array, count: Array, upper: Array, raisable: Array) -> Array:
    """First item of each kit of which one more gives one more station; -1 where there is none or no station.

    Only items that hold down the merged flow can do so where that flow is reached; elsewhere any useful item may.
    """
    spare = np.full(g.n_kits, -1)
    useful, _ = numbered(len(g.kit), g.item[g.u], g.item[g.v], g.item[g.is_start | g.is_end])
    asked = useful[(count[g.kit[useful]] > 0) & (raisable[useful] | (count < upper)[g.kit[useful]])]
    is_multi = g.is_multi[g.kit[asked]]
    tried = asked[is_multi]
    wins = np.concatenate([asked[~is_multi], tried[_try(g, cap, tried, +1, count[g.kit[tried]])]])
    wins = np.sort(wins)[::-1]
    spare[g.kit[wins]] = wins
    return spare


def _missing(g: Graph, parts: Parts, count: Array) -> tuple[Array, Array, Array]:
    """First missing link of kits without a station, and the plugs that a missing path would have to join."""
    kit = g.kit
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
    any_source = parts.plays("source", "pack") | (parts.plugs["dc_plug"] == BUILTIN)
    link[no_station & has(np.flatnonzero(any_source)) & ~has(np.flatnonzero(parts.plays("radio")))] = "radio"
    for name, start, end, plug in (
        ("dc_path", e, r, "dc_plug"),
        ("rf_path", q[can_start], a[can_start], "rf_plug"),
    ):
        words = np.array([*parts.plug_words, "builtin", None], dtype=object)[parts.plugs[plug]]
        order = np.lexsort((end, start, kit[start]))
        start, end = start[order], end[order]
        ks, at = np.unique(kit[start], return_index=True)
        mine = link[ks] == name
        plug_from[ks[mine]], plug_to[ks[mine]] = words[start[at[mine]]], words[end[at[mine]]]
    return link, plug_from, plug_to
