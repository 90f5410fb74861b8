"""Hours on the air in words, rounded down. They are worked out up to LONGEST_H and no further: `240 h or more` there."""

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
    """Hours (h) that are given with their unit: `7.5 h`, `31 h` from a day on, `240 h or more` where they reach LONGEST_H."""
    return f"{LONGEST_H:.0f}{unit} or more" if hours >= LONGEST_H else f"{_figure(hours)}{unit}"


def _figure(hours: float) -> str:
    return f"{down(hours):.{_places(hours)}f}"


def _places(hours: float) -> int:
    return 0 if hours >= DAY_H else 1


def span(low: float, high: float, unit: str = " h") -> str:
    """A range of hours (h), as one where both ends read alike: `79 to 240 h or more`."""
    most = said(high, unit)
    return most if said(low, unit) == most else f"{_figure(low)} to {most}"


def at_least(low: float) -> str:
    """The least of hours (h) of which nobody knows the most: `at least 7.5 h`."""
    return said(low) if low >= LONGEST_H else f"at least {said(low)}"


def down(hours: float) -> float:
    """Hours (h) that are given, rounded down to the digits in which they are said."""
    scale: float = 10.0 ** _places(hours)
    return floor(round(hours * scale, 6)) / scale


def is_given(name: str, value: Any) -> bool:
    """Whether a value of evidence is hours on the air."""
    return name in EVIDENCE and isinstance(value, int | float)


def put_in(template: str, row: Mapping[str, Any]) -> str:
    """A template of a sentence, with the digits of the hours of its row of evidence, and those that reach LONGEST_H put in."""

    def form(found: re.Match[str]) -> str:
        name, unit = found[1], found[2] or ""
        if not is_given(name, row.get(name)):
            return found[0]
        hours: float = row[name]
        return said(hours, unit) if hours >= LONGEST_H else f"{{{name}:.{_places(hours)}f}}{unit}"

    return IN_SENTENCE.sub(form, template)
