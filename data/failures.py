"""What failed when a kit was last tried, and whether the inventory has said since what became of it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from data import column_values

DATED = ("tested", "serviced", "acquired")
"""Days after which a thing works that had failed before."""


def doubted(inventory: pa.Table, kits: pa.Table, rehearsals: pa.Table, today: date | None = None) -> pa.Table:
    """The inventory with the condition "unknown" for what failed at the last trial of its kit, by its name or kind.

    As told stays what is faulty or taken out by now, and what was tested, serviced or acquired after that day.

    Parameters
    ----------
    inventory, kits : as `naming.numbered` makes them
    rehearsals : member, kit, date, faulty; names between semicolons
    today : a trial after it has not been yet
    """
    failed = _failed(kits, rehearsals, today or date.max)
    if not failed:
        return inventory
    places = np.flatnonzero(np.isin(inventory["kit_id"].to_numpy(), list(failed)))
    asked = inventory.select(["kit_id", "item", "kind", "condition", *DATED]).take(places).to_pylist()
    doubtful = np.zeros(len(inventory), bool)
    doubtful[
        [place for place, row in zip(places, asked, strict=True) if _is_doubtful(row, *failed[row["kit_id"]])]
    ] = True
    told = column_values.plain(inventory["condition"].combine_chunks())
    column = pc.if_else(pa.array(doubtful), "unknown", told)
    return inventory.set_column(inventory.column_names.index("condition"), "condition", column)


def _failed(kits: pa.Table, rehearsals: pa.Table, today: date) -> dict[int, tuple[datetime, set[str]]]:
    """By kit_id, the day of its last trial and the names of what failed there, where something did."""
    if rehearsals["faulty"].null_count == len(rehearsals):
        return {}
    last: dict[tuple[str, str], tuple[datetime, set[str]]] = {}
    for row in rehearsals.select(["member", "kit", "date", "faulty"]).to_pylist():
        names = {name.strip().lower() for name in (row["faulty"] or "").split(";")} - {""}
        key, day = (row["member"], row["kit"]), row["date"]
        if day is None or day.date() > today:
            continue
        before, known = last.get(key, (day, set()))
        if day >= before:
            last[key] = day, names | known if day == before else names
    number = {
        (row["member"], row["kit"]): row["kit_id"]
        for row in kits.select(["member", "kit", "kit_id"]).to_pylist()
        if (row["member"], row["kit"]) in last
    }
    return {number[key]: found for key, found in last.items() if found[1] and key in number}


def _is_doubtful(row: dict[str, Any], day: datetime, names: set[str]) -> bool:
    is_it = {str(row["item"]).lower(), str(row["kind"]).lower()} & names
    return (
        bool(is_it)
        and row["condition"] in (None, "ok")
        and not any(row[name] and row[name] > day for name in DATED)
    )
