"""Every published value that a formula can work out, held to the digits printed.

A record in tests/published/*.toml:

    [[value]]
    id        = "wire-nbs-12"
    call      = "rules.physics.wire:copper_resistance_ohm_per_m"
    args      = { area_mm2 = 3.3088 }      # an argument may itself be a call: { call = ..., args = ... }
    expected  = "1.588"                    # exactly as printed; hh:mm:ss for an instant
    unit      = "ohm/kft"
    scale     = 304.8                      # result x scale is in that unit; 1 unless given
    source    = "document"                 # counted: one document, one spelling
    where     = "table, section, page or item"
    basis     = "verified"                 # or "computed_from_source"
    tolerance = 0.002                      # in that unit; half a unit in the last printed digit unless given
    why       = "why the tolerance is not half a digit"
"""

import importlib
import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

FOLDER = Path(__file__).parent / "published"
RECORDS: list[dict[str, Any]] = [
    {"file": path.name, **record}
    for path in sorted(FOLDER.glob("*.toml"))
    for record in tomllib.loads(path.read_text(encoding="utf-8"))["value"]
]
GATING_BASES = {"verified", "computed_from_source"}
KEYS = {"id", "call", "args", "expected", "unit", "source", "where", "basis"}
OPTIONAL_KEYS = {"scale", "tolerance", "why", "pick", "utc_offset_h", "note"}


def work_out(call: str, args: dict[str, Any]) -> Any:
    module, function = call.split(":")
    given = {name: work_out(**value) if isinstance(value, dict) else value for name, value in args.items()}
    return getattr(importlib.import_module(module), function)(**given)


def printed(record: dict[str, Any]) -> tuple[float, float]:
    """Return the expected number and half a unit of its last digit; an instant in seconds of the day."""
    text = record["expected"]
    if ":" in text:
        hours, minutes, seconds = (int(part) for part in text.split(":"))
        return 3600.0 * hours + 60.0 * minutes + seconds, 0.5
    number = Decimal(text)
    exponent = number.as_tuple().exponent
    assert isinstance(exponent, int)
    return float(number), 0.5 * 10.0**exponent


def computed(record: dict[str, Any]) -> float:
    result = work_out(record["call"], record["args"])
    if "pick" in record:
        result = result[record["pick"]]
    if isinstance(result, np.datetime64):
        local = result + np.timedelta64(round(3600 * record["utc_offset_h"]), "s")
        return float((local - local.astype("datetime64[D]")) / np.timedelta64(1, "s"))
    return float(result) * record.get("scale", 1.0)


def agrees(record: dict[str, Any]) -> bool:
    expected, half_digit = printed(record)
    return abs(computed(record) - expected) <= record.get("tolerance", half_digit) * (1 + 1e-9)


@pytest.mark.parametrize("record", RECORDS, ids=[record["id"] for record in RECORDS])
def test_published_value_comes_out(record: dict[str, Any]) -> None:
    assert agrees(record), (
        f"{record['file']} {record['id']}: {computed(record):.6g} {record['unit']}, "
        f"printed {record['expected']} in {record['source']}, {record['where']}"
    )


def test_a_wrong_value_would_be_noticed() -> None:
    """A result off by a third (or by one, where zero is printed) falls outside every record's tolerance."""
    for record in RECORDS:
        expected, half_digit = printed(record)
        assert record.get("tolerance", half_digit) < (abs(expected) / 3 or 1.0), record["id"]


def test_every_record_is_complete() -> None:
    for record in RECORDS:
        keys = record.keys() - {"file"}
        assert keys >= KEYS, record["id"]
        assert keys <= KEYS | OPTIONAL_KEYS, record["id"]
        assert all(str(record[key]).strip() for key in KEYS - {"args"}), record["id"]
        assert isinstance(record["expected"], str), record["id"]
        assert ("tolerance" in record) == ("why" in record), f"{record['id']}: a tolerance needs a why"


def test_ids_are_unique() -> None:
    ids = [record["id"] for record in RECORDS]
    assert len(ids) == len(set(ids))


def test_nothing_recalled_from_memory_gates() -> None:
    assert {record["basis"] for record in RECORDS} <= GATING_BASES


def test_there_are_enough_values_from_enough_documents() -> None:
    assert len(RECORDS) >= 150
    assert len({record["source"] for record in RECORDS}) >= 25


def test_no_wider_tolerance_than_a_tenth_is_common() -> None:
    """Loose records are the exception: nearly all hold to a tenth or better."""
    loose = [
        record["id"]
        for record in RECORDS
        if "tolerance" in record and record["tolerance"] > 0.1 * abs(printed(record)[0])
    ]
    assert len(loose) <= len(RECORDS) // 50, loose
