"""What the values of a file must be to one another and to the kind of their thing, and what of them is told as odd."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from data import clocks, forms, reference, schema, usual
from data.column_values import plain, where
from data.forms import Column
from data.problems import Findings, counted, tell
from data.text_rows import Lines

# Rows beyond which two checks go on at once.
LONG = 20_000
# Before the place of the row that says the same as another.
ALREADY = "written already in"
# What a blank list says, under notes or as what is offered, of the row that shows how it is filled in.
EXAMPLE = "delete this example row"


@dataclass(frozen=True)
class Typed:
    """The typed columns of a file, the place of those that were sent among its headings, and the lines of its rows."""

    stem: str
    typed: dict[str, pa.Array]
    orders: dict[str, int]
    lines: Lines


def check(rows: Typed, findings: Findings) -> None:
    """What values must be to one another and to the kind of their thing; in a long file two checks go on at once."""
    checks = (
        _check_orders, _check_usual, _tell_watts, _tell_measured, _check_chemistry, _check_wire, _check_zone, _check_clock,
        _check_vehicles, _check_example, _check_key,
    )  # fmt: skip
    if len(rows.lines) <= LONG:
        for check in checks:
            check(rows, findings)
        return
    found = [Findings(findings.file) for _ in checks]
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(lambda check, own: check(rows, own), checks, found))
    for own in found:
        findings.take(own)


def _check_usual(rows: Typed, findings: Findings) -> None:
    """Numbers that a thing cannot have are problems; those that it seldom has are told."""
    columns, converted = schema.columns(rows.stem), schema.converted(rows.stem)
    sent = {converted[name].to if name in converted else name: order for name, order in rows.orders.items()}
    places = usual.places(rows.typed["kind"]) if "kind" in columns else None
    for name in [name for name in usual.usual() if name in sent]:
        told: Counter[tuple[str, str]] = Counter()
        found = usual.odd(columns[name], rows.typed[name], places)
        for odd in findings.first([odd for odd in found if odd.is_sure]):
            findings.add(int(rows.lines[odd.row]), sent[name], name, f"{odd.value:g}", odd.problem, odd.fix)
        for odd in found:
            if not odd.is_sure:
                told[f'"{odd.value:g}" is {odd.problem}', odd.fix] += 1
        said = ((what, fix, count) for (what, fix), count in told.items())
        tell(name, said, len(told), "numbers are not usual", findings.notices)


def _check_orders(rows: Typed, findings: Findings) -> None:
    """Of two columns that go together, the lower one is not above the higher."""
    typed, orders = rows.typed, rows.orders
    for pair in schema.orders(rows.stem):
        if pair.low not in orders or pair.high not in orders:
            continue
        both = np.flatnonzero(pc.and_(typed[pair.low].is_valid(), typed[pair.high].is_valid()))
        low, high = (plain(typed[name].take(pa.array(both))) for name in (pair.low, pair.high))
        limit = pc.multiply(high, pair.factor) if pair.factor != 1 else high
        outside = pc.greater_equal(low, limit) if pair.strict else pc.greater(low, limit)
        column = schema.columns(rows.stem)[pair.low]
        for place in findings.first(where(outside)):
            above, bound = _spoken(low[place].as_py(), column), _spoken(high[place].as_py(), column)
            less = f"{pair.factor:g} times {pair.high}" if pair.factor != 1 else pair.high
            if column.unit or column.form == forms.NUMBER:
                problem = f"{'not below' if pair.strict else 'above'} {less} ({bound})"
            else:
                problem = f"{'not before' if pair.strict else 'after'} {less} ({bound})"
            line = int(rows.lines[both[place]])
            findings.add(line, orders[pair.low], pair.low, above, problem, pair.mend)


def _spoken(value: Any, column: Column) -> str:
    if column.form == forms.MOMENT:
        return f"{value:%Y-%m-%dT%H:%M}"
    return f"{value:%Y-%m-%d}" if column.form in (forms.DATE, forms.YEAR_OR_DATE) else f"{value:g}"


def _told_beside(
    typed: dict[str, pa.Array], *names: str
) -> tuple[npt.NDArray[np.int64], list[npt.NDArray[np.float64]]]:
    """Rows in which all of some columns are told, and their numbers there."""
    told = np.logical_and.reduce([typed[name].is_valid().to_numpy(zero_copy_only=False) for name in names])
    rows = np.flatnonzero(told)
    place = pa.array(rows)
    return rows, [
        plain(typed[name].take(place)).to_numpy(zero_copy_only=False).astype(float) for name in names
    ]


def _tell_watts(rows: Typed, findings: Findings) -> None:
    """A radio that sends out nearly all that it draws, at the most volts that it takes, is asked about."""
    for watts, amps in (("rf_watts", "amps_tx"), ("rf_watts_low", "amps_tx_low")):
        if rows.stem != "inventory" or not {watts, amps} <= rows.orders.keys():
            continue
        there, (sent_w, drawn_a) = _told_beside(rows.typed, watts, amps)
        told_v = plain(rows.typed["volts_max"].take(pa.array(there)))
        told_v = told_v.to_numpy(zero_copy_only=False).astype(float)
        kind = usual.places(rows.typed["kind"])[there]
        volts = np.where(np.isnan(told_v), usual.highest_v()[kind], told_v)
        is_odd = sent_w > usual.MOST_SENT * drawn_a * volts

        def say(watt: float, amp: float, volt: float) -> tuple[str, str]:
            return (
                f"{watt:g} W of {amp:g} A at {volt:g} V, which are {amp * volt:.3g} W",
                f"A transmitter sends out at most {usual.MOST_SENT:.0%} of what it draws: check both.",
            )

        _tell_odd(
            f"{watts}, {amps}",
            np.stack([sent_w, drawn_a, volts], axis=1)[is_odd],
            say,
            "powers are more than the current gives",
            findings.notices,
        )


def _tell_measured(rows: Typed, findings: Findings) -> None:
    """Several in a row of which one measured more than its rating may have been measured together."""
    if rows.stem != "inventory" or not {"tested_ah", "capacity_ah", "quantity"} <= rows.orders.keys():
        return
    _, (measured, rated, pieces) = _told_beside(rows.typed, "tested_ah", "capacity_ah", "quantity")
    is_odd = (pieces > 1) & (measured > rated)

    def say(ah: float, of: float, rating: float) -> tuple[str, str]:
        return (
            f"{ah:g} Ah for each of {of:g}, rated {rating:g} Ah",
            f"If they were measured together, write what one gave: {ah / of:.3g}.",
        )

    odd = np.stack([measured, pieces, rated], axis=1)[is_odd]
    _tell_odd("tested_ah", odd, say, "measured more than their rating", findings.notices)


def _tell_odd(
    name: str,
    odd: npt.NDArray[np.float64],
    say: Callable[..., tuple[str, str]],
    others: str,
    notices: list[str],
) -> None:
    """Notices of numbers that do not go together, shape (rows, numbers), each set of them once."""
    once, counts = np.unique(odd, axis=0, return_counts=True)
    said = ((*say(*numbers), int(count)) for numbers, count in zip(once.tolist(), counts, strict=True))
    tell(name, said, len(once), others, notices)


def _check_chemistry(rows: Typed, findings: Findings) -> None:
    """A battery of a kind that names its chemistry is of no other: what may be used of it hangs on that."""
    if not {"kind", "chemistry"} <= rows.orders.keys():
        return
    told = plain(rows.typed["chemistry"])
    there = np.flatnonzero(told.is_valid().to_numpy(zero_copy_only=False))
    kinds = usual.places(rows.typed["kind"])[there]
    words, own = reference.words("kind"), usual.chemistries()
    chemistry = np.array(told.take(pa.array(there)).to_pylist(), dtype=object)
    for at in findings.first(np.flatnonzero((own[kinds] != "") & (own[kinds] != chemistry)).tolist()):
        kind = words[kinds[at]]
        problem = f"not the chemistry of a {kind}"
        fix = f"Write battery_{chemistry[at]} as its kind, or clear this cell."
        if f"battery_{chemistry[at]}" not in words:
            fix = "Clear this cell, or mend the kind."
        line = int(rows.lines[there[at]])
        findings.add(line, rows.orders["chemistry"], "chemistry", chemistry[at], problem, fix)


def _check_wire(rows: Typed, findings: Findings) -> None:
    """A gauge and a section in one row must be of the same wire."""
    if not {"wire_awg", "wire_mm2"} <= rows.orders.keys():
        return
    gauge, section = (
        plain(rows.typed[name]).to_numpy(zero_copy_only=False) for name in ("wire_awg", "wire_mm2")
    )
    both = np.flatnonzero(~(np.isnan(gauge) | np.isnan(section)))
    meant = usual.awg_mm2(gauge[both])
    apart = np.maximum(meant / section[both], section[both] / meant)
    for at in findings.first(np.flatnonzero(apart > usual.SAME_WIRE).tolist()):
        row = both[at]
        problem = f"not the {meant[at]:.3g} mm2 of {gauge[row]:g} AWG"
        value, line = f"{section[row]:g}", int(rows.lines[row])
        fix = "Keep one of the two cells."
        findings.add(line, rows.orders["wire_mm2"], "wire_mm2", value, problem, fix)


def _check_zone(rows: Typed, findings: Findings) -> None:
    """The times and the hours from UTC of an event are such as clocks of its time zone show; a time that comes twice is told."""
    if "time_zone" not in rows.orders:
        return
    zones, offsets = (plain(rows.typed[name]).to_pylist() for name in ("time_zone", "utc_offset_h"))
    times = [plain(rows.typed[name]).cast(clocks.LOCAL).to_pylist() for name in clocks.MOMENTS]
    found: list[tuple[int, clocks.Wrong]] = []
    twice: Counter[tuple[str, datetime, str]] = Counter()
    for row, (zone, offset_h, *at) in enumerate(zip(zones, offsets, *times, strict=True)):
        if zone is None:
            continue
        moments = dict(zip(clocks.MOMENTS, at, strict=True))
        wrong = list(clocks.wrong(zone, offset_h, moments))
        found += [(row, one) for one in wrong]
        if not wrong:
            shown = [(name, local) for name, local in moments.items() if local is not None]
            twice.update((name, local, zone) for name, local in shown if clocks.is_twice(zone, local))
    for row, one in findings.first(found):
        findings.add(int(rows.lines[row]), rows.orders.get(one.column, 0), *one)
    for name in clocks.MOMENTS:
        said = [
            (f'"{clocks.written(local)}" comes twice by clocks of {zone}', "It counts as the first.", count)
            for (of, local, zone), count in twice.items()
            if of == name
        ]
        tell(name, said, len(said), "times come twice", findings.notices)


def _check_clock(rows: Typed, findings: Findings) -> None:
    """A place and the hours that its clocks differ from UTC must belong together: the dark hours hang on both."""
    if not {"lat", "lon"} <= rows.orders.keys() or not {"utc_offset_h", "time_zone"} & rows.orders.keys():
        return
    lat, lon, offset = (
        plain(rows.typed[name]).to_numpy(zero_copy_only=False) for name in ("lat", "lon", "utc_offset_h")
    )
    zones = plain(rows.typed["time_zone"]).to_pylist()
    if "time_zone" in rows.orders:
        starts = plain(rows.typed["starts"]).cast(clocks.LOCAL).to_pylist()
        offset = np.array(list(map(clocks.at_start_h, zones, offset.tolist(), starts)))
    is_apart = usual.clock_apart_h(lat, lon, offset) > usual.CLOCK_H
    for row in findings.first(np.flatnonzero(is_apart).tolist()):
        here = float(lat[row]), float(lon[row]), float(offset[row])
        problem = f"nowhere that clocks are {here[2]:+g} h from UTC"
        fix = usual.clock_mend(*here, "utc_offset_h" if zones[row] is None else "time_zone")
        findings.add(int(rows.lines[row]), rows.orders["lon"], "lon", f"{here[1]:g}", problem, fix)


def _check_vehicles(rows: Typed, findings: Findings) -> None:
    """Whether vehicles stay with a post, and how many, must say the same."""
    if not {"vehicle", "vehicles"} <= rows.orders.keys():
        return
    stays, many = (plain(rows.typed[name]).to_pylist() for name in ("vehicle", "vehicles"))
    apart = [
        row
        for row, (stay, count) in enumerate(zip(stays, many, strict=True))
        if None not in (stay, count) and stay != (count > 0)
    ]
    for row in findings.first(apart):
        problem = f"not what vehicle says ({'yes' if stays[row] else 'no'})"
        fix = "Keep one of the two cells."
        findings.add(int(rows.lines[row]), rows.orders["vehicles"], "vehicles", str(many[row]), problem, fix)


def _check_key(rows: Typed, findings: Findings) -> None:
    """What names a row stands in no other."""
    key, orders, lines = schema.key(rows.stem), rows.orders, rows.lines
    if not key or any(name not in orders for name in key):
        return
    frame = pd.DataFrame({name: plain(rows.typed[name]).to_pandas() for name in key}).dropna()
    repeated = frame[frame.duplicated(keep=False)]
    first: dict[tuple[str, ...], int] = {}
    for row, values in zip(repeated.index.tolist(), repeated.itertuples(index=False, name=None), strict=True):
        line = first.setdefault(values, int(lines[row]))
        if line != lines[row]:
            value = ", ".join(values)
            problem = f"{ALREADY} {counted(findings.file)} {line}"
            findings.add(
                int(lines[row]), orders[key[-1]], key[-1], value, problem, "Keep one of the two rows."
            )


def _check_example(rows: Typed, findings: Findings) -> None:
    """The row that a blank list holds as an example is nobody's."""
    name, mend = ("offer", "name it here") if rows.stem == "offers" else ("notes", "empty this cell")
    if name not in rows.orders:
        return
    told = rows.typed[name]
    texts = told.dictionary if pa.types.is_dictionary(told.type) else told
    if pc.index(texts, EXAMPLE).as_py() < 0:
        return
    for row in findings.first(where(pc.equal(plain(told), EXAMPLE))):
        fix = f"Delete the row; if you have written a row of your own over it, {mend}."
        line, order = int(rows.lines[row]), rows.orders[name]
        findings.add(line, order, name, EXAMPLE, "what the blank list says of its example", fix)
