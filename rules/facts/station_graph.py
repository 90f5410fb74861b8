"""State graph of the parts of every kit: which item can follow which on the way from a source to an antenna.

What fits depends on the radio, so a lead may be good for one radio and too thin for another. The graph therefore
has *states*: one node for an item, the way round it is used, the *layer* (radios of a kit that the same sources,
leads and converters suit share a DC layer; radios that the same antennas suit share an RF layer) and, on the DC
side, whether the voltage is already right for that layer, else from which volts, and which converters do not take it.
Paths in the state graph are stations.

What suits a radio, and the limits of that, is of `station_fits`. A distribution strip is one item however many outlets
it has: two stations that hang on it are not independent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rules.facts.places import Array, by_second, distinct, join, marked, numbered, ranked, runs
from rules.facts.station_fits import RAW, RIGHT, Fits, carries_before
from rules.facts.station_parts import NOT_TOLD, PLUGS, RADIO, Parts, is_builtin

ODD = np.uint64(0x9E3779B97F4A7C15)


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
    return of_item, np.flatnonzero(marked(n, radios[first])[r])


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
    refused = refuses[e[gives]] + np.where(is_other, volts.view(np.uint64) * ODD, 0)
    _, first, sort = np.unique(refused, return_index=True, return_inverse=True)  # with first it merges runs
    key = (layer[gives] * len(first) + sort) * 2 + grade[gives]
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
    is_start = marked(dc.size, item)
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
    is_end = marked(rf.size, a)
    is_end[radios] = is_builtin(parts, "rf")[radios]
    aired = rf.behind(is_end)

    is_good = marked(rf.size, radios[aired[radios]])
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
    is_multi = marked(len(kits), kit[node_part[several]])
    is_twice = marked(len(kits), kit[part[state[times > 1] // n]])
    is_start = np.append(is_start, np.zeros(rf.size - dc.size, dtype=bool))[nodes]
    is_radio = parts.role[part] == RADIO
    graph = Graph(
        u, v, item, is_start, is_end[nodes], way, part, kit[part], parts.quantity[part], is_radio,
        len(kits), is_multi, is_twice,
    )  # fmt: skip
    return graph, fed[:n] & (parts.role == RADIO)
