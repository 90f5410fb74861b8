"""How long the bank behind a radio lasts: on its own, with what charges it, at low power, in the cold and in the heat.

A *case* is a radio on the air, on its own or at a post. N cases are columns of one length (`cases`): those of the fact supply,
the shares of the time that it sends, receives and waits, and the temperature. Its *bank* is all batteries that can feed it,
rows of the fact feed (`feed`) with its `supply_id`. Hours are 0 without a battery, and NaN where they hang on what is not known.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from rules.facts import recharge
from rules.facts.places import join
from rules.facts.power import BUS_V
from rules.facts.select import Columns, Floats, each_word, floats
from rules.on_air import LONGEST_H
from rules.physics import battery as cells
from rules.physics import discharge
from rules.physics.quantity import Names
from rules.policy import Policy

STOPPED_BY = {"horizon": "nothing", "energy": "stored energy"}
UNTOLD = "no figures written down for the radio or what feeds it, or a battery or converter that may not work"
WHICH_LEAD = "which of its leads feeds the radio"
NONE, APART = "no battery", "no battery that fits it and is joined to it"
DEAD = "a battery that was measured at no capacity"
TOO_COLD = "colder than the figures published for its battery"
OF_CASE = (
    "amps_tx", "amps_rx", "amps_idle", "accessory_a", "tx_share", "rx_share", "idle_share", "mode_factor",
    "temperature_c", "path_ohm",
)  # fmt: skip
OF_WIDTH = ("is_load_assumed", "is_bank_assumed")
OF_FEED = (
    "piece_ah", "quantity", "usable_share", "nominal_v", "charge_left_share", "gain", "stop_v", "peukert", "cell_ohm_ah", "worn_times",
    "cold_doubles_k",
)  # fmt: skip


class Hours(NamedTuple):
    """How long N cases are on the air, and on what (`hours_of`).

    Attributes
    ----------
    load_w : average load
    energy_wh : that the bank gives at that load
    hours : on the worst of the leads that may feed it
    limited_by : what ends them
    recharge_w : what sun and chargers spare the bank, on average
    short_wh : what another battery would have to add until the shift ends
    stop_v : volts of the battery at which the radio stops
    """

    load_w: Floats
    energy_wh: Floats
    hours: Floats
    limited_by: npt.NDArray[np.object_]
    recharge_w: Floats
    short_wh: Floats
    stop_v: Floats
    is_least: npt.NDArray[np.bool_]
    """Whether there is another battery beside, of which nobody knows what it adds."""
    has_battery: npt.NDArray[np.bool_]
    """Whether a battery feeds it, even one of unknown figures or without capacity."""
    most_h: Floats
    """Hours on the best of the leads that may feed it, where these are asked (`on_any_lead`); the others are on the worst."""
    hangs_on_lead: npt.NDArray[np.bool_]
    """Whether they are enough on the best of these leads, and too few on the worst."""

    @property
    def told_h(self) -> Floats:
        """The hours where they are enough for certain or nothing is left out, else NaN."""
        return np.where((self.is_least | self.hangs_on_lead) & (self.short_wh > 0), np.nan, self.hours)

    @property
    def told_end(self) -> npt.NDArray[np.object_]:
        """What ends these."""
        end = np.where(
            self.hangs_on_lead & (self.short_wh > 0), f"nobody tells {WHICH_LEAD}", self.limited_by
        )
        return np.where(self.is_least & (self.short_wh > 0), UNTOLD, end)


def named(limited_by: npt.NDArray[np.object_], cases: Columns) -> npt.NDArray[np.object_]:
    """What ends the hours of N cases, with the batteries named of which nobody tells whether they are joined to the radio.

    Parameters
    ----------
    cases : open_items and has_apart of supply
    """
    said = limited_by.copy()
    said[(said == NONE) & np.asarray(cases["has_apart"], bool)] = APART
    items = np.asarray(cases["open_items"], object)
    for row in np.flatnonzero(said == UNTOLD):
        if isinstance(items[row], str):
            said[row] = f"nobody tells {joined_to_radio(items[row])}"
    return said


def joined_to_radio(items: str) -> str:
    """What is asked of things by name, of which it is not known whether they are joined to the radio."""
    return f"whether anything joins {items} to the radio"


def taken_for_granted(policy: Policy) -> recharge.Taken:
    """The settings of a policy that what charges a bank at its post hangs on."""
    return recharge.Taken(*(float(policy.facts[name]) for name in recharge.Taken._fields))


def read_once(feed: Columns) -> dict[str, npt.NDArray[Any]]:
    """What is read of the fact feed for hours that nothing adds to, as arrays that several runs share."""
    read = {name: np.asarray(feed[name]) for name in ("supply_id", "item_id")}
    read |= {"chemistry": each_word(feed["chemistry"], cells.places)}
    read |= {name: floats(feed[name]) for name in OF_FEED}
    order = np.lexsort((read["item_id"], read["supply_id"]))  # which is quicker to join, each time
    return {name: values[order] for name, values in read.items()}


def hours_of(cases: Columns, feed: Columns, taken: recharge.Taken | None) -> Hours:
    """Hours on the air of N cases: on their own as charged today, or at a post, from full, with what charges them there.

    At a post the bank is stepped through the hours from the start of the shift (`rules.facts.recharge`). recharge_w: what
    sun and chargers spare the bank, on average until the shift ends or the bank is empty; short_wh: what a battery that is
    not charged would have to add until the shift ends; limited_by: what stops the radio,
    `nothing` where what is put in carries it past LONGEST_H.

    Parameters
    ----------
    cases : columns as `uncharged` and, at a post, `recharge.put_in` read
    taken : what the policy takes for granted, at a post; None on their own
    """
    run, used = uncharged(cases, feed, taken is not None)
    return run if taken is None else charged_at_post(cases, feed, run, used, taken)[0]


def uncharged(cases: Columns, feed: Columns, is_fresh: bool) -> tuple[Hours, recharge.Used]:
    """Hours on the air of N cases that nothing charges meanwhile: columns of supply, duty shares, mode_factor and temperature_c.

    - Batteries are used one after another, each piece from full (or, unless `is_fresh`, from what self-discharge has left since its
      charge date) until it is empty or the radio drops out on transmit; the hours add up.
    - In the pauses of speech the transmitter draws what the receiver does.
    - Of several ways from a battery to the radio the one counts on which it lasts longest, of equals the one without a
      converter. Through a converter it gives the current of its nominal volts, losses included, and accessories hang on the lower
      of the two voltages.
    - The battery that lasts longest, of equals that which holds most, tells the voltage, what stops it and at which volts.
    - No battery is 0 h, and so is one that was measured at no capacity.
    - A battery of unknown figures beside others that are known is left out (is_least). Else hours that hang on a value not known
      are NaN, and what ends them says whether it was not told or nobody has published it for that cold.
    """
    case, fed = join(*(np.asarray(ids["supply_id"]) for ids in (cases, feed)))
    n_cases = len(cases["supply_id"])
    of_case = {name: floats(cases[name]) for name in OF_CASE}
    talk = of_case["tx_share"] * of_case["mode_factor"]
    of_case |= {"talk": talk, "quiet": of_case["rx_share"] + of_case["tx_share"] - talk}
    n = {name: values[case] for name, values in of_case.items()}
    n |= {name: floats(feed[name])[fed] for name in OF_FEED}
    chemistry = cells.places(np.asarray(feed["chemistry"]))[fed]
    charge = np.ones(len(fed)) if is_fresh else np.nan_to_num(n["charge_left_share"], nan=1.0)
    is_dead = n["piece_ah"] == 0
    piece_ah, charge = np.where(is_dead, 1.0, n["piece_ah"]), np.where(is_dead, 0.0, charge)
    accessory_a = np.minimum(n["gain"], 1.0) * n["accessory_a"]
    tx_a, rx_a, idle_a = (n["gain"] * n[state] + accessory_a for state in ("amps_tx", "amps_rx", "amps_idle"))
    run = discharge.simulate(
        piece_ah, chemistry, n["temperature_c"], charge,
        inside_ohm(chemistry, piece_ah, n), n["path_ohm"],
        tx_a, rx_a, idle_a,
        n["talk"], n["quiet"], n["idle_share"], n["stop_v"], LONGEST_H, n["nominal_v"],
        1.0 - n["usable_share"], n["peukert"],
    )  # fmt: skip
    each_h = np.where(is_dead, 0.0, run.hours_h)
    doubt = 2 * np.isnan(n["piece_ah"]) + (n["gain"] != 1)
    best = _best(case, np.asarray(feed["item_id"])[fed], each_h, doubt)
    case, fed, charge, each_h = case[best], fed[best], charge[best], each_h[best]
    quantity, piece_ah, usable_share, nominal_v, each_stop_v, each_gain = (
        n[name][best] for name in ("quantity", "piece_ah", "usable_share", "nominal_v", "stop_v", "gain")
    )
    hours = each_h * quantity
    is_known = ~np.isnan(hours)
    is_least = (
        np.bincount(case[is_known], minlength=n_cases) * np.bincount(case[~is_known], minlength=n_cases) > 0
    )
    hours = np.where(~is_known & is_least[case], 0.0, hours)
    energy_wh = piece_ah * quantity * nominal_v * np.maximum(charge - (1.0 - usable_share), 0.0)
    total_h, total_wh = (
        np.bincount(case, weights=each, minlength=n_cases).astype(np.float64)
        for each in (hours, np.nan_to_num(energy_wh))
    )
    by_hours = np.lexsort((np.nan_to_num(energy_wh), np.nan_to_num(hours, nan=-1.0), case))
    has_battery = np.bincount(case, minlength=n_cases) > 0
    longest = by_hours[np.searchsorted(case, np.flatnonzero(has_battery), side="right") - 1]
    volts, stop_v, gain = np.full(n_cases, np.nan), np.full(n_cases, np.nan), np.ones(n_cases)
    limit = np.full(n_cases, NONE, dtype=object)
    volts[has_battery], stop_v[has_battery] = nominal_v[longest], each_stop_v[longest]
    gain[has_battery] = each_gain[longest]
    limit[has_battery] = np.where(is_dead[best[longest]], DEAD, run.limit[best[longest]])
    for word, said in STOPPED_BY.items():
        limit[limit == word] = said
    load_a = of_case["amps_tx"] * talk + of_case["amps_rx"] * of_case["quiet"]
    load_a += of_case["amps_idle"] * of_case["idle_share"]
    load_a = gain * load_a + np.minimum(gain, 1.0) * of_case["accessory_a"]
    load_w = load_a * np.nan_to_num(volts, nan=BUS_V)
    is_open = np.isnan(total_h)
    pairs = np.flatnonzero(is_open[case])
    told = sum(values[best[pairs]] for name, values in n.items() if name != "charge_left_share")
    is_untold = np.bincount(case[pairs], weights=np.isnan(told), minlength=n_cases) > 0
    limit[is_open] = np.where(is_untold[is_open], UNTOLD, TOO_COLD)
    until_h = np.minimum(total_h, LONGEST_H)
    short_wh = np.maximum(floats(cases["need_h"]) - until_h, 0.0) * load_w
    whole = Hours(
        load_w, total_wh, until_h, limit, np.zeros(n_cases), short_wh, stop_v, is_least,
        has_battery, most_h=until_h, hangs_on_lead=np.zeros(n_cases, bool),
    )  # fmt: skip
    return whole, recharge.Used(case, fed, hours, total_h)


def charged_at_post(
    cases: Columns, feed: Columns, run: Hours, used: recharge.Used, taken: recharge.Taken
) -> tuple[Hours, recharge.PutIn]:
    """The hours of `uncharged` with what charges the bank at its post, and what that is."""
    put = recharge.put_in(cases, feed, used, taken)
    hours, limited_by, short_wh = run.hours.copy(), run.limited_by.copy(), run.short_wh.copy()
    recharge_w = np.zeros(len(hours))
    before_h = floats(cases["before_h"])
    own_h = floats(cases["need_h"]) - before_h
    for rows, step_h, charged in recharge.recharged(cases, used.full_h, run.load_w, put, LONGEST_H):
        hours[rows] = np.minimum(before_h[rows] + charged.hours_h, LONGEST_H)
        limited_by[rows[charged.hours_h >= LONGEST_H]] = "nothing"
        until_h = np.minimum(own_h[rows], charged.hours_h)
        spared_h = recharge.left_at(until_h, step_h, charged.left_h) + until_h - charged.left_h[0]
        short_wh[rows] = charged.short_h * run.load_w[rows]
        recharge_w[rows] = run.load_w[rows] * spared_h / until_h
    return run._replace(
        hours=hours, limited_by=limited_by, recharge_w=recharge_w, short_wh=short_wh, most_h=hours
    ), put


def on_any_lead(
    run: Hours, cases: Columns, feed: Columns, taken: recharge.Taken | None, is_asked: npt.NDArray[np.bool_]
) -> Hours:
    """The hours of N cases with those on the best of the leads that may feed each, where that is asked and there are several."""
    least_ohm = floats(cases["path_least_ohm"])
    rows = np.flatnonzero(is_asked & (least_ohm < floats(cases["path_ohm"])))
    if not len(rows):
        return run
    best = hours_of(_some(cases, rows, taken) | {"path_ohm": least_ohm[rows]}, feed, taken)
    most_h, hangs_on_lead = run.most_h.copy(), run.hangs_on_lead.copy()
    most_h[rows], hangs_on_lead[rows] = best.hours, (run.short_wh[rows] > 0) & (best.short_wh == 0)
    return run._replace(most_h=most_h, hangs_on_lead=hangs_on_lead)


def _best(
    case: npt.NDArray[np.intp], item_id: npt.NDArray[Any], hours: Floats, doubt: npt.NDArray[np.int64]
) -> npt.NDArray[np.intp]:
    """Places of the pairs of case and battery with the most hours (what is not known is least), by case and battery.

    Of ways with as many that counts of which there is least doubt.
    """
    pair = (case.astype(np.int64) << 32) | item_id
    order: npt.NDArray[np.intp] = np.argsort(pair, kind="stable")
    is_first, is_last = np.diff(pair[order], prepend=-1) != 0, np.diff(pair[order], append=-1) != 0
    several = np.flatnonzero(~(is_first & is_last))
    ways = order[several]
    order[several] = ways[np.lexsort((-doubt[ways], np.nan_to_num(hours[ways], nan=-1.0), pair[ways]))]
    longest: npt.NDArray[np.intp] = order[is_last]
    return longest


def inside_ohm(chemistry: Names, piece_ah: Floats, n: Mapping[Any, Floats]) -> Floats:
    """Internal resistance (ohm) of one piece of each battery as old and as cold as it is.

    Parameters
    ----------
    n : nominal_v, cell_ohm_ah, temperature_c, worn_times and cold_doubles_k, by name
    """
    ohm = cells.internal_resistance_ohm(
        chemistry, piece_ah, n["nominal_v"], n["cell_ohm_ah"], n["temperature_c"], n["cold_doubles_k"]
    )
    return np.asarray(n["worn_times"] * ohm)


def at_low_power(
    cases: Columns, feed: Columns, taken: recharge.Taken | None, is_asked: npt.NDArray[np.bool_]
) -> Floats:
    """Hours of the same N cases with the radio at its low power, NaN where not asked or where its current there is not told.

    Worked out anew: low power saves less current than the watts say, a battery gives more at less current, and the
    voltage sags less. Right as far as `discharge.simulate` is, for a radio that draws what was told at that setting.
    """
    amps = floats(cases["amps_tx_low"])
    rows = np.flatnonzero(is_asked & ~np.isnan(amps))
    hours = np.full(len(amps), np.nan)
    if len(rows):
        some = _some(cases, rows, taken) | {"amps_tx": amps[rows]}
        hours[rows] = hours_of(some, feed, taken).hours
    return hours


def ranged(run: Hours, cases: Columns, policy: Policy) -> dict[str, npt.NDArray[Any]]:
    """The low and high ends: each assumed side of the budget, load and bank, widens the range by the policy's share.

    A battery of which nobody knows what it adds counts in the high end alone, and for any hours; the best of the leads that may
    feed the radio counts there alone, too.
    """
    share = float(policy.facts["range_share"])
    widths = sum(floats(cases[name]) for name in OF_WIDTH)
    return {
        "runtime_low_h": run.hours * (1 - share) ** widths,
        "runtime_high_h": np.where(
            run.is_least, LONGEST_H, np.minimum(run.most_h * (1 + share) ** widths, LONGEST_H)
        ),
        "how": np.where((widths > 0) | run.is_least | (run.most_h > run.hours), "assumed", "told"),
    }


def widened(
    cases: Columns,
    ends: tuple[Floats, Floats],
    feed: Columns,
    taken: recharge.Taken | None,
    policy: Policy,
    is_any_air: npt.NDArray[np.bool_],
    has_sun: npt.NDArray[np.bool_],
) -> tuple[Floats, Floats]:
    """The low and high ends of the hours of N cases widened to those of other weather; on a warm and clear day on the best lead.

    Parameters
    ----------
    ends : low and high ends on the day for which the cases are worked out
    is_any_air : cases that are to span a cold and a warm day
    has_sun : cases that are to span days of rain and a clear sky
    """
    either, both = is_any_air | has_sun, is_any_air & has_sun
    days = (
        ("warm_day_c", "bright_share", either),
        ("cold_day_c", "dull_share", either),
        ("cold_day_c", "bright_share", both),
        ("warm_day_c", "dull_share", both),
    )
    times = [np.count_nonzero(asked) for *_, asked in days]
    rows = np.concatenate([np.flatnonzero(asked) for *_, asked in days])
    air_c = np.repeat([float(policy.facts[air]) for air, _, _ in days], times)
    sun_share = np.repeat([float(policy.facts[sky]) for _, sky, _ in days], times)
    some = _some(cases, rows, taken)
    some["path_ohm"] = np.where(np.arange(len(rows)) < times[0], some["path_least_ohm"], some["path_ohm"])
    is_any_air, has_sun = is_any_air[rows], has_sun[rows]
    some["temperature_c"] = np.where(is_any_air, air_c, some["temperature_c"])
    if taken is not None:
        some["warmest_c"] = np.where(is_any_air, np.nan, some["warmest_c"])
        some["sun_share"] = np.where(has_sun, sun_share, some["sun_share"])
    other = ranged(hours_of(some, feed, taken), some, policy)
    low_h, high_h = ends[0].copy(), ends[1].copy()
    np.fmin.at(low_h, rows, other["runtime_low_h"])
    np.fmax.at(high_h, rows, other["runtime_high_h"])
    return low_h, high_h


def _some(
    cases: Columns, rows: npt.NDArray[np.intp], taken: recharge.Taken | None
) -> dict[str, npt.NDArray[Any]]:
    """Of some cases, which may come several times, what hours and ranges are worked out from."""
    read = {
        "supply_id",
        "need_h",
        "path_least_ohm",
        *OF_CASE,
        *OF_WIDTH,
        *(() if taken is None else recharge.OF_CASE),
    }
    return {name: np.asarray(cases[name])[rows] for name in sorted(read)}


def left_by_hour(case: pd.DataFrame, feed: pd.DataFrame, policy: Policy) -> tuple[Floats, Floats] | None:
    """Hours since the start of a shift, and what is left then in the bank of `bank_at_post` (h of load); None where nothing charges it."""
    run, used = uncharged(case, feed, True)
    taken = taken_for_granted(policy)
    put = recharge.put_in(case, feed, used, taken)
    for rows, step_h, charged in recharge.recharged(case, used.full_h, run.load_w, put, LONGEST_H):
        if len(rows):
            return step_h * np.arange(len(charged.left_h), dtype=np.float64), charged.left_h[:, 0]
    return None
