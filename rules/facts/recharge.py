"""What the sun and chargers put back into a radio's bank at its post, hour by hour.

A panel counts behind a charge controller, or with a regulator of its own, which its highest volts tell. A mains charger
counts where the post has mains and the charger is for the chemistry; chargers of a handheld fill the pack that is not in
use, so that there must be two. Nothing charges a battery that is colder than its chemistry may be charged: the coldest
of the event decides, day or night. A generator, whose fuel nobody tells, and a vehicle, of which nobody tells whether it
stays, put nothing in; the rule `no_way_to_recharge` takes them as ways.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from rules.facts.select import Columns, Floats, floats
from rules.physics import battery, discharge, sun

MPPT_SHARE = 0.94
"""What a tracking controller passes on of what a panel gives: 93 to 95 %, supplier guide table."""
PWM_SHARE = 0.75
"""What a plain one passes on, which holds the panel at the battery's volts: 15 to 35 % less, solar supplier guide."""
REGULATED_V = 15.0
"""Highest volts of a panel that has a regulator, for a 12 V battery; without one it is 18 V and more. Common practice."""
OF_CASE = (
    "need_h",
    "is_handheld",
    "has_mains",
    "starts_utc",
    "lat",
    "lon",
    "solar_w",
    "controller_a",
    "temperature_c",
)
AT_ONCE = 4096  # rows that are stepped together, so that their hours take no more than some 10 MB

Places = npt.NDArray[np.intp]


class Used(NamedTuple):
    """How the batteries of N cases are used up where nothing charges them; pairs of case and battery in `feed`."""

    case: Places
    fed: Places
    piece_h: Floats
    """Hours of each pair, all its pieces together."""
    full_h: Floats
    """Hours of each case, without a horizon."""


def recharged(
    cases: Columns, feed: Columns, used: Used, load_w: Floats, sun_share: float, horizon_h: float
) -> Iterator[tuple[Places, float, discharge.Recharged]]:
    """The cases that something charges, some at a time, with the length of a step (h) and how they run.

    With a panel the bank is stepped hour by hour from the start of the shift, on chargers alone in one step, for what
    they put in never changes. What charges a bank of several batteries charges any of them that may be charged; of
    chargers for several chemistries the largest counts. A charger gives its rated current at the battery's nominal
    volts, a panel no more than the rated current of its controllers.

    Parameters
    ----------
    cases : the columns OF_CASE
    load_w : average load of each case
    sun_share : share of the clear-sky energy that a panel brings
    horizon_h : whole hours beyond which nobody asks
    """
    case, fed, piece_h, full_h = used
    of_case = {name: np.asarray(cases[name]) for name in ("is_handheld", "has_mains", "starts_utc")}
    solar_w, lat, lon = (floats(cases[name]) for name in ("solar_w", "lat", "lon"))
    volts, charger_a, quantity = (floats(feed[name])[fed] for name in ("nominal_v", "charger_a", "quantity"))
    given_back = battery.energy_efficiency(np.asarray(feed["chemistry"], str)[fed])
    coldest_c = floats(feed["charge_min_c"])[fed]  # none where the chemistry is not for charging
    takes = floats(cases["temperature_c"])[case] >= coldest_c
    is_charged = takes & of_case["has_mains"][case] & (charger_a > 0)
    has_sun = (solar_w > 0) & ~np.isnan(lat + lon) & ~np.isnat(of_case["starts_utc"].astype("datetime64[ns]"))
    is_alone = np.bincount(case, quantity, len(load_w)) < 2
    filled = (takes & has_sun[case] | is_charged) & ~(of_case["is_handheld"] & is_alone)[case]
    refill_h = np.bincount(case, np.where(filled, piece_h, 0.0), len(load_w))
    kept_h = np.bincount(case, np.where(filled, piece_h * given_back, 0.0), len(load_w))
    charger_w, bank_v = np.zeros(len(load_w)), np.zeros(len(load_w))
    np.maximum.at(charger_w, case[is_charged], (charger_a * volts)[is_charged])
    np.maximum.at(bank_v, case[filled], volts[filled])
    is_open = (refill_h > 0) & (full_h < horizon_h) & (load_w > 0)
    controller_w = floats(cases["controller_a"]) * bank_v

    sunny = np.flatnonzero(is_open & has_sun)
    where = np.stack([lat, lon, of_case["starts_utc"].astype("datetime64[ns]").astype(np.int64)])[:, sunny]
    places, at = np.unique(where, axis=1, return_inverse=True)
    hourly = sun.solar_wh_by_hour(
        places[0], places[1], places[2].astype("datetime64[ns]"), int(horizon_h), 1.0, sky_factor=sun_share
    )
    for first in range(0, len(sunny), AT_ONCE):
        rows, of_place = sunny[first : first + AT_ONCE], at[first : first + AT_ONCE]
        sun_w = np.fmin(hourly[:, of_place] * solar_w[rows], controller_w[rows])
        put_in = (sun_w + charger_w[rows]) / load_w[rows]
        yield (
            rows,
            1.0,
            discharge.recharge(full_h[rows], refill_h[rows], put_in, kept_h[rows] / refill_h[rows]),
        )
    rows = np.flatnonzero(is_open & ~has_sun)
    put_in = (charger_w[rows] / load_w[rows])[np.newaxis]
    yield (
        rows,
        horizon_h,
        discharge.recharge(full_h[rows], refill_h[rows], put_in, kept_h[rows] / refill_h[rows], horizon_h),
    )


def left_at(hour: Floats, step_h: float, left_h: Floats) -> Floats:
    """What is left of N banks (h of load) at an hour of each; left_h as `discharge.recharge` has it, hours within it."""
    step = np.minimum((hour / step_h).astype(np.intp), len(left_h) - 2)
    n = np.arange(len(hour))
    part = hour / step_h - step
    left: Floats = np.maximum(left_h[step, n] * (1 - part) + left_h[step + 1, n] * part, 0.0)
    return left
