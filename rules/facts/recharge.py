"""What the sun, mains and a vehicle put back into a radio's bank at its post, hour by hour.

A panel counts behind a charge controller, or with a regulator of its own, which its highest volts tell. A mains charger
counts where the post has mains and the charger is for the chemistry; chargers of a handheld fill the pack that is not in
use, so that there must be two. A vehicle that stays feeds, through a clip or socket lead, a booster that delivers more
than the battery's nominal volts, a handheld's DC lead and its charger, and through an inverter the kit's mains chargers;
its engine is taken to run when it must. A generator feeds mains chargers as mains do, up to its watts. Nothing charges a
battery that is colder than its chemistry may be charged: the coldest of the event by night, warmer by day where the
event tells its warmest, place and hours from UTC; the battery is taken to be as cold as the air.

What nobody tells counts in the high end of the hours alone (`rules.facts.power.runtime`): a vehicle at a post that is
driven to, and a generator, for whose fuel there is no column.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from rules.facts.select import Columns, Floats, floats
from rules.physics import discharge, sun

OF_CASE = (
    "need_h", "is_handheld", "has_mains", "has_vehicle", "generator_w", "starts_utc", "lat", "lon", "solar_w", "controller_a",
    "temperature_c", "warmest_c", "car_lead_a", "booster_a", "booster_v", "inverter_a", "handheld_lead_a",
)  # fmt: skip
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


class Taken(NamedTuple):
    """What the policy takes for granted."""

    sun_share: float
    """What is left of the clear-sky energy of a panel."""
    converter_share: float
    """What is left of what a converter, a charger or an inverter takes in."""
    vehicle_v: float
    """At which a vehicle gives current."""


def recharged(
    cases: Columns, feed: Columns, used: Used, load_w: Floats, taken: Taken, horizon_h: float
) -> Iterator[tuple[Places, float, discharge.Recharged]]:
    """The cases that something charges, some at a time, with the length of a step (h) and how they run.

    With a panel, or where it is too cold to charge by night alone, the bank is stepped hour by hour from the start of
    the shift, else in one step, for what chargers put in never changes. What charges a bank of several batteries charges
    any of them that may be charged, in hours in which all of these may; of chargers for several chemistries the largest
    counts. A charger gives its rated current at the battery's nominal volts, a panel no more than the rated current of its
    controllers, and all of them no more beside the load than the batteries may be charged with.

    Parameters
    ----------
    cases : the columns OF_CASE
    load_w : average load of each case
    horizon_h : whole hours beyond which nobody asks
    """
    case, fed, piece_h, full_h = used
    need_h = floats(cases["need_h"])
    starts = np.asarray(cases["starts_utc"]).astype("datetime64[ns]")
    is_handheld = np.asarray(cases["is_handheld"], bool)
    solar_w, lat, lon, cold_c = (floats(cases[name]) for name in ("solar_w", "lat", "lon", "temperature_c"))
    volts, quantity, least_c = (floats(feed[name])[fed] for name in ("nominal_v", "quantity", "charge_min_c"))
    given_back = floats(feed["given_back_share"])[fed]
    has_place = ~np.isnan(lat + lon) & ~np.isnat(starts)
    warm_c = np.where(has_place, np.fmax(floats(cases["warmest_c"]), cold_c), cold_c)
    takes = warm_c[case] >= least_c  # never where the chemistry is not for charging, which tells no least
    charged_w = np.where(takes, _chargers_w(cases, case, volts, floats(feed["charger_a"])[fed], taken), 0.0)
    has_sun = (solar_w > 0) & has_place
    is_alone = np.bincount(case, quantity, len(load_w)) < 2
    filled = (takes & has_sun[case] | (charged_w > 0)) & ~(is_handheld & is_alone)[case]
    refill_h = np.bincount(case, np.where(filled, piece_h, 0.0), len(load_w))
    kept_h = np.bincount(case, np.where(filled, piece_h * given_back, 0.0), len(load_w))
    charger_w, bank_v, from_c = np.zeros(len(load_w)), np.zeros(len(load_w)), np.full(len(load_w), -np.inf)
    np.maximum.at(charger_w, case, charged_w)
    np.maximum.at(bank_v, case[filled], volts[filled])
    np.maximum.at(from_c, case[filled], least_c[filled])
    rate_w = floats(feed["piece_ah"])[fed] * quantity * volts * floats(feed["charge_per_h"])[fed]
    most = 1.0 + np.bincount(case, np.where(filled, rate_w, 0.0), len(load_w)) / np.where(
        load_w > 0, load_w, 1.0
    )
    is_open = (refill_h > 0) & (full_h < horizon_h) & (load_w > 0)
    controller_w = floats(cases["controller_a"]) * bank_v

    is_cold = cold_c < from_c
    stepped = np.flatnonzero(is_open & (has_sun | is_cold))
    where = np.stack([lat, lon, starts.astype(np.int64), cold_c, warm_c])[:, stepped]
    places, at = np.unique(where, axis=1, return_inverse=True)
    opens = places[2].astype("datetime64[ns]")
    hourly = sun.solar_wh_by_hour(
        places[0], places[1], opens, int(horizon_h), 1.0, sky_factor=taken.sun_share
    )
    if is_cold[stepped].any():
        middles = opens + (np.arange(int(horizon_h))[:, np.newaxis] * 60 + 30).astype("timedelta64[m]")
        air_c = sun.air_temperature_c(places[0], places[1], middles, places[3], places[4])
    for first in range(0, len(stepped), AT_ONCE):
        rows, of_place = stepped[first : first + AT_ONCE], at[first : first + AT_ONCE]
        sun_w = np.fmin(hourly[:, of_place] * solar_w[rows], controller_w[rows])
        put_in = np.minimum((sun_w + charger_w[rows]) / load_w[rows], most[rows])
        cold = np.flatnonzero(is_cold[rows])
        if len(cold):
            put_in[:, cold] *= air_c[:, of_place[cold]] >= from_c[rows[cold]]
        yield (
            rows,
            1.0,
            discharge.recharge(
                full_h[rows], refill_h[rows], put_in, kept_h[rows] / refill_h[rows], 1.0, need_h[rows]
            ),
        )
    rows = np.flatnonzero(is_open & ~has_sun & ~is_cold)
    put_in = np.minimum(charger_w[rows] / load_w[rows], most[rows])[np.newaxis]
    yield (
        rows,
        horizon_h,
        discharge.recharge(
            full_h[rows], refill_h[rows], put_in, kept_h[rows] / refill_h[rows], horizon_h, need_h[rows]
        ),
    )


def _chargers_w(cases: Columns, case: Places, volts: Floats, charger_a: Floats, taken: Taken) -> Floats:
    """What chargers on mains, a generator or a vehicle give to the battery of each pair of case and battery (W).

    Of several ways the one counts that gives most.
    """
    has_mains, has_vehicle, is_handheld = (
        np.asarray(cases[name], bool)[case] for name in ("has_mains", "has_vehicle", "is_handheld")
    )
    names = ("generator_w", "car_lead_a", "booster_a", "booster_v", "inverter_a", "handheld_lead_a")
    generator_w, lead_a, booster_a, booster_v, inverter_a, handheld_a = (
        np.nan_to_num(floats(cases[name]))[case] for name in names
    )
    passed_on, charger_w = taken.converter_share, charger_a * volts
    mains_w = np.where(has_mains, charger_w, np.minimum(charger_w, generator_w * passed_on))
    lead_w = lead_a * taken.vehicle_v * passed_on
    boosted_w = np.where(booster_v > volts, np.minimum(booster_a * volts, lead_w), 0.0)
    direct_w = np.where(is_handheld, np.minimum(charger_w + handheld_a * volts, lead_w), boosted_w)
    by_inverter_w = np.minimum(charger_w, inverter_a * taken.vehicle_v * passed_on**2)
    vehicle_w = np.where(has_vehicle, np.maximum(direct_w, by_inverter_w), 0.0)
    return np.maximum(mains_w, vehicle_w)


def left_at(hour: Floats, step_h: float, left_h: Floats) -> Floats:
    """What is left of N banks (h of load) at an hour of each; left_h as `discharge.recharge` has it, hours within it."""
    step = np.minimum((hour / step_h).astype(np.intp), len(left_h) - 2)
    n = np.arange(len(hour))
    part = hour / step_h - step
    left: Floats = np.maximum(left_h[step, n] * (1 - part) + left_h[step + 1, n] * part, 0.0)
    return left
