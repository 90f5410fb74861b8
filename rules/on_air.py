"""Hours on the air in words, rounded down, and those that are asked for, rounded up.

They are worked out up to LONGEST_H and no further: `240 h or more` there. Hours that are enough for those beside which they
are said have as many digits as it takes to read so: 8.27 h for 8.25 h, not 8.2 h for 8.3 h.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from math import floor, nan
from typing import Any

LONGEST_H = 240.0
"""Hours (h) beyond which nobody asks."""
DAY_H = 24.0
"""Hours (h) from which on they are said whole: what was taken as usual is not known to tenths of an hour."""
MORE_DIGITS = 3
"""Digits that are added at most to tell hours from those that are asked for."""
EVIDENCE = ("runtime_h", "runtime_low_h", "runtime_high_h", "least_h", "low_power_h")
"""The words of evidence that are hours on the air."""
IN_SENTENCE = re.compile(rf"\{{({'|'.join(EVIDENCE)})(?::[^{{}}]*)?\}}( h\b)?")


def said(hours: float, unit: str = " h", need: float = nan) -> str:
    """Hours (h) that are given with their unit: `7.5 h`, `31 h` from a day on, `240 h or more` where they reach LONGEST_H.

    Parameters
    ----------
    need : the hours (h) that are asked for beside them
    """
    return f"{LONGEST_H:.0f}{unit} or more" if hours >= LONGEST_H else f"{_figure(hours, need)}{unit}"


def _figure(hours: float, need: float = nan) -> str:
    return f"{down(hours, need):.{_places(hours, need)}f}"


def _places(hours: float, need: float = nan) -> int:
    """Digits after the point of hours that are given beside those that are asked for."""
    fewest = 0 if hours >= DAY_H else 1
    if not hours >= need:
        return fewest
    digits = range(fewest, fewest + MORE_DIGITS + 1)
    return next((n for n in digits if _rounded(hours, n) >= -_rounded(-need, max(n, 1))), fewest)


def _rounded(hours: float, places: int) -> float:
    scale: float = 10.0**places
    return floor(round(hours * scale, 6)) / scale


def span(low: float, high: float, unit: str = " h", need: float = nan) -> str:
    """A range of hours (h), as one where both ends read alike: `79 to 240 h or more`; need as of `said`."""
    most = said(high, unit, need)
    return most if said(low, unit, need) == most else f"{_figure(low, need)} to {most}"


def at_least(low: float, need: float = nan) -> str:
    """The least of hours (h) of which nobody knows the most: `at least 7.5 h`; need as of `said`."""
    return said(low) if low >= LONGEST_H else f"at least {said(low, need=need)}"


def down(hours: float, need: float = nan) -> float:
    """Hours (h) that are given, rounded down to the digits in which they are said; need as of `said`."""
    return _rounded(hours, _places(hours, need))


def asked(need: float, *given: float) -> str:
    """Hours (h) that are asked for, rounded up to the digits of those that are given beside them: `8.3 h`."""
    return f"{up(need, *given):.{_places_asked(need, given)}f} h"


def up(need: float, *given: float) -> float:
    """Hours (h) that are asked for, rounded up to the digits in which they are said."""
    return -_rounded(-need, _places_asked(need, given))


def _places_asked(need: float, given: Iterable[float]) -> int:
    return max([1, *(_places(hours, need) for hours in given)])


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
