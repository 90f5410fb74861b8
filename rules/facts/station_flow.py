"""The most stations of each kit, as a flow through its state graph, for all kits of the club at once.

A station is a path from a start to an end, and no item is used more often than its quantity: a maximum flow with node
capacities (Menger's theorem). Where every item of a kit is useful in one state only, one flow is exact. Where items have
several states that share their quantity the problem is a flow with bundled capacities, which flow alone cannot decide, so:

1. the same search for augmenting paths, held to the quantities, is a lower bound;
2. two flows are upper bounds: one gives each state of an item the whole quantity, the other each way in which an item
   is used, whatever the radio, which can only add paths;
3. kits whose bounds differ are searched again with states left out at random, which often meets the upper bound;
4. a linear program over their edges, which may send part of a station each way, often has no room for one more;
5. what is still open is solved exactly, some dozens of kits together, by the same program in whole stations.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from rules.facts.places import Array, by_second, distinct, in_kit, marked, ranked, reach, runs
from rules.facts.station_graph import Graph

KITS_A_PROGRAM = 32
DRAWS = 32
"""Copies of a kit with states left out; with these most kits are settled that a program would have to."""


@dataclass(frozen=True)
class _Found:
    """Stations of each kit, and how they run."""

    count: Array  # of kit
    upper: Array  # of kit: no more than this if each state of an item had the whole quantity
    flow: Array  # of edge: how many of the upper number of stations pass it
    used: Array  # of node
    path: Array  # nodes of one station of each kit, kit after kit


def count_stations(g: Graph, than: Array | None = None) -> _Found:
    """Exact stations per kit. If only whether there are more ``than`` some number matters, no more are looked for."""
    upper = np.min([there for _, there in _cuts(g)], axis=0)
    if than is not None:
        upper = np.where(upper > than, than + 1, 0)
    found = _augment(g, upper)
    upper = np.where(g.is_multi, upper, found.count)
    few = np.flatnonzero(found.count < upper)
    if not len(few):
        return replace(found, upper=upper)
    small, _, node, edge = _copies(g, few)
    apart = _augment(_apart(small), upper[few])
    upper[few], found.flow[edge], found.used[node] = apart.count, apart.flow, apart.used
    count, path = found.count[few], [found.path]
    is_open = (count < apart.count) & (True if than is None else apart.count > than[few])
    is_open &= count < _augment(_merged(small), np.where(is_open, apart.count, 0)).count
    for better, at_once in ((_draw, len(few)), (_search, KITS_A_PROGRAM)):
        unsure = np.flatnonzero(is_open)
        if better is _search:
            unsure = unsure[count[unsure] < _in_parts(small, unsure, apart.count[unsure])]
        for at in range(0, len(unsure), at_once):
            kits = unsure[at : at + at_once]
            more, nodes = better(small, kits, apart.count[kits])
            path.append(node[nodes[count[small.node_kit[nodes]] == 0]])
            count[kits] = np.maximum(count[kits], more)
        is_open &= count < apart.count
    found.count[few] = count
    nodes = np.concatenate(path)
    return replace(found, upper=upper, path=nodes[np.argsort(g.node_kit[nodes], kind="stable")])


def _cuts(g: Graph) -> list[tuple[Array, Array]]:
    """Marks of items of which every station needs one (to start from, radios, to end at), and how many a kit has."""
    marks = (marked(len(g.kit), g.item[g.is_start]), g.is_radio, marked(len(g.kit), g.item[g.is_end]))
    return [(mark, in_kit(g.kit, g.cap, mark, g.n_kits)) for mark in marks]


def _apart(g: Graph) -> Graph:
    """The graph with an item of its own for each node, which lets an item be used once in every state."""
    return replace(
        g, item=np.arange(len(g.item)), part=g.part[g.item], kit=g.node_kit, cap=g.cap[g.item],
        is_radio=g.is_radio[g.item],
    )  # fmt: skip


def _merged(g: Graph) -> Graph:
    """The graph with one node for each way that an item is used, each with the whole quantity; paths may change layers."""
    ways, node = np.unique(g.item * (g.way.max(initial=0) + 1) + g.way, return_inverse=True)
    first = np.zeros(len(ways), dtype=np.int64)
    first[node] = np.arange(len(node))
    is_start, is_end = (marked(len(ways), node[mark]) for mark in (g.is_start, g.is_end))
    return _apart(
        replace(
            g, u=node[g.u], v=node[g.v], item=g.item[first], is_start=is_start, is_end=is_end, way=g.way[first]
        )
    )  # fmt: skip


@dataclass(frozen=True)
class _Residual:
    """Arcs by which one more station may run, given those found, and the place where each node is entered.

    A node that is full has two places: it is left at its own number and entered at another, from which one can only
    go back along a station that is there (to send that on another way). First come the arcs along edges, then those
    against, then those back through full nodes.
    """

    tail: Array
    head: Array
    against: Array  # of each arc against an edge: the edge
    into: Array  # of node
    node: Array  # of place


def _residual(g: Graph, flow: Array, used: Array, is_full: Array, edges: Array) -> _Residual:
    """Residual arcs of some of the edges."""
    full, n = np.flatnonzero(is_full), len(g.item)
    into = np.arange(n)
    into[full] = n + np.arange(len(full))
    against, back = edges.compress(flow[edges] > 0), full.compress(used[full] > 0)
    tail = np.concatenate([g.u[edges], into[g.v[against]], back])
    head = np.concatenate([into[g.v[edges]], g.u[against], into[back]])
    return _Residual(tail, head, against, into, np.append(np.arange(n), full))


def _augment(g: Graph, upper: Array) -> _Found:
    """Stations found by one shortest augmenting path after the other, for all kits at once, until the bound is met.

    Exact for kits in which each item has one node (Edmonds and Karp 1972). Elsewhere states of an item share its
    quantity, which a path through several of them may exceed; the last of these states is then left out, and what is
    found is a lower bound.

    After every round ``used`` of a node is the flow that enters it, along edges or as a start, ``left`` of an item is
    its quantity less what its nodes use, and never below 0, and a kit that is still active has gained a station or
    lost a node since the round before, so that the search ends.
    """
    kit, left = g.node_kit, g.cap.copy()
    flow, used = np.zeros(len(g.u), dtype=np.int64), np.zeros(len(g.item), dtype=np.int64)
    count, last = np.zeros(g.n_kits, dtype=np.int64), np.zeros(len(left), dtype=np.int64)
    path = [last[:0]]
    active = upper > 0
    edges = np.flatnonzero(active[kit][g.v])
    starts, ends = np.flatnonzero(g.is_start), np.flatnonzero(g.is_end)
    while active.any():
        starts, ends = (x.compress(active[kit[x]]) for x in (starts, ends))
        arcs = _residual(g, flow, used, (left <= 0)[g.item] & active[kit], edges)
        steps, by = reach(arcs.tail, arcs.head, marked(len(arcs.node), arcs.into[starts]))
        there, far = ends[steps[ends] >= 0], np.iinfo(np.int64).max
        nearest = np.full(g.n_kits, far)
        np.minimum.at(nearest, kit[there], steps[there] * len(arcs.node) + there)
        place = nearest[nearest < far] % len(arcs.node)
        walk = []
        while len(place):
            walk.append((place, by[place]))
            arc = by[place]
            place = arcs.tail[arc[arc >= 0]]
        if not walk:
            break
        place, arc = (np.concatenate(x[::-1]) for x in zip(*walk, strict=True))
        node = arcs.node[place]
        on = (arc >= 0) & (arc < len(edges))
        off = (arc >= len(edges)) & (arc < len(edges) + len(arcs.against))
        more, less = edges[arc[on]], arcs.against[arc[off] - len(edges)]
        enters = np.concatenate([node[arc < 0], g.v[more]])
        need, spared = (np.bincount(g.item[x], minlength=len(left)) for x in (enters, g.v[less]))
        need -= spared
        active = marked(g.n_kits, kit[enters])
        amount = np.where(active, upper - count, 0)
        short = np.flatnonzero(need > 0)
        np.minimum.at(amount, g.kit[short], left[short] // need[short])
        np.minimum.at(amount, kit[g.v[less]], flow[less])
        flow[more] += amount[kit[g.v[more]]]
        flow[less] -= amount[kit[g.v[less]]]
        used[enters] += amount[kit[enters]]
        used[g.v[less]] -= amount[kit[g.v[less]]]
        is_new = (count == 0) & (amount > 0)
        path.append(node[is_new[kit[node]]])
        count += amount
        active &= count < upper
        last[g.item[enters]] = enters
        banned = marked(len(g.item), last[short[left[short] < need[short]]])
        left -= need * amount[g.kit]
        edges = edges.compress((active[kit] & ~banned)[g.v[edges]])
    nodes = np.concatenate(path)
    return _Found(count, upper, flow, used, nodes[np.argsort(kit[nodes], kind="stable")])


def _draw(g: Graph, kits: Array, most: Array) -> tuple[Array, Array]:
    """Stations found in the best of several copies of each kit that lack some states at random, and a path of each."""
    kit = np.repeat(kits, DRAWS)
    copies, _, node, _ = _copies(g, kit)
    kept = np.tile(np.linspace(0.5, 0.9, DRAWS), len(kits))
    is_multi = (np.bincount(copies.item) > 1)[copies.item]
    there = ~is_multi | (np.random.default_rng(7).random(len(node)) < kept[copies.node_kit])
    edges = there[copies.u] & there[copies.v]
    found = _augment(replace(copies, u=copies.u[edges], v=copies.v[edges]), np.repeat(most, DRAWS))
    count = found.count.reshape(-1, DRAWS)
    best = np.arange(len(kits)) * DRAWS + count.argmax(axis=1)
    path = found.path[marked(len(kit), best)[copies.node_kit[found.path]]]
    return count.max(axis=1), node[path]


def _in_parts(g: Graph, kits: Array, most: Array) -> Array:
    """Most whole stations of the kits that the program leaves room for where a station may be sent in parts."""
    if not len(kits):
        return most
    amount, _, starts, _ = _program(g, kits, most, is_whole=False)
    room = np.bincount(g.node_kit[starts], weights=amount[1], minlength=g.n_kits)
    whole: Array = np.floor(room[kits] + 1e-6)
    return whole


def _search(g: Graph, kits: Array, most: Array) -> tuple[Array, Array]:
    """Exact stations of the kits, of which none has more than ``most``, by an integer program over their edges.

    Also one path of each from the answer.
    """
    amount, edges, starts, ends = _program(g, kits, most, is_whole=True)
    on, begun, ended = (np.rint(x).astype(np.int64) for x in amount)
    count = np.bincount(g.node_kit[starts], weights=begun, minlength=g.n_kits).astype(np.int64)
    is_start, is_end = marked(len(g.item), starts[begun > 0]), marked(len(g.item), ends[ended > 0])
    used = edges[on > 0]
    answered = replace(g, u=g.u[used], v=g.v[used], is_start=is_start, is_end=is_end)
    return count[kits], _augment(answered, np.minimum(count, 1)).path


def _program(
    g: Graph, kits: Array, most: Array, *, is_whole: bool
) -> tuple[tuple[Array, Array, Array], Array, Array, Array]:
    """The most stations that the quantities let pass: how many on each edge, start and end of the kits, and which these are."""
    mine = marked(g.n_kits, kits)[g.node_kit]
    edges = np.flatnonzero(mine[g.u])
    u, v = g.u[edges], g.v[edges]
    starts, ends = np.flatnonzero(g.is_start & mine), np.flatnonzero(g.is_end & mine)
    nodes = np.flatnonzero(mine)
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
        integrality=np.full(n, int(is_whole)),
        bounds=Bounds(0, float(most.max())),
        constraints=[
            LinearConstraint(enter - leave, 0, 0),
            LinearConstraint(joint @ enter, -np.inf, g.cap[items]),
        ],
        options={"mip_rel_gap": 0, "presolve": False},  # the programs are small
    )
    return (answer.x[:m], answer.x[m:more], answer.x[more:]), edges, starts, ends


def weak_items(g: Graph, path: Array) -> Array:
    """Items on the paths, one of a kit with one station, without which their kit has none.

    They dominate the ends. The items met on every walk from a start to a node, a bit each, are those of the node and
    those that all nodes before it share; starting from all, sets only shrink until nothing changes (the iterative
    search for dominators: Allen and Cocke 1972). Where one path could meet an item twice a walk need not be a
    station, and an item that is not met on every walk is taken away and the stations counted again.
    """
    items, kits = g.item[path], g.node_kit[path]
    step = np.arange(len(path)) - np.searchsorted(kits, kits)
    single = np.bincount(items, minlength=len(g.kit))[items] >= g.cap[items]
    simple = single & (g.cap[items] == 1) & (step < 64)
    bit = np.zeros(len(g.kit), dtype=np.uint64)
    bit[items[simple]] = np.uint64(1) << step[simple].astype(np.uint64)
    full = np.uint64(2**64 - 1)
    must = np.where(g.is_start, bit[g.item], full)
    edges = np.flatnonzero(marked(g.n_kits, kits)[g.node_kit[g.v]] & ~g.is_start[g.v])
    u, v = by_second(g.u[edges], g.v[edges])
    heads, head = ranked(v)
    begin = np.searchsorted(head, np.arange(len(heads)))
    while len(heads):
        met = np.bitwise_and.reduceat(must[u], begin) | bit[g.item[heads]]
        if (met == must[heads]).all():
            break
        must[heads] = met
    always = np.full(g.n_kits, full)
    ends = np.flatnonzero(g.is_end)
    np.bitwise_and.at(always, g.node_kit[ends], must[ends])
    is_met = simple & ((always[kits] & bit[items]) > 0)
    tried = distinct(items[single & ~is_met & (g.is_twice[kits] | ~simple)])
    tried = tried[~_try(g, tried, -1, np.zeros(len(tried), dtype=np.int64))]
    return distinct(np.concatenate([items[is_met], tried]))


def _copies(g: Graph, kit: Array) -> tuple[Graph, Array, Array, Array]:
    """A copy of each kit, as often as it is named, and the item, node and edge that each of theirs is a copy of."""
    mine = marked(g.n_kits, kit)

    def copied(of_kit: Array) -> tuple[Array, Array, Array]:
        """Copy and original of each, by kit, and the place of each original within its kit."""
        chosen = np.flatnonzero(mine[of_kit])
        chosen = chosen[np.argsort(of_kit[chosen], kind="stable")]
        size = np.bincount(of_kit[chosen], minlength=g.n_kits)
        begin = np.cumsum(size) - size
        lot, at = runs(begin[kit], size[kit])
        place = np.zeros(len(of_kit), dtype=np.int64)
        place[chosen] = np.arange(len(chosen)) - begin[of_kit[chosen]]
        return lot, chosen[at], place

    item_lot, item, item_place = copied(g.kit)
    lot, node, node_place = copied(g.node_kit)
    edge_lot, edge, _ = copied(g.node_kit[g.u])
    begin_item, begin = (np.searchsorted(x, np.arange(len(kit))) for x in (item_lot, lot))
    copies = Graph(
        u=begin[edge_lot] + node_place[g.u[edge]],
        v=begin[edge_lot] + node_place[g.v[edge]],
        item=begin_item[lot] + item_place[g.item[node]],
        is_start=g.is_start[node],
        is_end=g.is_end[node],
        way=g.way[node],
        part=g.part[item],
        kit=item_lot,
        cap=g.cap[item],
        is_radio=g.is_radio[item],
        n_kits=len(kit),
        is_multi=g.is_multi[kit],
        is_twice=g.is_twice[kit],
    )
    return copies, item, node, edge


def _try(g: Graph, tried: Array, more: int, than: Array) -> Array:
    """Whether an item's kit has more ``than`` so many stations with ``more`` of it; one copy of the kit an item."""
    if not len(tried):
        return np.zeros(0, dtype=bool)
    copies, item, _, _ = _copies(g, g.kit[tried])
    copies = replace(copies, cap=copies.cap + more * (item == tried[copies.kit]))
    has_more: Array = count_stations(copies, than).count > than
    return has_more


def spares(g: Graph, found: _Found) -> Array:
    """First part of each kit of which one more gives one more station; -1 where there is none or no station.

    One more can give one only if it widens every cut that holds the kit down: the items to start from, the radios,
    the items to end at and, where the flow with states apart is reached, every smallest cut of that flow. These it
    widens if what is left of the graph leads from a start to the item, and from the item to an end.
    """
    can = (found.count > 0)[g.kit]
    for mark, there in _cuts(g):
        can &= mark | (there > found.count)[g.kit]
    mine = marked(g.n_kits, g.kit[can])[g.node_kit]
    arcs = _residual(
        g, found.flow, found.used, (found.used >= g.cap[g.item]) & mine, np.flatnonzero(mine[g.u])
    )
    starts, ends = (marked(len(arcs.node), x) for x in (arcs.into[g.is_start], np.flatnonzero(g.is_end)))
    from_start = reach(arcs.tail, arcs.head, starts)[0][arcs.into] >= 0
    to_end = reach(arcs.head, arcs.tail, ends)[0][: len(arcs.into)] >= 0
    is_tight = marked(len(g.kit), g.item[from_start]) & marked(len(g.kit), g.item[to_end])
    asked = np.flatnonzero(can & (is_tight | (found.count < found.upper)[g.kit]))
    is_multi = g.is_multi[g.kit[asked]]
    tried = asked[is_multi]
    wins = np.concatenate([asked[~is_multi], tried[_try(g, tried, +1, found.count[g.kit[tried]])]])
    wins = np.sort(wins)[::-1]
    spare = np.full(g.n_kits, -1)
    spare[g.kit[wins]] = g.part[wins]
    return spare
