"""Complete stations of every kit in the club: how many share no item, what they hang on, and what one more would take.

A complete station is source, DC elements, radio, RF elements, antenna, in which every joint mates, the radio takes
the voltage that arrives, every DC element carries the current that passes on transmit, and antenna
and radio share a band. The number of independent stations is the largest number of such paths that use no item
more often than its quantity.

The paths are those of ``station_graph``, counted by ``station_flow``; the limits of the model are stated there and in
``station_fits``. Of kits that are alike one is worked out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa

from rules.facts.places import Array, distinct, join, marked, runs
from rules.facts.station_fits import Fits, fits, needs
from rules.facts.station_flow import count_stations, spares, weak_items
from rules.facts.station_graph import state_graph
from rules.facts.station_parts import BUILTIN, COLUMNS, Mating, Parts, has_null, usable_parts


@dataclass(frozen=True)
class StationResult:
    """Stations of every kit.

    per_kit : kit_id, stations_low and stations_high (what is not known fits nowhere, or everywhere), has_unknown
        (the two differ), missing_link (first link not there for certain when stations_low is 0: source, radio,
        dc_path, antenna or rf_path; else ''), plug_from and plug_to (the plugs a missing path would have to
        join), spare_kind (kind of the first item of which one more gives one more station; '' if no single one).
    weak : kit_id, item_id, is_certain, is_doubtful; single points of failure: items without which the kit has no
        station. Doubtful where it would have one without the item if what is not known fits.
    path : kit_id, step, item_id, is_certain; one station from source to antenna, a shortest one of a kit in which no
        item can be used in several ways.
    ``is_certain`` is false where the kit has a station only if what is not known fits.
    """

    per_kit: pa.Table
    weak: pa.Table
    path: pa.Table


def stations(
    items: pa.Table, mating: Mating, converter_share: float, kit_ids: Array | None = None
) -> StationResult:
    """Count independent complete stations, find weak items and one example path for every kit.

    Parameters
    ----------
    items : one row per item of the whole club, with the columns of ``COLUMNS``; volts in V, currents in A;
        plugs, bands and figures that are not known are null, as is ``is_usable`` where nobody knows whether it works;
        ``builtin`` is an integral pack or antenna.
    mating : the plugs, and which mate.
    converter_share : share of what a converter takes in that it gives out.
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
    parts, every, stands_for, first = _unlike(items, kit_ids, mating)
    n_kits = len(first)
    all_kits = np.ones(n_kits, dtype=bool)
    suited = fits(parts, all_kits, converter_share, unknown_fits=False)
    low, is_fed = state_graph(parts, suited, all_kits)
    sure = count_stations(low)
    weak = low.part[weak_items(low, sure.path.compress(sure.count[low.node_kit[sure.path]] == 1))]

    is_open = marked(n_kits, parts.kit[has_null(parts)])
    loose = fits(parts, is_open, converter_share, unknown_fits=True)
    needed = needs(parts, loose, n_kits)
    may_have_more = np.min([there for _, there in needed], axis=0) > sure.count
    is_sole = np.any([mark & (there == 1)[parts.kit] for mark, there in needed], axis=0)
    is_open &= may_have_more | marked(n_kits, parts.kit[weak[~is_sole[weak]]])
    high, _ = state_graph(parts, loose.only(is_open[parts.kit]), is_open)
    most = count_stations(high)
    count_low, count_high = sure.count, np.maximum(most.count, sure.count)

    missing_link, plug_from, plug_to = _missing(parts, suited, is_fed, count_low)
    spare = spares(low, sure)
    spare_kind = np.array([*parts.kinds, ""], dtype=object)[np.append(parts.kind, -1)[spare]]
    of_kit = {"stations_low": count_low, "stations_high": count_high, "has_unknown": count_low != count_high}
    words = {"missing_link": missing_link, "spare_kind": spare_kind}
    words |= {"plug_from": plug_from, "plug_to": plug_to}
    per_kit = pa.table(
        {"kit_id": kit_ids}
        | {name: values[stands_for] for name, values in of_kit.items()}
        | {name: pa.array(values[stands_for], pa.string()) for name, values in words.items()}
    )

    # What is weak for certain is doubtful if it is not weak where what is not known fits.
    path = most.path.compress(most.count[high.node_kit[most.path]] == 1)
    is_sure = marked(len(parts.kit), weak)
    is_new = count_low[high.node_kit[path]] == 0
    weak_high = high.part[weak_items(high, path.compress(is_new | is_sure[high.part[high.item[path]]]))]
    doubtful = weak[np.isin(parts.kit[weak], high.kit) & ~np.isin(weak, weak_high)]
    weak_if_all_fits = weak_high[count_low[parts.kit[weak_high]] == 0]
    path_high = most.path[count_low[high.node_kit[most.path]] == 0]
    paths = low.part[low.item[sure.path]], high.part[high.item[path_high]]
    weak_rows = _rows(parts, every, stands_for, first, weak, weak_if_all_fits)
    doubtful_rows = _rows(parts, every, stands_for, first, doubtful, doubtful[:0])
    weak_rows["is_doubtful"] = np.isin(weak_rows["item_id"], doubtful_rows["item_id"])
    path_rows = _rows(parts, every, stands_for, first, *paths)
    kits, begin = path_rows["kit"], np.arange(len(path_rows["kit"]))
    step = begin - np.searchsorted(kits, kits)
    return StationResult(
        per_kit,
        pa.table({"kit_id": kit_ids[weak_rows.pop("kit")], **weak_rows}),
        pa.table({"kit_id": kit_ids[path_rows.pop("kit")], "step": step, **path_rows}),
    )


def working(items: pa.Table, mating: Mating, converter_share: float, kit_ids: Array) -> pa.Table:
    """Radios that can stand on a complete station of their kit: kit_id, item_id, is_certain.

    Parameters as of `stations`. Is_certain is false where that takes that what is not known fits.
    """
    parts, every, stands_for, first = _unlike(items, kit_ids, mating)
    all_kits, is_open = np.ones(len(first), dtype=bool), marked(len(first), parts.kit[has_null(parts)])
    sure_fits, may_fit = (
        fits(parts, kits, converter_share, unknown_fits=unknown)
        for kits, unknown in ((all_kits, False), (is_open, True))
    )
    low, _ = state_graph(parts, sure_fits, all_kits)
    high, _ = state_graph(parts, may_fit, is_open)
    sure, loose = low.part[low.is_radio], high.part[high.is_radio]
    rows = _rows(parts, every, stands_for, first, sure, np.setdiff1d(loose, sure))
    return pa.table({"kit_id": kit_ids[rows.pop("kit")], **rows})


def _unlike(items: pa.Table, kit_ids: Array, mating: Mating) -> tuple[Parts, Parts, Array, Array]:
    """Parts of one kit of each sort, by its number among these; parts of all; and what `_alike` says of them."""
    every = usable_parts(items, kit_ids, mating)
    stands_for, first = _alike(every, len(kit_ids))
    parts = every
    if len(first) < len(kit_ids):
        parts = every.only(np.flatnonzero(marked(len(kit_ids), first)[every.kit]))
    return replace(parts, kit=stands_for[parts.kit]), every, stands_for, first


def _alike(parts: Parts, n_kits: int) -> tuple[Array, Array]:
    """For each kit the number of the one that stands for it, and those kits; kits alike have the same answer.

    Kits are alike where their items, in order, differ in nothing but number. They are compared by 64-bit hashes.
    """
    told = [
        parts.role,
        parts.kind,
        parts.quantity,
        parts.bands,
        parts.family,
        parts.charge_fits,
        parts.is_sure,
    ]
    row = _hashes([*told, *parts.plugs.values(), *parts.figures.values()])
    size = np.bincount(parts.kit, minlength=n_kits)
    place = runs(np.zeros(n_kits, dtype=np.int64), size)[1]
    odd = np.random.default_rng(7).integers(2**62, size=size.max(initial=0), dtype=np.uint64) * 2 + 1
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


def _missing(parts: Parts, suited: Fits, is_fed: Array, count: Array) -> tuple[Array, Array, Array]:
    """First missing link of kits without a station, and the plugs that a missing path would have to join."""
    kit, n_kits = parts.kit, len(count)
    link = np.where(count > 0, "", "dc_path").astype(object)
    plug_from, plug_to = np.full(n_kits, None, dtype=object), np.full(n_kits, None, dtype=object)
    has_none = count == 0
    r, e = suited.source
    q, a = suited.antenna
    can_start = is_fed[q]
    kit_fed = marked(n_kits, kit[is_fed])
    link[has_none & kit_fed] = "rf_path"
    link[has_none & kit_fed & ~marked(n_kits, kit[q[can_start]])] = "antenna"
    link[has_none & ~kit_fed & ~marked(n_kits, kit[e])] = "source"
    any_source = parts.plays("source", "pack") | (parts.plugs["dc_plug"] == BUILTIN)
    link[
        has_none
        & marked(n_kits, kit[any_source])
        & ~marked(n_kits, kit[parts.plays("radio") & parts.is_sure])
    ] = "radio"
    for name, start, end, plug in (
        ("dc_path", e, r, "dc_plug"),
        ("rf_path", q[can_start], a[can_start], "rf_plug"),
    ):
        mine = (link == name)[kit[start]]
        start, end = start[mine], end[mine]
        order = np.lexsort((end, start, kit[start]))
        start, end = start[order], end[order]
        words = np.array([*parts.plug_words, "builtin", None], dtype=object)
        ks, at = np.unique(kit[start], return_index=True)
        plug_from[ks], plug_to[ks] = (words[parts.plugs[plug][x[at]]] for x in (start, end))
    return link, plug_from, plug_to
