"""Figures in the units of the reader: metric, or feet, pounds, miles and degrees Fahrenheit beside or instead of them.

What readers write is taken in their units too, and paper that is taken from a page is in the units of the page. What is
stored, sent or downloaded as a table stays metric, and electrical units are the same everywhere.

Factors are exact: foot 0.3048 m, mile 1609.344 m and t/°C = (t/°F - 32)/1.8 after NIST Special Publication 811,
appendix B.8; pound 0.453 592 37 kg after its footnote 22 there.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Any, TypeVar

import pandas as pd

from data import plain_words, schema
from rules import rule

if TYPE_CHECKING:
    from rules.engine import Finding

KEY = "us_units"  # in the session and in the address of the page
# By whether the reader's units are feet and the like: the size of paper that goes with them, and the other one.
USUAL_PAPER = {False: "A4", True: "letter"}
OTHER_PAPER = {False: ("letter_paper", "US Letter"), True: ("a4_paper", "A4")}
FOOT_M = schema.converted("inventory")["length_ft"].factor
METRIC = {"kg": schema.converted("inventory")["weight_lb"].factor, "m": FOOT_M, "km": 5.28 * FOOT_M}
"""What a pound is in kg, a foot in m, a mile in km."""
# unit → what it becomes, with how many decimal places more so that nothing visible is lost
US = {"kg": ("lb", 0), "m": ("ft", 0), "km": ("mi", 1), "°C": ("°F", 0)}
ENDINGS = {"_kg": "_lb", "_m": "_ft", "_km": "_mi", "_c": "_f"} | {
    f" ({unit})": f" ({other})" for unit, (other, _) in US.items()
}
UNIT = {"_kg": "kg", "_m": "m", "_km": "km", "_c": "°C"} | {f" ({unit})": unit for unit in US}
PLACES = 2  # of a figure in a table that was converted
DIGITS = 10  # of a figure that is converted back: more than anyone writes, fewer than are shown
NUMBER = r"(?<![\w.,-])-?\d+(?:\.\d+)?"
FIGURE = (
    rf"(?:(?P<least>{NUMBER}) to )?(?P<most>{NUMBER}) (?P<unit>kg|km|m|°C)(?![\w²³/-])"
    r"(?! \(-?\d)(?! (?:band|colder|warmer|cooler|hotter|lower|higher|below|above)\b)"
)
TOLD_IN_US = r"\d+(?:\.\d+)? (?:lb|ft|mi|°F) \([^)]*\)"

Figures = TypeVar("Figures", float, pd.Series)
_chosen: ContextVar[bool | None] = ContextVar("chosen", default=None)
_paper: ContextVar[str] = ContextVar("paper", default="")


def choose() -> None:
    """The reader's choice, in the sidebar of every page."""
    import streamlit as st

    us = st.toggle("pounds, feet and °F", key=KEY, bind="query-params")
    if us:
        st.text("Paper comes so too. Files and tables that are downloaded stay metric.")
    key, size = OTHER_PAPER[us]
    st.toggle(f"{size} paper", key=key, bind="query-params")


def is_us() -> bool:
    """Whether the reader wants feet, pounds, miles and degrees Fahrenheit: as was chosen here, else on the page."""
    chosen = _chosen.get()
    return _is_on(KEY) if chosen is None else chosen


def _is_on(key: str) -> bool:
    """Whether the reader of a page has chosen something in its sidebar."""
    if "streamlit" not in sys.modules:
        return False  # a command, which draws no page
    import streamlit as st
    from streamlit.runtime.scriptrunner import get_script_run_ctx

    is_page = get_script_run_ctx(suppress_warning=True) is not None
    return is_page and bool(st.session_state.get(key, False))


@contextmanager
def chosen(is_us: bool, size: str = "") -> Iterator[None]:
    """Figures and paper as chosen, apart from any page; with no size, the paper that goes with the units."""
    before, size_before = _chosen.set(is_us), _paper.set(size or USUAL_PAPER[is_us])
    try:
        yield
    finally:
        _chosen.reset(before)
        _paper.reset(size_before)


def kept(make: Callable[[], bytes]) -> Callable[[], bytes]:
    """What is made later, apart from the page, in the units and on the paper that the reader has chosen now."""
    wanted, size = is_us(), paper()

    def made() -> bytes:
        with chosen(wanted, size):
            return make()

    return made


def paper() -> str:
    """The size of paper that the reader has chosen, else the one that goes with their units."""
    us = is_us()
    return _paper.get() or USUAL_PAPER[us != _is_on(OTHER_PAPER[us][0])]


def in_us(value: Figures, unit: str) -> Figures:
    """Figures in kg, m, km or °C as lb, ft, mi or °F; temperatures are points on the scale, not differences."""
    return value * 1.8 + 32 if unit == "°C" else value / METRIC[unit]


def from_us(value: Figures, unit: str) -> Figures:
    """The inverse of `in_us`: figures in lb, ft, mi or °F as kg, m, km or °C."""
    return (value - 32) / 1.8 if unit == "°C" else value * METRIC[unit]


def taken(value: float, unit: str) -> float:
    """A figure that a reader of feet and pounds wrote, in kg, m, km or °C, as a person would have written it there."""
    return float(f"{from_us(value, unit):.{DIGITS}g}")


def name(unit: str) -> str:
    """What a unit is for the reader: kg is lb to those who want pounds."""
    return US[unit][0] if unit in US and is_us() else unit


def spoken(value: float, unit: str) -> str:
    """One figure in kg, m, km or °C with its unit, as the reader wants it and no finer than they would write it."""
    figure, unit = told(value, unit)
    return f"{round(float(figure), 2):g} {unit}"


def asked(label: str, unit: str, low: float, high: float, key: str, usual: str) -> float | None:
    """A figure that the reader writes in their units, given back in kg, m, km or °C; None where nothing is written.

    Parameters
    ----------
    low, high : smallest and largest figure, in the metric unit
    usual : what holds where nothing is written
    """
    import streamlit as st

    ends = [float(told(end, unit)[0]) for end in (low, high)]
    figure = st.number_input(
        f"{label}, {name(unit)}", *ends, None, 1.0, key=f"{key}_us" if is_us() else key, placeholder=usual
    )
    return taken(figure, unit) if figure is not None and is_us() else figure


def told(value: Any, unit: str) -> tuple[Any, str]:
    """A value and its unit as the reader wants them; what is no figure in kg, m, km or °C stays as it is."""
    if unit not in US or not is_us():
        return value, unit
    is_figure = isinstance(value, int | float) and not isinstance(value, bool)
    return in_us(float(value), unit) if is_figure else value, US[unit][0]


def shown(frame: pd.DataFrame) -> pd.DataFrame:
    """A table as the reader wants it: columns of figures whose names end in _kg, (m) and the like are converted."""
    if not is_us():
        return frame
    converted = {}
    for name in frame.columns:
        ending = next((ending for ending in ENDINGS if str(name).endswith(ending)), "")
        if ending and pd.api.types.is_numeric_dtype(frame[name]):
            converted[str(name).removesuffix(ending) + ENDINGS[ending]] = in_us(
                frame[name], UNIT[ending]
            ).round(PLACES)
        else:
            converted[name] = frame[name]
    return pd.DataFrame(converted, index=frame.index)


def said(text: str, names: Iterable[object] = (), asked: Sequence[float] = ()) -> str:
    """A sentence as the reader wants it: `23 kg` becomes `23 kg (51 lb)`, to as many decimal places, miles to one more.

    Parameters
    ----------
    names
        What people called things: left alone wherever it stands, as `5 m lead` is a name and not a figure.
    asked
        Figures that are asked for at least: rounded up in the other unit too.
    """
    if not is_us():
        return text
    figured = {name for name in names if isinstance(name, str) and re.search(FIGURE, name)}
    kept = [re.escape(name) for name in sorted(figured, key=len, reverse=True)]
    pattern = "|".join([*kept, TOLD_IN_US, FIGURE])
    return re.sub(pattern, lambda found: _with_us(found, asked), text)


def in_finding(text: str, finding: Finding) -> str:
    """A sentence of a finding, with headings for columns; names stay as they were written."""
    names = (finding.subject, finding.member, finding.kit, finding.event, finding.post)
    return said(plain_words.titled(text), (*names, *finding.evidence.values()), rule.asked(finding.evidence))


def at_least(value: float, unit: str, places: int = 0) -> str:
    """What is asked for at least with its unit, as the reader wants it, rounded up."""
    figure, unit = told(value, unit)
    return f"{rule.up(figure, places):.{places}f} {unit}"


def _with_us(found: re.Match[str], asked: Sequence[float]) -> str:
    unit = found["unit"]
    if unit is None:
        return found[0]
    other, more = US[unit]
    ends = (found["least"], found["most"])
    figures = [_as_precise(figure, unit, more, asked) for figure in ends if figure]
    return f"{found[0]} ({' to '.join(figures)} {other})"


def _as_precise(figure: str, unit: str, more: int, asked: Sequence[float]) -> str:
    digits = len(figure.partition(".")[2])
    value, places = in_us(float(figure), unit), digits + more
    if any(f"{rule.up(least, digits):.{digits}f}" == figure for least in asked):
        value = rule.up(value, places)
    text = f"{value:.{places}f}"
    return text.removeprefix("-") if float(text) == 0 else text
