"""What findings rest on, and what stands behind a chart, as tables: columns and words as people call them, in the reader's units."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import nan
from typing import Any

import pandas as pd

from dashboard import units
from data import plain_words
from rules import on_air
from rules.engine import Finding
from rules.rule import evidence, rounded

UNITS = {
    "_v": "V",
    "_a": "A",
    "_ah": "Ah",
    "_wh": "Wh",
    "_w": "W",
    "_h": "h",
    "_m": "m",
    "_kg": "kg",
    "_c": "°C",
    "_db": "dB",
    "_dbi": "dBi",
    "_mhz": "MHz",
    "_usd": "USD",
    "_share": "share",
}
"""By the ending of a column, the unit of what stands in it."""


def evidence_label(name: str) -> str:
    """Evidence as people call it, with its unit."""
    return _with_unit(*_label_and_unit(name))


def _label_and_unit(name: str) -> tuple[str, str]:
    told = evidence().get(name)
    if told:
        return told.get("label", name), told.get("unit", "")
    ending = next((e for e in sorted(UNITS, key=len, reverse=True) if name.endswith(e)), "")
    return name.removesuffix(ending).replace("_", " "), UNITS.get(ending, "")


def _with_unit(label: str, unit: str) -> str:
    return f"{label} ({unit})" if unit and unit != "1" else label


def evidence_frame(findings: Iterable[Finding]) -> pd.DataFrame:
    """The evidence of findings of one rule and status: one row each, columns as people call them, in the reader's units.

    Of one finding the card's sentence says what it is about.
    """
    found = list(findings)
    rows = [
        ({"about": f.subject} if len(found) > 1 else {})
        | dict(_evidence(name, value, f.evidence) for name, value in f.evidence.items())
        | ({f"lines of {f.file}.csv": _line_ranges(f.lines)} if f.lines else {})
        for f in found
    ]
    return pd.DataFrame(rows)


def evidence_told(evidence: pd.DataFrame) -> tuple[list[str], pd.DataFrame | None]:
    """What `evidence_frame` holds, as people read it: what is the same of all, and by subject what differs.

    Of one finding nothing differs, and there is no table.
    """
    told = evidence.drop(columns="about", errors="ignore")
    is_same = {name: told[name].nunique(dropna=False) == 1 for name in told}
    alike = [f"{name}: {told[name].iloc[0]}" for name in told if is_same[name]]
    if "about" not in evidence:
        return alike, None
    found = [
        "; ".join(f"{name}: {row[name]}" for name in told if not (is_same[name] or is_missing(row[name])))
        for row in told.to_dict("records")
    ]
    return alike, evidence[["about"]].assign(**({} if all(is_same.values()) else {"evidence": found}))


def findings_frame(findings: Iterable[Finding]) -> pd.DataFrame:
    """Findings as a table, one row each."""
    columns = [
        "status", "severity", "family", "rule", "title", "subject", "member", "kit", "event", "post", "sentence", "fix", "source", "file",
    ]  # fmt: skip
    rows = [
        {name: getattr(f, name) for name in columns} | {"lines": " ".join(map(str, f.lines))}
        for f in findings
    ]
    return pd.DataFrame(rows, columns=[*columns, "lines"])


def headed(frame: pd.DataFrame) -> pd.DataFrame:
    """A table with its columns and the words of reference lists as people call them: `gap_share` is `gap (share)`."""
    told = {name: [plain_words.called(name, value) for value in frame[name]]
            for name in frame.columns if str(name).endswith(plain_words.LABELLED)}  # fmt: skip
    return frame.assign(**told).rename(
        columns=lambda name: evidence_label(name) if "_" in str(name) else name
    )


def _line_ranges(lines: Sequence[int]) -> str:
    """Numbers of lines, those that follow each other as a range: `12, 128 to 162`."""
    ranges: list[list[int]] = []
    for line in sorted(set(lines)):
        if ranges and line == ranges[-1][1] + 1:
            ranges[-1][1] = line
        else:
            ranges.append([line, line])
    return ", ".join(f"{first}" if first == last else f"{first} to {last}" for first, last in ranges)


def _evidence(name: str, value: Any, row: Mapping[str, Any]) -> tuple[str, str]:
    label, unit = _label_and_unit(name)
    figure, unit = units.told(value, unit)
    if on_air.is_given(name, figure):
        return _with_unit(label, unit), on_air.said(figure, "", row.get("need_h") or nan)
    if name == "need_h" and isinstance(figure, float):
        given = [hours for other, hours in row.items() if on_air.is_given(other, hours)]
        return _with_unit(label, unit), on_air.asked(figure, *given).removesuffix(" h")
    if unit == "h" and isinstance(figure, float) and "rounds" in evidence().get(name, {}):
        figure = f"{rounded(name, figure, 1):.1f}"
    return _with_unit(label, unit), _cell(plain_words.called(name, figure))


def _cell(value: Any) -> str:
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.4g}"
    return ", ".join(str(part) for part in value) if isinstance(value, list) else str(value)


def is_missing(value: Any) -> bool:
    """Whether nothing stands in a cell."""
    return value is None or (not isinstance(value, list) and bool(pd.isna(value)))
