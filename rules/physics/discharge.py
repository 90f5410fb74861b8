"""A station on one battery: how long until the radio drops out, what stops it first, and what charging adds."""

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
    """Hours until the voltage at the radio or converter falls below its least while it transmits; inf if it never does."""
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
    stop_v: Numbers,
    horizon_h: Numbers,
    nominal_v: Numbers = 12.0,
    soc_reserve: Numbers = 0.0,
    exponent: Numbers | None = None,
) -> Discharge:
    """Run a station on a battery and say when it stops and why. All arguments broadcast to N cases.

    State of charge falls at the average current over the capacity in force:
    soc(t) = soc_start - t I_avg / C, with C = rated x cold x Peukert's (C / (20 I_avg))^(k - 1), the last
    never above 1. The radio drops out when
    V_rest(soc) - I_peak (internal_ohm + path_ohm) < stop_v. The rest voltage is a curve of straight
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
    stop_v : least voltage at which the radio, or the converter before it, still works
    horizon_h : how long it is needed, 0 or more
    nominal_v : what the pack is sold as
    exponent : Peukert's, 1 to 2; that of the chemistry unless given

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

    power = battery.peukert_exponent(chemistry) if exponent is None else exponent
    at_rate_ah = np.fmin(capacity, battery.capacity_at_current_ah(capacity, RATE_H, average_a, power))
    in_force_ah = at_rate_ah * battery.temperature_factor(chemistry, temperature_c)

    sag_v = peak_a * (quantity(internal_ohm, "internal_ohm", 0) + quantity(path_ohm, "path_ohm", 0))
    start_soc = quantity(soc_start, "soc_start", 0, 1)
    least_v = quantity(stop_v, "stop_v", 0)
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


class Recharged(NamedTuple):
    """Result of `recharge`, one element per case."""

    hours_h: Floats
    """Hours until the bank is empty for the first time; all steps together if it never is."""
    left_h: Floats
    """What is left at the beginning and after each step, in hours of load; below 0 from the step in which it ends."""
    short_h: Floats
    """Hours of load that another battery, which is not charged, has to carry until it is no longer needed."""


def recharge(
    full_h: Numbers,
    refill_h: Numbers,
    put_in: Numbers,
    given_back: Numbers,
    step_h: float = 1.0,
    until_h: Numbers = np.inf,
    used_h: Numbers = 0.0,
) -> Recharged:
    """Run a bank that is charged while it is used, and say when it is first empty.

    Energy is counted in hours of the load, so that a bank without charging lasts exactly `full_h`. In each step the load
    takes one hour an hour and the charger puts in `put_in`. What is put in feeds the load first; the rest goes into
    the bank and loses `1 - given_back` there. Beyond full nothing goes in. Once the bank is empty the radio has stopped
    for good, whatever the sun does next.

    Parameters
    ----------
    full_h : hours that the full bank lasts without charging, to brown-out or to its reserve (`simulate`); 0 or more
    refill_h : how much of it can be charged, 0 to full_h; this is used first, what cannot be charged after it
    put_in : array of shape (steps, ...): power put in over the power of the load, 0 or more, even over the step
    given_back : share of what goes into the bank that comes out again, 0 to 1
    step_h : length of a step
    until_h : how long it is needed, 0 or more; nothing is short after the steps
    used_h : what was used of it before, 0 to full_h

    Returns
    -------
    Recharged
        hours_h and short_h of the cases' shape, left_h of shape (steps + 1, ...). NaN in cases where an argument is NaN.

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    The load is its average over the duty cycle. How fast a battery may be charged is for whoever gives `put_in` to limit;
    that it takes less as it fills is not in it, nor that a charged battery holds its voltage a little higher.

    Source: conservation of energy, step by step; given_back as in `battery.energy_efficiency`.
    """
    gain = quantity(put_in, "put_in", 0)
    full, refill, kept, until, used, _ = np.broadcast_arrays(
        quantity(full_h, "full_h", 0), quantity(refill_h, "refill_h", 0), quantity(given_back, "given_back", 0, 1),
        quantity(until_h, "until_h", 0), quantity(used_h, "used_h", 0), gain[0] if len(gain) else 0.0,
    )  # fmt: skip
    if np.any(refill > full * (1 + 1e-9)):
        raise ValueError("refill_h: more than full_h. Give at most what the bank holds.")
    if np.any(used > full * (1 + 1e-9)):
        raise ValueError("used_h: more than full_h. Give at most what the bank holds.")
    beside = full - refill  # what cannot be charged
    left_h = np.empty((len(gain) + 1, *full.shape))
    left_h[0] = lowest = first = np.maximum(full - used, 0.0)
    hours = np.where(first > 0, len(gain) * step_h, 0.0)
    carried, short = first, np.zeros(full.shape)  # with another battery beside it
    for step, net in enumerate(gain - 1.0):
        left = left_h[step]
        after = left + step_h * np.where(net > 0, net * kept, net)
        after = np.minimum(after, refill + np.minimum(lowest, beside))
        ends = (left > 0) & (after <= 0)
        hours = np.where(ends, step_h * (step + left / np.where(ends, left - after, 1.0)), hours)
        left_h[step + 1] = np.where(left > 0, after, left)
        asked_h = np.clip(until - step * step_h, 0.0, step_h)
        short += np.maximum(0.0, -net * asked_h - carried)
        carried = np.maximum(0.0, carried + step_h * np.where(net > 0, net * kept, net))
        carried = np.minimum(carried, refill + np.clip(lowest, 0.0, beside))
        lowest = np.minimum(lowest, left_h[step + 1])
    is_known = ~np.isnan(left_h[-1])
    return Recharged(np.where(is_known, hours, np.nan)[()], left_h, np.where(is_known, short, np.nan)[()])
