"""The rows of an inventory as items: what a row does not tell comes from its kind, and is marked.

Rows are many and the values of a column few, so each value is looked at once and its rows by their place among these.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from data import column_values, reference, schema, usual

TABLES = Path(__file__).parent / "tables.sql"
FILLED = (
    "bands", "modes", "dc_plug", "dc_plug_far", "rf_plug", "rf_plug_far", "chemistry", "coax",
    "volts_min", "volts_max", "amps_tx", "amps_rx", "amps_idle", "amps_rated", "rf_watts", "solar_watts",
    "capacity_ah", "wire_awg", "length_m", "gain_dbi", "weight_kg",
)  # fmt: skip
"""Columns that the kind fills."""
LATCH = "pack_latch"
"""The plug by which a pack is held on its handheld."""
OF_LOW_POWER = ("amps_tx_low", "rf_watts_low")
AS_TOLD = {
    "line": "line", "item": "item", "cell_size": "cell_size", "polarity": "polarity", "pack_family": "pack_family",
    "owner": "owner", "set_by_hand": "is_set_by_hand", "labelled": "is_labelled", "cost_usd": "cost_usd",
    "tested_ah": "tested_ah", "swr": "swr", "fuse_at_m": "fuse_at_m", "charged": "charged", "tested": "tested",
    "acquired": "acquired", "expires": "expires", "swr_tested": "swr_tested", "polarity_checked": "polarity_checked",
    "programmed": "programmed", "serviced": "serviced", "counted": "counted",
}  # fmt: skip
"""Columns of the table by those of the file that they repeat."""
USUAL = {"quantity": ("quantity", 1), "spare": ("is_spare", False), "condition": ("condition", "ok")}
"""Columns of the table, and what an empty cell means, by those of the file."""
TOLD = frozenset(
    {*FILLED, *OF_LOW_POWER, *AS_TOLD, *USUAL, "kit", "kind", "module", "wire_mm2", "stored_charge_pct"}
)
"""Columns of the file that are read here."""
USABLE = pa.array(["ok", "unknown"])


def by_role(kind: pa.Array) -> npt.NDArray[np.int32]:
    """Places of the rows by role and kind: what asks for one of these then passes over the blocks that hold none of it."""
    return np.argsort(_ranks()[usual.places(kind)], kind="stable").astype(np.int32)


def items(told: pa.Table) -> pa.Table:
    """Rows of the table `item`, one for each row that is told, with the columns in which any row has something.

    Parameters
    ----------
    told : inventory as `data.upload.read` types it, with row_no, kit_id and member_id
    """
    own = {name: _column(told, name) for name in TOLD}
    places = usual.places(own["kind"])
    place = pa.array(places.astype(np.int32), mask=places < 0)
    made: dict[str, pa.Array] = {
        "item_id": told["row_no"],
        "kit_id": told["kit_id"],
        "member_id": told["member_id"],
        "kind": _of_kind("kind", place),
        "role": _of_kind("role", place),
        "module": column_values.filled(own["module"], own["kit"]),
        "stored_charge_share": column_values.each(
            own["stored_charge_pct"], lambda share: pc.divide(share, 100.0)
        ),
    }
    for name, column in AS_TOLD.items():
        made[column] = own[name]
    for name, (column, value) in USUAL.items():
        form = column_values.type_of(schema.columns("inventory")[name])
        made[column] = column_values.filled(own[name], column_values.same(value, len(told), form))
    made["is_usable"] = column_values.each(made["condition"], lambda words: pc.is_in(words, USABLE))
    for name in FILLED:
        made[name] = column_values.filled(own[name], _of_kind(name, place))
    made |= _to_the_latch(made, places)
    made["amps_rated"] = _as_plugged(made, own["amps_rated"], places)
    area = column_values.each(
        made["wire_awg"],
        lambda gauge: pa.array(usual.awg_mm2(gauge.to_numpy(zero_copy_only=False)), from_pandas=True),
    )
    made["wire_mm2"] = column_values.filled(own["wire_mm2"], area)
    # amperes and watts are of one setting: where one of them was told, the kind's are of another
    is_low_told = pc.or_(*(own[name].is_valid() for name in OF_LOW_POWER))
    place_low = pc.if_else(is_low_told, pa.scalar(None, pa.int32()), place)
    for name in OF_LOW_POWER:
        made[name] = column_values.filled(own[name], _of_kind(name, place_low))
    made["is_low_assumed"] = pc.and_(pc.invert(is_low_told), _has_kind("amps_tx_low", places))
    for name in _assumed():
        is_told = own[name].is_valid()
        if name == "wire_awg":
            is_told = pc.or_(is_told, own["wire_mm2"].is_valid())
        made[f"{name}_is_assumed"] = pc.and_not(_has_kind(name, places), is_told)
    return pa.table({name: column for name, column in made.items() if column.null_count < len(told)})


def _to_the_latch(made: dict[str, pa.Array], places: npt.NDArray[np.int64]) -> dict[str, pa.Array]:
    """Plugs of leads that run handhelds off 12 V, so that current comes in by the first: either end may be told first."""
    rows = np.flatnonzero(places == reference.words("kind").index("handheld_dc_lead"))
    is_first = column_values.plain(made["dc_plug"].take(rows)).to_numpy(zero_copy_only=False) == LATCH
    rows = rows[is_first]
    if not len(rows):
        return {}
    other = column_values.plain(made["dc_plug_far"].take(rows))
    is_turned = np.zeros(len(places), dtype=bool)
    is_turned[rows] = True
    ends = {
        "dc_plug": pc.if_else(pc.equal(other, LATCH), None, other),
        "dc_plug_far": pa.array([LATCH] * len(rows)),
    }
    return {
        name: pc.replace_with_mask(column_values.plain(made[name]), pa.array(is_turned), plugs)
        for name, plugs in ends.items()
    }


def _as_plugged(made: dict[str, pa.Array], told: pa.Array, places: npt.NDArray[np.int64]) -> pa.Array:
    """Rated currents (A): a lead that tells none carries no more than the plugs at its ends."""
    is_lead = np.array([role == "lead" for role in _typical("role").to_pylist()])[places]
    rows = np.flatnonzero(is_lead & ~told.is_valid().to_numpy(zero_copy_only=False))
    typical = column_values.plain(made["amps_rated"].take(rows)).to_numpy(zero_copy_only=False)
    plugs = (column_values.each(made[name].take(rows), _plug_amps) for name in ("dc_plug", "dc_plug_far"))
    carried = np.fmin.reduce(
        [typical, *(column_values.plain(amps).to_numpy(zero_copy_only=False) for amps in plugs)]
    )
    if (carried == typical).all():
        return made["amps_rated"]
    amps = column_values.plain(made["amps_rated"]).to_numpy(zero_copy_only=False).copy()
    amps[rows] = carried
    return pa.array(amps, from_pandas=True)


def _plug_amps(plugs: pa.Array) -> pa.Array:
    """Rated current (A) of each plug."""
    rated = _plug_ratings()
    return pa.array([rated.get(plug) for plug in plugs.to_pylist()], pa.float64())


@cache
def _plug_ratings() -> dict[str, float]:
    """Rated current (A) of each plug that has one."""
    rated = reference.table("connectors").dropna(subset="rating_a")
    return dict(zip(rated["plug"], rated["rating_a"], strict=True))


def _column(told: pa.Table, name: str) -> pa.Array:
    """A column in one piece, with values of the type of its table."""
    column = told[name].combine_chunks()
    form = _types()[name]
    if pa.types.is_dictionary(column.type):
        if column.type.value_type == form:
            return column
        return column_values.each(column, lambda values: values.cast(form))
    return column.cast(form)


def _of_kind(name: str, place: pa.Array) -> pa.DictionaryArray:
    """What the kind of each row has in a column of the reference."""
    return pa.DictionaryArray.from_arrays(place, _typical(name), safe=False)


def _has_kind(name: str, places: npt.NDArray[np.int64]) -> pa.Array:
    return pa.array(_typical(name).is_valid().to_numpy(zero_copy_only=False)[places])


@cache
def _typical(name: str) -> pa.Array:
    """A column of the reference by kind, and last NULL for what has none."""
    values = reference.kinds()[name]
    form = pa.float64() if values.dtype.kind == "f" else pa.string()
    return pa.array([*values, None], form, from_pandas=True)


@cache
def _types() -> dict[str, pa.DataType]:
    """Type of each column of the file that is read here, dates without their hour."""
    types = {
        name: column_values.type_of(column)
        for name, column in schema.columns("inventory").items()
        if name in TOLD
    }
    return {"line": pa.int64()} | {
        name: pa.date32() if form == pa.timestamp("us") else form for name, form in types.items()
    }


@cache
def _assumed() -> list[str]:
    """Columns that the table marks where their value comes from the kind."""
    return re.findall(r"(\w+)_is_assumed", TABLES.read_text("utf-8"))


@cache
def _ranks() -> npt.NDArray[np.int16]:
    """By kind in the order of the reference, and last of what has none: its place by role and kind."""
    kinds = reference.kinds()
    order = np.lexsort((kinds["kind"], kinds["role"]))
    ranks = np.empty(len(kinds) + 1, np.int16)
    ranks[[*order, -1]] = np.arange(len(ranks))
    return ranks
