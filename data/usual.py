"""Numbers that a thing of its kind does not have: most are right in another unit, mAh for Ah or cm for m.

What is usual stands in data/reference/usual.csv: by column, and by role or kind where these differ, the bounds between
which a number surely lies and those between which it usually does; where `is_times`, as so many times the typical value
of the kind in kinds.csv.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from data import cells, plain_words, reference
from data.forms import Column

BOUNDS = ["least", "usual_least", "usual_most", "most"]
SAME_WIRE = 1.25
"""Times by which two sections of one wire may differ: 12 AWG is sold as 4 mm2. Common practice."""
MOST_SENT = 0.7
"""Share of the power drawn that a transmitter sends out at most, with all else in the radio. Common practice."""
CLOCK_H = 4.0
"""Hours by which clocks may differ from those of the sun: in the west of China they do by 3, anywhere else by less."""
POLE_DEG = 80.0
"""Nearer to a pole any clock is kept."""


Degrees = float | npt.NDArray[np.float64]


@dataclass(frozen=True)
class Usual:
    """What is usual of one column.

    Attributes
    ----------
    bounds : shape (kinds + 1, 4), smallest, usually smallest, usually largest and largest, in the column's unit, NaN for
        none; by kind in the order of the reference, and last of what has no kind
    step : numbers are whole multiples of it, or None
    beside : column in which it is often meant to stand, or ""
    """

    bounds: npt.NDArray[np.float64]
    step: float | None
    beside: str


@dataclass(frozen=True)
class Odd:
    """A number in a row that is not usual (`is_sure`: cannot be): what is wrong with it, and what to write."""

    row: int
    value: float
    is_sure: bool
    problem: str
    fix: str


@cache
def usual() -> dict[str, Usual]:
    """By column; rows of a kind go before those of its role, and these before those of all."""
    kinds = reference.kinds()
    levels = {"all": None, "role": kinds["role"], "kind": kinds["kind"]}
    found = {}
    for column, rows in reference.table("usual").groupby("column", sort=False):
        bounds = np.full((len(kinds) + 1, len(BOUNDS)), np.nan)
        for row in rows.sort_values("level", key=lambda level: level.map(list(levels).index)).itertuples():
            words = levels[str(row.level)]
            is_meant = np.ones(len(bounds), dtype=bool)
            if words is not None:
                is_meant = np.append(words == row.of, False)
            times = np.ones(len(bounds))
            if row.is_times:
                times = np.append(kinds[column].to_numpy(float), np.nan)
                is_meant &= times > 0
            bounds[is_meant] = times[is_meant, None] * [getattr(row, name) for name in BOUNDS]
        step, beside = rows[["step", "beside"]].iloc[0]
        found[str(column)] = Usual(bounds, None if np.isnan(step) else float(step), beside or "")
    return found


@cache
def chemistries() -> npt.NDArray[np.object_]:
    """By kind in the order of the reference, and last of what has none: the chemistry that its name says, or ""."""
    kinds = reference.kinds()
    is_said = kinds["kind"] == "battery_" + kinds["chemistry"].fillna("")
    return np.append(kinds["chemistry"].where(is_said, "").to_numpy(object), "")


def places(kind: pa.Array) -> npt.NDArray[np.int64]:
    """Place of each row's kind in the reference, shape (rows,); -1 for none."""
    coded = kind if pa.types.is_dictionary(kind.type) else kind.dictionary_encode()
    place = {word: place for place, word in enumerate(reference.words("kind"))}
    known = np.array([place.get(word, -1) for word in [*coded.dictionary.to_pylist(), None]])
    placed: npt.NDArray[np.int64] = known[coded.indices.fill_null(len(known) - 1).to_numpy()]
    return placed


def odd(column: Column, values: pa.Array, kinds: npt.NDArray[np.int64] | None) -> list[Odd]:
    """Every number of a column that is not usual, in the order of the rows.

    Parameters
    ----------
    values : shape (rows,), in the unit of the column; NULL where not told
    kinds : shape (rows,), as `places` gives them, or None in a file without
    """
    told = usual()[column.name]
    coded = values if pa.types.is_dictionary(values.type) else values.dictionary_encode()
    rows = np.flatnonzero(coded.is_valid())
    code = coded.indices.fill_null(0).to_numpy()[rows]
    of_row = np.full(len(rows), -1) if kinds is None else kinds[rows]
    if not len(rows):
        return []
    # each kind with each number once: rows are many, and these few
    size = max(1, len(coded.dictionary))
    pair = (of_row + 1) * size + code
    pairs = np.flatnonzero(np.bincount(pair, minlength=1))
    of, number = (
        pairs // size - 1,
        coded.dictionary.to_numpy(zero_copy_only=False)[pairs % size].astype(float),
    )
    least, usual_least, usual_most, most = told.bounds[of].T
    is_part = np.zeros(len(pairs), dtype=bool) if told.step is None else number % told.step != 0
    is_less, is_more = (number < least) | (number < usual_least), (number > most) | (number > usual_most)
    is_odd = is_part | is_less | is_more
    if not is_odd.any():
        return []
    said: dict[int, tuple[float, bool, str, str]] = {}
    for at in np.flatnonzero(is_odd).tolist():
        value = float(number[at])
        is_sure = bool(is_part[at] or value < least[at] or value > most[at])
        if is_part[at]:
            problem = "no whole number"
        else:
            sure, seldom = (most, usual_most) if is_more[at] else (least, usual_least)
            bound = _plain(sure[at] if is_sure else seldom[at])
            problem = f"{'more' if is_more[at] else 'less'} than {_has(of[at], is_sure)}, {bound} {column.unit}".rstrip()
        ways = _ways(value, column, told, of[at])
        if is_sure:
            fix = (
                f"Write {', '.join(ways)}; else mend the number or the kind."
                if ways
                else _mend(column, least[at], most[at])
            )
        else:
            fix = f"If it should be {' or '.join(ways)}, write that." if ways else "Check it."
        said[int(pairs[at])] = value, is_sure, problem, fix
    return [Odd(int(rows[at]), *said[int(pair[at])]) for at in np.flatnonzero(np.isin(pair, [*said]))]


@cache
def highest_v() -> npt.NDArray[np.float64]:
    """By kind in the order of the reference, and last of what has none: the most volts that it takes, NaN where not known."""
    return np.append(reference.kinds()["volts_max"].to_numpy(float), np.nan)


def awg_mm2(awg: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Copper section (mm2) of solid wire of American gauges (0 for 1/0), shape as given.

    pi d^2 / 4 with d = 0.127 mm x 92^((36 - n) / 39). SAE-sized wire of the same number is smaller (SAE 12 is 5833 circular
    mils against 6530), so a wire bought by SAE gauge has up to 11 % more resistance than this gives.

    Source: ASTM B258, definition of the gauge.
    """
    return np.asarray(np.pi / 4 * 0.127**2 * 92 ** ((36 - np.asarray(awg)) / 19.5))


def _plain(bound: float) -> str:
    """A bound as people write it, to three figures."""
    return np.format_float_positional(float(f"{bound:.3g}"), trim="-")


def _mend(column: Column, least: float, most: float) -> str:
    """What the column says is to be written, with the bounds of the kind where these are narrower (NaN: none)."""
    low, high = (f"{bound:.10g}" for bound in (column.low, column.high))
    at_least, at_most = low if np.isnan(least) else _plain(least), high if np.isnan(most) else _plain(most)
    return column.mend.replace(f"from {low} to {high}", f"from {at_least} to {at_most}")


def _has(place: int, is_sure: bool) -> str:
    if place < 0:
        return "usual"
    kind = plain_words.kinds()[reference.words("kind")[place]]
    return f'any thing of the kind "{kind}" has' if is_sure else f'usual for the kind "{kind}"'


def _ways(value: float, column: Column, told: Usual, place: int) -> list[str]:
    """The number as it would be if it was written in another unit, where that is usual, and the column beside."""
    _, least, most, _ = told.bounds[place]
    ways = [
        f"{meant:.4g} ({value:g} {unit})"
        for unit, meant in cells.in_other_units(value, column.unit)
        if not (meant < least or meant > most)
    ]
    return [*ways, f"{value:g} in {told.beside}"] if told.beside else ways


def clock_apart_h(lat: Degrees, lon: Degrees, offset_h: Degrees) -> npt.NDArray[np.float64]:
    """Hours between a place's clocks and the sun there, at most 12 either way; 0 near the poles. Arguments broadcast."""
    apart = np.abs((np.asarray(offset_h) - np.asarray(lon) / 15 + 12) % 24 - 12)
    return np.where(np.abs(lat) > POLE_DEG, 0.0, apart)


def clock_mend(lat: float, lon: float, offset_h: float, told_by: str) -> str:
    """What to write of a place whose clocks cannot be so: a sign that was left out, or two cells that changed places.

    Parameters
    ----------
    told_by : the column that tells the clocks
    """
    ways = {f"lon {-lon:g} (east is positive, west negative)": (lat, -lon, offset_h)}
    if told_by == "utc_offset_h":
        ways[f"utc_offset_h {-offset_h:g} (local time less UTC)"] = (lat, lon, -offset_h)
    fit = [way for way, meant in ways.items() if clock_apart_h(*meant) <= CLOCK_H]
    if not fit and abs(lon) <= POLE_DEG and clock_apart_h(lon, lat, offset_h) <= CLOCK_H:
        fit = [f"lat {lon:g} and lon {lat:g}"]
    return f"Write {', or '.join(fit)}." if fit else f"Mend lon or {told_by}."
