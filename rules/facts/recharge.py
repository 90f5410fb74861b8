"""What the sun, mains and a vehicle put back into a radio's bank at its post, hour by hour.

Sun: a panel counts behind a charge controller, or with a regulator of its own, which its highest volts tell. It brings
the policy's sun_share of what it would under a clear sky after the losses of `sun.solar_wh_by_hour`.

Mains: a charger counts where the post has mains and the charger is for the chemistry. Chargers of a handheld fill the pack
that is not in use, so that there must be two. A generator feeds chargers as mains do, up to its watts.

A vehicle that stays, whose engine is taken to run when it must:

- feeds, through a clip or socket lead, a booster that delivers more than the battery's nominal volts, and a handheld's charger;
- feeds the kit's mains chargers through an inverter;
- charges a power station from its socket, by the lead that such a one brings;
- runs a handheld by its 12 V lead, which goes straight into it or mates with a lead of the kit's that does (whose far plug
  is taken to fit where nobody tells it).

By its socket it gives no more than the policy's amperes (vehicle_socket_a), of which several kits at a post have a part each
(socket_share, `rules.facts.sharing`), one plugged in after another or by a splitter. By clips on its own battery it gives what the
lead carries.

Cold and heat: nothing charges a battery that is colder or warmer than its chemistry may be charged. That is asked hour by
hour, between the coldest of the event and its warmest, where the event tells both, its place and hours from UTC; else both
ends must let it. The battery is taken to be as warm as the air. What would charge it then carries none of the load either; so
with a handheld's 12 V lead, as some charge the pack.

What nobody tells counts in the high end of the hours alone (is_hoped; `rules.facts.runtime.runtime`):

- a vehicle at a post that is driven to, and one for each kit there; mains; a generator, for whose fuel there is no column;
- the place and the warmth of the day, which at best let the sun shine and chargers charge all of the time;
- the plug of a handheld's 12 V lead;
- any panel, controller, supply, lead, booster, inverter or generator of which nobody is sure whether it works.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from rules.facts.select import Columns, Floats, floats
from rules.physics import discharge, sun

OF_CASE = (
    "need_h", "is_handheld", "has_mains", "has_vehicle", "generator_w", "starts_utc", "lat", "lon", "solar_w", "controller_a",
    "temperature_c", "warmest_c", "sun_share", "before_h",
    "clip_a", "socket_lead_a", "booster_a", "booster_v", "inverter_a", "socket_inverter_a", "handheld_lead_a", "handheld_clip_a",
    "handheld_plug_a", "vehicle_share", "socket_share", "is_hoped",
)  # fmt: skip
IF_IT_WORKS = {
    "solar_w": "solar_may_w", "controller_a": "controller_may_a", "clip_a": "clip_may_a", "socket_lead_a": "socket_lead_may_a",
    "booster_a": "booster_may_a", "booster_v": "booster_may_v",
    "inverter_a": "inverter_may_a", "socket_inverter_a": "socket_inverter_may_a",
    "handheld_lead_a": "handheld_lead_may_a", "handheld_clip_a": "handheld_clip_may_a", "handheld_plug_a": "handheld_plug_may_a",
}  # fmt: skip
"""Columns of a case by those in which only what works for certain counts: in these such things do too."""
AT_ONCE = 4096  # rows that are stepped together, so that their hours take no more than some 10 MB

Places = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]


class Used(NamedTuple):
    """How the batteries of N cases are used up where nothing charges them; cases and `feed` as in `rules.facts.lasting`.

    Attributes
    ----------
    case, fed : places of each pair of a case and a battery, among the cases and in `feed`
    """

    case: Places
    fed: Places
    piece_h: Floats
    """Hours of each pair, all its pieces together."""
    full_h: Floats
    """Hours of each case, without a horizon."""

    def of(self, rows: Places) -> Used:
        """Of some cases alone, as if there were no others."""
        place = np.full(len(self.full_h), -1)
        place[rows] = np.arange(len(rows))
        case = place[self.case]
        there = case >= 0
        return Used(case[there], self.fed[there], self.piece_h[there], self.full_h[rows])


class Taken(NamedTuple):
    """What the policy takes for granted (`lasting.taken_for_granted`)."""

    converter_share: float
    """What is left of what a converter, a charger or an inverter takes in."""
    vehicle_v: float
    """At which a vehicle gives current."""
    vehicle_socket_a: float
    """That its socket gives for hours."""


class PutIn(NamedTuple):
    """What charges the banks of N cases beside their load."""

    charger_w: Floats
    """Of the chargers on mains, a generator or a vehicle."""
    solar_w: Floats
    """Of the panels in full sun, no more than which their controllers pass on: controller_w."""
    controller_w: Floats
    most_w: Floats
    """With which the batteries may be charged."""
    refill_h: Floats
    """Hours of the batteries that are charged, of all pieces."""
    given_back: Floats
    """Share of what goes into these that comes out again."""
    from_c: Floats
    """From which up to which (upto_c) all of these may be charged."""
    upto_c: Floats
    warm_c: Floats
    """Warmest of the day."""
    is_placed: Flags
    """Whether sun and air can be followed by the hour, as place and hours from UTC are told."""
    by_mains: Flags
    """Whether mains or a generator give anything."""
    by_vehicle: Flags
    """Whether a vehicle that stays does."""
    by_doubt: Flags
    """Whether a mains charger does of which nobody is sure whether it works."""
    by_weather: Flags
    """Whether anything charges only as long as place or warmth are hoped for."""

    @property
    def is_some(self) -> Flags:
        """Whether anything charges it."""
        return (self.charger_w > 0) | (self.solar_w > 0)


def hoped(cases: pd.DataFrame) -> pd.DataFrame:
    """The cases where all is well that nobody tells: a vehicle for each kit, mains, fuel, and what may work does."""
    socket_share = np.where(cases["vehicles"].isna(), 1.0, cases["socket_share"])
    works = {name: cases[may] for name, may in IF_IT_WORKS.items()}
    plug_a = np.fmax(works["handheld_plug_a"], cases["handheld_open_a"])
    return cases.assign(
        **works | {"handheld_plug_a": plug_a}, has_vehicle=cases["may_have_vehicle"], socket_share=socket_share, generator_w=cases["plant_w"],
        has_mains=cases["may_have_mains"] | cases["has_mains"], is_hoped=True,
    )  # fmt: skip


def put_in(cases: Columns, feed: Columns, used: Used, taken: Taken) -> PutIn:
    """What charges N cases.

    What charges a bank of several batteries charges any of them that may be charged, in hours in which all of these may;
    of chargers for several chemistries the largest counts. A charger gives its rated current at the battery's nominal volts.

    Parameters
    ----------
    cases : the columns OF_CASE
    """
    case, fed, piece_h, full_h = used
    n_cases = len(full_h)
    is_handheld, is_hoped = (np.asarray(cases[name], bool) for name in ("is_handheld", "is_hoped"))
    cold_c, warmest_c, lat, lon = (
        floats(cases[name]) for name in ("temperature_c", "warmest_c", "lat", "lon")
    )
    volts, quantity, least_c, most_c = (
        floats(feed[name])[fed] for name in ("nominal_v", "quantity", "charge_min_c", "charge_max_c")
    )
    is_placed = ~np.isnan(lat + lon) & ~np.isnat(_instants(cases["starts_utc"]))
    warm_c: Floats = np.asarray(np.fmax(warmest_c, cold_c), np.float64)
    best_c, worst_c = np.where(is_placed, [warm_c, cold_c], [cold_c, warm_c])
    takes = (best_c[case] >= least_c) & ~(worst_c[case] > most_c)  # never where the chemistry tells no least
    warm_c[is_hoped & np.isnan(warmest_c)] = np.inf
    may_take = np.where(is_hoped[case], (warm_c[case] >= least_c) & ~(cold_c[case] > most_c), takes)

    is_alone = np.bincount(case, quantity, n_cases) < 2
    may_a = floats(feed["charger_may_a"])[fed]
    charger_a = np.where(is_hoped[case], may_a, floats(feed["charger_a"])[fed])
    is_doubtful = is_hoped[case] & (may_a > floats(feed["charger_a"])[fed])
    charger_a = np.where((is_handheld & is_alone)[case], 0.0, charger_a)
    has_lead = np.asarray(feed["has_vehicle_lead"], bool)[fed]
    mains_w, vehicle_w = _chargers_w(cases, case, volts, charger_a, has_lead, taken)
    charged_w = np.maximum(mains_w, vehicle_w)
    solar_w = np.where(is_placed | is_hoped, np.nan_to_num(floats(cases["solar_w"])), 0.0)
    gives = (charged_w > 0) | (solar_w > 0)[case]
    filled = may_take & gives & (piece_h != 0)  # one that is left out of the hours has none
    charger_w, bank_v = np.zeros(n_cases), np.zeros(n_cases)
    from_c, upto_c = np.full(n_cases, -np.inf), np.full(n_cases, np.inf)
    np.maximum.at(charger_w, case[filled], charged_w[filled])
    np.maximum.at(bank_v, case[filled], volts[filled])
    np.maximum.at(from_c, case[filled], least_c[filled])
    np.fmin.at(upto_c, case[filled], most_c[filled])
    rate_w = floats(feed["piece_ah"])[fed] * quantity * volts * floats(feed["charge_per_h"])[fed]
    most_w, refill_h, kept_h = (
        np.bincount(case, np.where(filled, each, 0.0), n_cases).astype(np.float64)
        for each in (rate_w, piece_h, piece_h * floats(feed["given_back_share"])[fed])
    )
    return PutIn(
        charger_w, np.where(bank_v > 0, solar_w, 0.0), floats(cases["controller_a"]) * bank_v, most_w, refill_h,
        kept_h / np.where(refill_h > 0, refill_h, 1.0), from_c, upto_c, warm_c, is_placed,
        by_mains=_any(case[filled & (mains_w > 0)], n_cases),
        by_vehicle=_any(case[filled & (vehicle_w > 0)], n_cases),
        by_doubt=_any(case[filled & (charged_w > 0) & is_doubtful], n_cases),
        by_weather=_any(case[filled & ~takes], n_cases) | (solar_w > 0) & ~is_placed,
    )  # fmt: skip


def recharged(
    cases: Columns, full_h: Floats, load_w: Floats, put: PutIn, horizon_h: float
) -> Iterator[tuple[Places, float, discharge.Recharged]]:
    """The cases that something charges, some at a time, with the length of a step (h) and how they run.

    - With a panel, or where it is too cold by night alone to charge or too hot by day, the bank is stepped hour by hour from the
      start of the shift; else in one step, for what chargers put in never changes.
    - Before the shift before_h of its hours are used.
    - Panel and chargers give no more beside the load than the batteries may be charged with.

    Parameters
    ----------
    cases : the columns OF_CASE
    full_h : hours of each case without them
    load_w : average load of each case
    horizon_h : whole hours beyond which nobody asks
    """
    before_h = floats(cases["before_h"])
    need_h = floats(cases["need_h"]) - before_h
    starts = _instants(cases["starts_utc"])
    lat, lon, cold_c, sun_share = (
        floats(cases[name]) for name in ("lat", "lon", "temperature_c", "sun_share")
    )
    sunny_w = put.solar_w * sun_share  # of what a clear sky would give
    has_sun = (put.solar_w > 0) & put.is_placed
    most = 1.0 + put.most_w / np.where(load_w > 0, load_w, 1.0)
    is_open = (put.refill_h > 0) & (full_h < horizon_h) & (load_w > 0) & (before_h < full_h)
    is_by_turns = (
        put.is_placed & np.isfinite(put.warm_c) & ((cold_c < put.from_c) | (put.warm_c > put.upto_c))
    )

    stepped = np.flatnonzero(is_open & (has_sun | is_by_turns))
    where = np.stack([lat, lon, starts.astype(np.int64), cold_c, put.warm_c])[:, stepped]
    places, at = np.unique(where, axis=1, return_inverse=True)
    opens = places[2].astype("datetime64[ns]")
    hourly = sun.solar_wh_by_hour(places[0], places[1], opens, int(horizon_h), 1.0, sky_factor=1.0)
    if is_by_turns[stepped].any():
        middles = opens + (np.arange(int(horizon_h))[:, np.newaxis] * 60 + 30).astype("timedelta64[m]")
        warm_c = np.where(np.isfinite(places[4]), places[4], places[3])
        air_c = sun.air_temperature_c(places[0], places[1], middles, places[3], warm_c)
    for first in range(0, len(stepped), AT_ONCE):
        rows, of_place = stepped[first : first + AT_ONCE], at[first : first + AT_ONCE]
        sun_w = np.fmin(hourly[:, of_place] * sunny_w[rows], put.controller_w[rows])
        gain = np.minimum((sun_w + put.charger_w[rows]) / load_w[rows], most[rows])
        turns = np.flatnonzero(is_by_turns[rows])
        if len(turns):
            air, some = air_c[:, of_place[turns]], rows[turns]
            gain[:, turns] *= (air >= put.from_c[some]) & (air <= put.upto_c[some])
        yield (
            rows,
            1.0,
            discharge.recharge(
                full_h[rows],
                put.refill_h[rows],
                gain,
                put.given_back[rows],
                1.0,
                need_h[rows],
                before_h[rows],
            ),
        )
    rows = np.flatnonzero(is_open & ~has_sun & ~is_by_turns)
    always_w = put.charger_w + np.fmin(sunny_w, put.controller_w)
    gain = np.minimum(always_w[rows] / load_w[rows], most[rows])[np.newaxis]
    yield (
        rows,
        horizon_h,
        discharge.recharge(
            full_h[rows],
            put.refill_h[rows],
            gain,
            put.given_back[rows],
            horizon_h,
            need_h[rows],
            before_h[rows],
        ),
    )


def _instants(column: Any) -> npt.NDArray[np.datetime64]:
    return np.asarray(column).astype("datetime64[ns]")


def _any(case: Places, n_cases: int) -> Flags:
    return np.bincount(case, minlength=n_cases) > 0


def _chargers_w(
    cases: Columns, case: Places, volts: Floats, charger_a: Floats, has_lead: Flags, taken: Taken
) -> tuple[Floats, Floats]:
    """What chargers on mains or a generator, and on a vehicle, give to the battery of each pair of case and battery (W).

    Of several ways the one counts that gives most. has_lead: batteries that bring a lead for a vehicle's socket.
    """
    has_mains, has_vehicle, is_handheld = (
        np.asarray(cases[name], bool)[case] for name in ("has_mains", "has_vehicle", "is_handheld")
    )
    n = {
        name: np.nan_to_num(floats(cases[name]))[case]
        for name in OF_CASE if name.endswith("_a") or name in ("generator_w", "booster_v")
    }  # fmt: skip
    share = floats(cases["vehicle_share"])[case]
    socket_a = taken.vehicle_socket_a * floats(cases["socket_share"])[case]
    lead_a = share * np.maximum(n["clip_a"], np.minimum(n["socket_lead_a"], socket_a))
    inverter_a = share * np.maximum(n["inverter_a"], np.minimum(n["socket_inverter_a"], socket_a))
    plug_a = np.maximum(n["handheld_clip_a"], np.minimum(n["handheld_plug_a"], socket_a))
    passed_on, charger_w = taken.converter_share, charger_a * volts
    mains_w = np.where(has_mains, charger_w, np.minimum(charger_w, n["generator_w"] * passed_on))
    lead_w = lead_a * taken.vehicle_v * passed_on
    boosted_w = np.where(n["booster_v"] > volts, np.minimum(share * n["booster_a"] * volts, lead_w), 0.0)
    own_w = np.where(has_lead, share * socket_a * taken.vehicle_v * passed_on, 0.0)
    held_w = np.maximum(np.minimum(charger_w + n["handheld_lead_a"] * volts, lead_w), plug_a * volts)
    direct_w = np.where(is_handheld, held_w, np.maximum(boosted_w, own_w))
    by_inverter_w = np.minimum(charger_w, inverter_a * taken.vehicle_v * passed_on**2)
    return mains_w, np.where(has_vehicle, np.maximum(direct_w, by_inverter_w), 0.0)


def left_at(hour: Floats, step_h: float, left_h: Floats) -> Floats:
    """What is left of N banks (h of load) at an hour of each; left_h as `discharge.recharge` has it, hours within it."""
    step = np.minimum((hour / step_h).astype(np.intp), len(left_h) - 2)
    n = np.arange(len(hour))
    part = hour / step_h - step
    left: Floats = np.maximum(left_h[step, n] * (1 - part) + left_h[step + 1, n] * part, 0.0)
    return left
