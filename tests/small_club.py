"""Small clubs for the tests of plans: told frames from plain rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import pandas as pd

from data import schema
from rules import engine

TODAY = date(2027, 3, 1)


def frame(stem: str, rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """A typed frame of one file, one row per mapping, numbered as lines of the file."""
    empty = schema.empty(stem)
    told = [{"line": line, "file": f"{stem}.csv", **row} for line, row in enumerate(rows, 2)]
    return pd.DataFrame(told, columns=empty.columns).astype(empty.dtypes)


def assess(**files: Sequence[Mapping[str, Any]]) -> engine.Assessment:
    """A club judged on TODAY."""
    return engine.assess({stem: frame(stem, rows) for stem, rows in files.items()}, today=TODAY)


def kit(member: str, name: str, *things: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Inventory rows of one kit."""
    return [{"member": member, "kit": name, "item": thing["kind"], **thing} for thing in things]


HANDHELD = {"kind": "handheld", "module": "radio"}
PACK = {"kind": "handheld_pack", "module": "radio", "charged": pd.Timestamp(TODAY)}
MOBILE = {"kind": "mobile_vhf_uhf", "dc_plug": "genderless_30", "module": "station"}
BATTERY = {"kind": "battery_lifepo4", "dc_plug": "genderless_30", "capacity_ah": 20.0, "module": "power"}
LEAD = {"kind": "dc_lead", "dc_plug": "genderless_30", "dc_plug_far": "genderless_30", "module": "power"}
ANTENNA = {"kind": "jpole", "rf_plug": "so239", "module": "antenna"}
COAX = {"kind": "coax", "rf_plug": "pl259", "rf_plug_far": "pl259", "module": "antenna"}
FUSE = {"kind": "fuse", "amps_rated": 30.0, "module": "power"}
EVENT = {
    "event": "Ride",
    "starts": pd.Timestamp("2027-04-25 06:00"),
    "ends": pd.Timestamp("2027-04-25 12:00"),
}
