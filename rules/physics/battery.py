"""Batteries: how much is in them, at what voltage, and what rate, cold, rest and age take away.

Chemistries are named by CHEMISTRIES; every function takes one name or an array of them, or what `places` makes of these. A
blank name (or None, NaN, NA in an array) is a chemistry that is not known, and gives NaN.
"""

import numpy as np
import numpy.typing as npt

from data import reference
from rules.physics.quantity import Floats, Names, Numbers, one_of, quantity

CHEMISTRIES = ("lifepo4", "li_ion", "agm", "gel", "flooded", "nimh", "nimh_lsd", "alkaline")
DAYS_PER_MONTH = 365.25 / 12.0

_BLANK = ("", "None", "nan", "<NA>")
_Curve = tuple[tuple[float, ...], tuple[float, ...]]

# Capacity against temperature (C, share of rated). Sealed lead-acid merges two data sheets and, for the
# coldest point, a trade comparison; flooded is a battery maker's table for discharges over an hour; LiFePO4
# a maker's article. Li-ion and NiMH take the one figure read, half at 0 F against 27 C, for lack of a
# better one. Alkaline is common practice.
_SEALED_LEAD: _Curve = ((-18, -15, -10, 0, 10, 25, 30, 40), (0.45, 0.65, 0.74, 0.85, 0.90, 1.00, 1.03, 1.02))
_HALF_AT_ZERO_F: _Curve = ((-18, 27), (0.5, 1.0))
_TEMPERATURE: tuple[_Curve, ...] = (
    ((-20, 0, 25), (0.70, 0.80, 1.00)),
    _HALF_AT_ZERO_F,
    _SEALED_LEAD,
    _SEALED_LEAD,
    ((0, 5, 10, 15, 20, 25, 30, 35, 40), (0.84, 0.88, 0.90, 0.94, 0.99, 1.00, 1.03, 1.04, 1.05)),
    _HALF_AT_ZERO_F,
    _HALF_AT_ZERO_F,
    ((-18, 0, 20), (0.2, 0.6, 1.0)),
)
_HOTTEST_C = 60.0

# One number per chemistry below, and NaN for one that is not known.


def _of_each(column: str) -> Floats:
    """A column of data/reference/chemistries.csv, which a club may see otherwise."""
    told = reference.table("chemistries").set_index("chemistry")[column]
    return np.array([*told.loc[list(CHEMISTRIES)], np.nan])


# Loss per month at 20 C: the middle of the published range, or the one figure read.
_LOSS_PER_MONTH = _of_each("month_loss_share")

# Peukert exponents: engineering knowledge page (lithium 1.05), two AGM data sheets (1.15), battery monitor
# manual (1.25 for lead-acid); nickel and alkaline are planning figures.
_PEUKERT = _of_each("peukert")

# Nominal voltage of one cell: cell voltage table.
_NOMINAL_V = np.array([3.2, 3.6, 2.0, 2.0, 2.0, 1.2, 1.2, 1.5, np.nan])

# Rest voltage of one cell against state of charge. The ends are the published full (lead-acid 12.6 V at
# rest) and empty voltages; what lies between is common practice.
_LEAD_REST: _Curve = ((0, 0.25, 0.5, 0.75, 1), (1.93, 1.99, 2.03, 2.07, 2.10))
_NICKEL_REST: _Curve = ((0, 0.1, 0.5, 0.9, 1), (1.00, 1.20, 1.26, 1.32, 1.40))
_REST: tuple[_Curve, ...] = (
    ((0, 0.05, 0.1, 0.2, 0.4, 0.7, 0.9, 0.99, 1), (2.50, 3.00, 3.19, 3.24, 3.28, 3.31, 3.33, 3.38, 3.45)),
    ((0, 0.05, 0.1, 0.2, 0.5, 0.8, 1), (3.00, 3.35, 3.45, 3.58, 3.72, 3.98, 4.20)),
    _LEAD_REST,
    _LEAD_REST,
    _LEAD_REST,
    _NICKEL_REST,
    _NICKEL_REST,
    ((0, 0.1, 0.25, 0.5, 0.75, 1), (0.90, 1.10, 1.20, 1.27, 1.36, 1.50)),
)

# Internal resistance of one cell times its ampere-hours, in ohm Ah, protection circuit included where a
# chemistry has one. Planning estimates; no single source.
_OHM_AH = _of_each("cell_ohm_ah")


def places(chemistry: Names) -> npt.NDArray[np.intp]:
    """Place of each chemistry among CHEMISTRIES and one that is not known: names that several functions are given are compared once.

    Raises ValueError for an unknown chemistry.
    """
    given = np.asarray(chemistry)
    if given.dtype == np.intp:
        return given
    names = given.astype(np.str_)
    names = np.where(np.isin(names, _BLANK), "", names)
    return one_of(names, "chemistry", (*CHEMISTRIES, ""))


def _along(curves: tuple[_Curve, ...], chemistry: Names, x: Floats, left: float | None) -> Floats:
    place, x = np.broadcast_arrays(places(chemistry), x)
    y = np.full(x.shape, np.nan)
    for i in np.flatnonzero(np.bincount(place.ravel())[: len(curves)]):
        chosen = place == i
        xs, ys = curves[i]
        y[chosen] = np.interp(x[chosen], xs, ys, left=left)
    return y[()]


def run_time_h(capacity_ah: Numbers, current_a: Numbers) -> Floats:
    """Hours that `capacity_ah` lasts at `current_a`: the quotient, with no correction. No current: inf.

    Raises ValueError if either is negative.

    Source: NCVEC T4A09, E7D09.
    """
    capacity, current = quantity(capacity_ah, "capacity_ah", 0), quantity(current_a, "current_a", 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        hours = capacity / current
    return np.where((current == 0) & ~np.isnan(capacity), np.inf, hours)[()]


def peukert_runtime_h(capacity_ah: Numbers, rate_h: Numbers, current_a: Numbers, exponent: Numbers) -> Floats:
    """Hours at a steady current by Peukert's law in the hour-rating form: t = H (C / (I H))^k.

    C is the capacity at the H-hour rate. (The form T = C / I^k needs the capacity at 1 A and is wrong for
    batteries rated at 20 h.) Rated temperature, new battery, one steady current; best within about a
    factor of five of the rated current. No current: inf.

    Parameters
    ----------
    capacity_ah : 0 or more
    rate_h : hours of the rating, above 0; 20 for most lead-acid
    current_a : 0 or more
    exponent : 1 to 2

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Source: Peukert's law, hour-rating form.
    """
    rate = quantity(rate_h, "rate_h", 0, above=True)
    rated_a = quantity(capacity_ah, "capacity_ah", 0) / rate
    return np.asarray(rate * run_time_h(rated_a, current_a) ** quantity(exponent, "exponent", 1, 2))[()]


def capacity_at_current_ah(
    capacity_ah: Numbers, rate_h: Numbers, current_a: Numbers, exponent: Numbers
) -> Floats:
    """Capacity in Ah at a steady current: I x the Peukert run time. NaN at no current.

    Below the rated current it exceeds the rating; a planner should cap it there.

    Raises ValueError and source: as peukert_runtime_h.
    """
    hours = peukert_runtime_h(capacity_ah, rate_h, current_a, exponent)
    current = quantity(current_a, "current_a", 0)
    with np.errstate(invalid="ignore"):
        return np.asarray(current * hours)[()]


def peukert_exponent(chemistry: Names) -> Floats:
    """Planning exponent (1) of each chemistry: 1.05 lithium and nickel, 1.15 AGM and gel, 1.25 the rest.

    Published for lithium (1.05), AGM (1.05 to 1.15; data sheets imply 1.15 to 1.21) and lead-acid (1.25);
    nickel and alkaline are planning estimates. Raises ValueError for an unknown chemistry.

    Source: engineering knowledge page (lithium, AGM); battery monitor manual (lead-acid default).
    """
    return np.asarray(_PEUKERT[places(chemistry)])[()]


def temperature_factor(chemistry: Names, temperature_c: Numbers) -> Floats:
    """Share of rated capacity (1) that a battery at `temperature_c` gives; straight lines between points.

    Valid from the coldest published point of the chemistry (LiFePO4 -20 C, flooded lead-acid 0 C, the rest
    -18 C) to 60 C. Colder or hotter: NaN, not known. Between the warmest point and 60 C the last value is
    held. For the battery's own temperature, not the air's; slow discharge (hours).

    Parameters
    ----------
    chemistry, temperature_c : broadcast together

    Raises
    ------
    ValueError
        If a chemistry is unknown.

    Source: LiFePO4: maker article, 12 V 100 Ah pack. AGM and gel: maker data sheets of a 12 V 40 Ah and a
    12 V 14 Ah battery, trade comparison article at 0 F. Flooded: battery maker FAQ, discharges over 60 min.
    Li-ion and NiMH: battery reference site, half at -18 C against 27 C for any chemistry. Alkaline: common
    practice.
    """
    temperature = quantity(temperature_c, "temperature_c", -273.15)
    share = _along(_TEMPERATURE, chemistry, temperature, np.nan)
    return np.where(temperature <= _HOTTEST_C, share, np.nan)[()]


def self_discharge_remaining(
    chemistry: Names,
    days: Numbers,
    temperature_c: Numbers = 20.0,
    loss_per_month_share: Numbers | None = None,
) -> Floats:
    """Share of its charge (0 to 1) that an idle, disconnected battery still has after `days`.

    1 - loss x months, not below 0. Loss falls in a straight line, as an AGM data sheet prints it.

    Parameters
    ----------
    chemistry, days, temperature_c : broadcast; temperature -20 to 60
    loss_per_month_share : the maker's own figure (0 to 1) at the storage temperature. When it is not
        given, the chemistry's loss at 20 C is doubled for every 10 K above and halved for every 10 K below
        (common practice)

    Notes
    -----
    Planning figures: makers differ by a factor of two. A radio or meter left connected drains far more.
    A month is 30.44 days.

    Raises
    ------
    ValueError
        If days are negative, the temperature is outside -20 to 60 C or the chemistry unknown.

    Source: AGM: maker data sheet, 12 V 40 Ah. LiFePO4: battery trade article (3 to 5 %). Li-ion, NiMH and
    flooded: encyclopaedic self-discharge tables. Low self-discharge NiMH: battery pack maker table. Alkaline:
    common practice (2 to 3 % a year).
    """
    place = places(chemistry)
    warm = quantity(temperature_c, "temperature_c", -20, 60)
    months = quantity(days, "days", 0) / DAYS_PER_MONTH
    if loss_per_month_share is None:
        loss = _LOSS_PER_MONTH[place] * 2.0 ** ((warm - 20.0) / 10.0)
    else:
        loss = quantity(loss_per_month_share, "loss_per_month_share", 0, 1)
    loss, months, _, _ = np.broadcast_arrays(loss, months, place, warm)
    return np.asarray(np.maximum(0.0, 1.0 - loss * months))[()]


def cells_in_series(chemistry: Names, nominal_v: Numbers = 12.0) -> Floats:
    """Cells end to end in a pack sold as `nominal_v`: the nearest whole number of nominal cell voltages.

    12 and 12.8 V LiFePO4 are both 4 cells; 10.8, 11.1 and 12 V Li-ion 3. At least 1.

    Raises ValueError if the voltage is not above 0 or the chemistry unknown.

    Source: cell voltage table.
    """
    volts = quantity(nominal_v, "nominal_v", 0, above=True)
    return np.asarray(np.maximum(1.0, np.rint(volts / _NOMINAL_V[places(chemistry)])))[()]


def open_circuit_v(chemistry: Names, soc: Numbers, nominal_v: Numbers = 12.0) -> Floats:
    """Voltage in V of a rested pack with nothing connected, at state of charge `soc` (0 to 1).

    Cells in series x a piecewise linear cell curve. 20 to 25 C, rested for hours. The ends follow published
    cell voltages; the points between are common practice and good to about 0.1 V per 12 V pack.

    Parameters
    ----------
    chemistry, soc, nominal_v : broadcast together

    Raises
    ------
    ValueError
        If soc is outside 0 to 1 or the chemistry unknown.

    Source: cell voltage table (ends); common practice (between).
    """
    cell_v = _along(_REST, chemistry, quantity(soc, "soc", 0, 1), None)
    return np.asarray(cells_in_series(chemistry, nominal_v) * cell_v)[()]


def soc_at_open_circuit_v(chemistry: Names, volts_v: Numbers, nominal_v: Numbers = 12.0) -> Floats:
    """State of charge (0 to 1) at which the rested pack shows `volts_v`; open_circuit_v turned round.

    Below the empty end: 0. Above the full end: inf, because no charge brings the pack there.

    Source: as open_circuit_v. Raises ValueError if the chemistry is unknown.
    """
    turned = tuple((volts, soc) for soc, volts in _REST)
    cell_v = quantity(volts_v, "volts_v") / cells_in_series(chemistry, nominal_v)
    soc = _along(turned, chemistry, cell_v, None)
    fullest_v = np.array([volts[-1] for _, volts in _REST] + [np.nan])[places(chemistry)]
    return np.where(cell_v > fullest_v, np.inf, soc)[()]


def internal_resistance_ohm(
    chemistry: Names,
    capacity_ah: Numbers,
    nominal_v: Numbers = 12.0,
    cell_ohm_ah: Numbers | None = None,
    temperature_c: Numbers = 20.0,
    doubles_k: Numbers = 30.0,
) -> Floats:
    """Planning estimate of a pack's internal resistance in ohm: cells x k / Ah x 2^((20 C - temperature) / doubles_k).

    k in ohm Ah per cell, unless given as `cell_ohm_ah`: LiFePO4 0.06, Li-ion 0.12, AGM 0.03, gel 0.04, flooded 0.06, NiMH 0.06,
    alkaline 0.4. Charged and new; age can double it. From -20 C up; above 20 C as at 20 C. A measured figure is
    always better.

    Parameters
    ----------
    chemistry, capacity_ah, nominal_v, temperature_c : broadcast; capacity above 0
    doubles_k : K colder for twice the resistance, above 0; twice at -10 C is usual, half or twice as much not rare

    Raises
    ------
    ValueError
        If the capacity or doubles_k is not above 0 or the chemistry unknown.

    Source: common practice; the right order of size, not a data sheet.
    """
    each = _OHM_AH[places(chemistry)] if cell_ohm_ah is None else quantity(cell_ohm_ah, "cell_ohm_ah", 0)
    ohm_ah = each * cells_in_series(chemistry, nominal_v)
    colder_k = np.maximum(0.0, 20.0 - quantity(temperature_c, "temperature_c", -273.15))
    times = 2.0 ** (colder_k / quantity(doubles_k, "doubles_k", 0, above=True))
    return np.asarray(ohm_ah * times / quantity(capacity_ah, "capacity_ah", 0, above=True))[()]
