"""A station on one battery: how long until the radio drops out, and what stops it first."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from rules.physics import battery
from rules.physics.load import average_current_a
from rules.physics.quantity import Floats, Names, Numbers, quantity

RATE_H = 20.0
"""Hours of the capacity rating that battery labels carry, unless they say otherwise. Common practice."""
NOT_KNOWN = "not known"


class Discharge(NamedTuple):
    """Result of `simulate`, one element per case."""

    brown_out_h: Floats
    """Hours until the voltage at the transmitting radio falls below its least; inf if it never does."""
    energy_h: Floats
    """Hours until the usable energy is gone; inf with no load."""
    hours_h: Floats
    """The least of the two and the horizon."""
    limit: npt.NDArray[np.str_]
    """What stops it: "brown-out", "energy", "horizon", or "not known"."""
    start_v: Floats
    """Voltage at the radio at the start, under the heaviest load."""


def simulate(
    capacity_ah: Numbers,
    chemistry: Names,
    temperature_c: Numbers,
    soc_start: Numbers,
    internal_ohm: Numbers,
    path_ohm: Numbers,
    amps_tx: Numbers,
    amps_rx: Numbers,
    amps_idle: Numbers,
    tx_share: Numbers,
    rx_share: Numbers,
    idle_share: Numbers,
    radio_volts_min: Numbers,
    horizon_h: Numbers,
    nominal_v: Numbers = 12.0,
    soc_reserve: Numbers = 0.0,
) -> Discharge:
    """Run a station on a battery and say when it stops and why. All arguments broadcast to N cases.

    State of charge falls at the average current over the capacity in force:
    soc(t) = soc_start - t I_avg / C, with C = rated x cold x Peukert's (C / (20 I_avg))^(k - 1), the last
    never above 1. The radio drops out when
    V_rest(soc) - I_peak (internal_ohm + path_ohm) < radio_volts_min. The rest voltage is a curve of straight
    pieces in soc, so the state of charge at which that happens is found exactly, without stepping.

    Parameters
    ----------
    capacity_ah : rated at 20 h, above 0; apply the age factor first
    chemistry : names of battery.CHEMISTRIES, or "" for not known
    temperature_c : of the battery
    soc_start, soc_reserve : charge at the start and charge left untouched, 0 to 1
    internal_ohm, path_ohm : inside the battery; leads, contacts and fuse together
    amps_tx, amps_rx, amps_idle : current in each state
    tx_share, rx_share, idle_share : shares of time, adding up to 1
    radio_volts_min : least voltage at which the radio still transmits
    horizon_h : how long it is needed, 0 or more
    nominal_v : what the pack is sold as

    Returns
    -------
    Discharge
        NaN and "not known" in every case where an argument is NaN or the temperature is outside the
        published range of the chemistry.

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    Constant current: each state draws its amperes at any voltage. Right within a few percent for radios
    with linear regulators and amplifiers, which lose output instead; a device with a switching converter
    draws constant power, up to 15 % more current near the end. I_peak is the heaviest current of the states
    that occur (share above 0). Internal resistance stays as given: pass a larger one for the cold.

    Source: Peukert's law, hour-rating form; temperature and voltage as in `battery`; Ohm's law.
    """
    capacity = quantity(capacity_ah, "capacity_ah", 0, above=True)
    average_a = average_current_a(amps_tx, amps_rx, amps_idle, tx_share, rx_share, idle_share)
    states = ((amps_tx, tx_share), (amps_rx, rx_share), (amps_idle, idle_share))
    peak_a = np.asarray(0.0)
    for amps, share in states:
        peak_a = np.maximum(peak_a, np.where(np.asarray(share, dtype=float) == 0, 0.0, amps))

    exponent = battery.peukert_exponent(chemistry)
    with np.errstate(divide="ignore"):
        rate_factor = np.minimum(1.0, (capacity / (RATE_H * average_a)) ** (exponent - 1.0))
    in_force_ah = capacity * battery.temperature_factor(chemistry, temperature_c) * rate_factor

    sag_v = peak_a * (quantity(internal_ohm, "internal_ohm", 0) + quantity(path_ohm, "path_ohm", 0))
    start_soc = quantity(soc_start, "soc_start", 0, 1)
    least_v = quantity(radio_volts_min, "radio_volts_min", 0)
    start_v = battery.open_circuit_v(chemistry, start_soc, nominal_v) - sag_v
    stop_soc = battery.soc_at_open_circuit_v(chemistry, least_v + sag_v, nominal_v)
    holds_to_empty = battery.open_circuit_v(chemistry, 0.0, nominal_v) - sag_v >= least_v

    spare_soc = np.maximum(0.0, start_soc - quantity(soc_reserve, "soc_reserve", 0, 1))
    energy_h = battery.run_time_h(spare_soc * in_force_ah, average_a)
    to_stop_h = battery.run_time_h(np.maximum(0.0, start_soc - stop_soc) * in_force_ah, average_a)
    brown_out_h = np.where(holds_to_empty, np.inf, np.where(start_v < least_v, 0.0, to_stop_h))

    horizon = quantity(horizon_h, "horizon_h", 0)
    known = ~np.isnan(brown_out_h + energy_h + horizon + start_v + stop_soc)
    energy_h, brown_out_h, horizon, start_v, known = np.broadcast_arrays(
        energy_h, brown_out_h, horizon, start_v, known
    )
    hours = np.minimum(np.minimum(brown_out_h, energy_h), horizon)
    limit = np.select(
        [~known, hours == horizon, brown_out_h < energy_h], [NOT_KNOWN, "horizon", "brown-out"], "energy"
    )
    return Discharge(
        np.where(known, brown_out_h, np.nan)[()],
        np.where(known, energy_h, np.nan)[()],
        np.where(known, hours, np.nan)[()],
        limit,
        np.where(known, start_v, np.nan)[()],
    )
