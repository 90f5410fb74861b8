"""Findings, scores and plans as documents that JSON can carry, for the command line and the HTTP API alike."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

import pandas as pd

if TYPE_CHECKING:
    from rules.engine import Finding
    from rules.plans import purchases as buying
    from rules.plans import staffing as staffed

SCORE = ("subject_kind", "subject", "verdict", "low", "high")
FINDING = (
    "rule", "family", "severity", "subject_kind", "subject", "status",
    "evidence", "sentence", "fix", "source", "file", "lines",
)  # fmt: skip


def plain(value: Any) -> Any:
    """A value as JSON knows it: what is no number or not there is null, dates are ISO."""
    if isinstance(value, dict):
        return {str(name): plain(held) for name, held in value.items()}
    if isinstance(value, list | tuple):
        return [plain(held) for held in value]
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if pd.isna(value) or (isinstance(value, float) and math.isinf(value)):
        return None
    if isinstance(value, date):
        return value.isoformat()
    return value if isinstance(value, str | int | float | bool) else str(value)


def scores(rows: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Scores: who or what, verdict, and the range from every unknown bad to every unknown good, 0 to 100."""
    return [{name: plain(row[name]) for name in SCORE} for row in rows]


def findings(found: Iterable[Finding]) -> list[dict[str, Any]]:
    """Findings with the numbers that they rest on and the lines of the files."""
    return [{name: plain(getattr(finding, name)) for name in FINDING} for finding in found]


def rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """The rows of a table."""
    return [plain(row) for row in frame.to_dict("records")]


def staffing(plan: staffed.Plan, beside: pd.DataFrame) -> dict[str, Any]:
    """A staffing plan, how good it is known to be, and the coordinator's own assignments beside it."""
    return {
        "event": plan.event,
        "rows": rows(plan.rows),
        "reserve": rows(plan.reserve),
        "uncovered": rows(plan.uncovered),
        "asks": rows(plan.asks),
        "blocked": rows(plan.blocked),
        "objectives": [
            {"objective": name, "value": plain(value), "bound": plain(plan.bounds[name])}
            for name, value in plan.values.items()
        ],
        "is_proven": plan.is_proven,
        "seconds": plan.seconds,
        "compared": rows(beside),
        "notes": plan.notes,
    }


def purchases(plan: buying.Plan) -> dict[str, Any]:
    """A plan of purchases with its lines."""
    told = {name: plain(value) for name, value in vars(plan).items() if name not in ("lines", "ways")}
    return told | {"lines": [plain(dataclasses.asdict(line)) for line in plan.lines]}
