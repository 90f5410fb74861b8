"""Hours on the air in words. They are worked out up to LONGEST_H and no further, and said as `240 h or more` there."""

from __future__ import annotations

import re
from collections.abc import Mapping
from math import floor
from typing import Any

LONGEST_H = 240.0
"""Hours (h) beyond which nobody asks."""
DAY_H = 24.0
"""Hours (h) from which on they are said whole: what was taken as usual is not known to tenths of an hour."""
EVIDENCE = ("runtime_h", "runtime_low_h", "runtime_high_h", "least_h", "low_power_h")
"""The words of evidence that are hours on the air."""
IN_SENTENCE = re.compile(rf"\{{({'|'.join(EVIDENCE)})(?::[^{{}}]*)?\}}( h\b)?")


def said(hours: float, unit: str = " h") -> str:
    """Hours (h) with their unit: `7.5 h`, `31 h` from a day on, and `240 h or more` where they reach LONGEST_H."""
    return f"{LONGEST_H:.0f}{unit} or more" if hours >= LONGEST_H else f"{_figure(hours)}{unit}"


def _figure(hours: float) -> str:
    return f"{hours:.{0 if hours >= DAY_H else 1}f}"


def span(low: float, high: float, unit: str = " h") -> str:
    """A range of hours (h) that are given, rounded down, as one where both ends read alike: `79 to 240 h or more`."""
    low, high = down(low), down(high)
    most = said(high, unit)
    return most if said(low, unit) == most else f"{_figure(low)} to {most}"


def at_least(low: float) -> str:
    """The least of hours (h) of which nobody knows the most: `at least 7.5 h`."""
    if low >= LONGEST_H:
        return said(low)
    return f"at least {said(down(low))}"


def down(hours: float) -> float:
    """Hours (h) rounded down to the digits in which they are said, for where they stand beside what is asked for."""
    scale = 1 if hours >= DAY_H else 10
    return floor(round(hours * scale, 6)) / scale


def is_longest(name: str, value: Any) -> bool:
    """Whether a value of evidence is hours on the air that reach LONGEST_H."""
    return name in EVIDENCE and isinstance(value, int | float) and value >= LONGEST_H


def put_in(template: str, row: Mapping[str, Any]) -> str:
    """A template of a sentence, with hours of its row of evidence that reach LONGEST_H put in."""
    return IN_SENTENCE.sub(
        lambda found: (
            said(row[found[1]], found[2] or "") if is_longest(found[1], row.get(found[1])) else found[0]
        ),
        template,
    )
