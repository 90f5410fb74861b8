"""After an event: what was measured against what was predicted, and what the duty really was."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import tomlkit

from rules.engine import Assessment
from rules.facts.runtime import bank_at_post
from rules.on_air import LONGEST_H
from rules.physics import battery
from rules.physics.discharge import RATE_H

Floats = npt.NDArray[np.float64]
HIGHEST_A = 500.0
"""No station draws more on average; the upper end of the search."""


# --- physics: from the charge that is left to the duty ---


@dataclass(frozen=True)
class Pieces:
    """Batteries that feed one radio, one after another; one element for each sort.

    Attributes
    ----------
    capacity_ah : of one piece, rated at 20 h, age counted
    cold_share : of it that the temperature of the event leaves, 1
    exponent : Peukert's, 1
    quantity : pieces alike
    gain : A from the battery for one into the radio, 1; not 1 through a converter
    """

    capacity_ah: Floats
    cold_share: Floats
    exponent: Floats
    quantity: Floats
    gain: Floats | float = 1.0


def full_hours_h(pieces: Pieces, current_a: float, capacity_factor: float = 1.0) -> float:
    """Hours (h) until every piece is quite empty at a steady average current; no reserve, no drop-out. Above 0 A.

    The capacity in force is that of `discharge.simulate`: C x cold x (C / (20 I))^(k - 1), the last never above 1.

    Source: Peukert's law, hour-rating form.
    """
    capacity = pieces.capacity_ah * capacity_factor
    from_battery_a = pieces.gain * current_a
    rate = np.minimum(1.0, (capacity / (RATE_H * from_battery_a)) ** (pieces.exponent - 1.0))
    return float(np.sum(pieces.quantity * capacity * pieces.cold_share * rate / from_battery_a))


def used_share(
    pieces: Pieces, current_a: float, hours: float, put_in_a: float = 0.0, capacity_factor: float = 1.0
) -> float:
    """Share of a full charge that `hours` at an average current take, what sun and chargers put in taken off; 0 or more."""
    return hours * max(0.0, 1.0 - put_in_a / current_a) / full_hours_h(pieces, current_a, capacity_factor)


def measured_current_a(
    pieces: Pieces, used: float, hours: float, put_in_a: float = 0.0, capacity_factor: float = 1.0
) -> float:
    """Average current (A) that took a share of a full charge in so many hours: `used_share` turned round.

    The share grows with the current, so halving finds it. Nothing used, or no hours: 0 A or infinite.

    Parameters
    ----------
    used : 0 to 1
    hours : above 0
    put_in_a : what sun and chargers spare the bank, on average
    capacity_factor : what to scale the batteries by
    """
    if used <= 0:
        return 0.0
    low, high = 1e-5, HIGHEST_A
    for _ in range(80):
        middle = float(np.sqrt(low * high))
        if used_share(pieces, middle, hours, put_in_a, capacity_factor) < used:
            low = middle
        else:
            high = middle
    return float(np.sqrt(low * high))


@dataclass(frozen=True)
class Draw:
    """What a station draws: A in each state and beside it, the mode's average over peak, and how it waits.

    Attributes
    ----------
    listen_share : of the time not transmitting, the share spent receiving with audio
    """

    tx_a: float
    rx_a: float
    idle_a: float
    beside_a: float
    mode_factor: float
    listen_share: float

    def current_a(self, tx_share: float) -> float:
        """Average current (A) at a share of time on transmit; in the pauses of speech it draws what receiving does."""
        return tx_share * self._on_a + (1.0 - tx_share) * self._off_a

    def tx_share(self, current_a: float, factor: float = 1.0) -> float:
        """Share of time on transmit at an average current, all currents times a factor; below 0 or above 1 where none fits.

        NaN where transmitting draws no more than waiting.
        """
        swing = self._on_a - self._off_a
        return (current_a / factor - self._off_a) / swing if swing > 0 else float("nan")

    @property
    def _on_a(self) -> float:
        return self.mode_factor * self.tx_a + (1.0 - self.mode_factor) * self.rx_a + self.beside_a

    @property
    def _off_a(self) -> float:
        return self.listen_share * self.rx_a + (1.0 - self.listen_share) * self.idle_a + self.beside_a


# --- what was told, against what was predicted ---

STATIONS = """
    select r.event, r.post, k.member, k.kit, r.date, r.hours_on_battery as hours, r.battery_left_share as left_share,
        r.trips_back, r.missing, r.faulty, p.post_id is not null as has_post, p.duty, p.tx_share as planned_share, p.rx_share,
        p.idle_share, t.need_h, t.runtime_h as predicted_h, t.runtime_low_h as predicted_low_h,
        t.runtime_high_h as predicted_high_h, t.load_w, t.recharge_w, s.supply_id, t.amps_tx, s.amps_rx, s.amps_idle,
        s.accessory_a, pk.post_kit_id, h.radios > 1 and (p.radios > 1 or p.bands like '% %') as may_be_several,
        t.is_load_assumed, s.is_bank_assumed, coalesce(e.temp_min_c, $warm) as temperature_c,
        coalesce(m.mode_factor, 1) as mode_factor, c.kit_id is not null as has_come_on,
        if(c.kit_id is null, 1, b.battery_left_share) as begins_share,
        (select bool_or(not i.is_usable) from item as i where i.kit_id = r.kit_id and i.role in ('radio', 'source', 'pack')
            and list_contains(string_split(r.faulty || '; ' || r.missing, '; '), i.item)) as is_changed_since
    from (
        select * replace (coalesce(faulty, '') as faulty, coalesce(missing, '') as missing) from rehearsal
        where stage = 'event' and event is not null and post is not null
    ) as r
    join kit as k on k.kit_id = r.kit_id
    left join post as p on p.event = r.event and p.post = r.post
    left join event as e on e.event_id = p.event_id
    left join post_talk as m on m.post_id = p.post_id
    left join post_kit as pk on pk.post_id = p.post_id and pk.kit_id = r.kit_id
    left join runtime as t on t.post_kit_id = pk.post_kit_id
    left join supply as s on s.kit_id = r.kit_id and s.radio_item_id = t.radio_item_id
    left join holding as h on h.kit_id = r.kit_id
    left join (
        select post_id, kit_id, lag(post_id) over by_start as from_post_id from post_kit where is_assigned
        window by_start as (partition by kit_id order by starts, post_id)
        qualify starts < lag(ends) over by_start + to_minutes(cast(60 * $home_h as integer))
    ) as c on c.post_id = pk.post_id and c.kit_id = pk.kit_id
    left join post as q on q.post_id = c.from_post_id
    left join (
        select kit_id, event, post, date, min(battery_left_share) as battery_left_share from rehearsal
        where stage = 'event' group by all
    ) as b on b.kit_id = r.kit_id and b.event = q.event and b.post = q.post and b.date = r.date
    order by r.event, r.date desc, r.post, k.member, k.kit
"""
TOLD = (
    "event", "post", "member", "kit", "date", "duty", "hours", "left_share", "trips_back", "missing", "faulty", "need_h",
    "predicted_h", "predicted_low_h", "predicted_high_h", "predicted_left_share", "planned_share",
)  # fmt: skip
FOUND = (
    "lasts_h", "lasts_low_h", "lasts_high_h", "average_a", "average_low_a", "average_high_a", "measured_share",
    "measured_low_share", "measured_high_share", "reading", "why",
)  # fmt: skip


def observations(assessment: Assessment, event: str | None = None) -> pd.DataFrame:
    """What kits did at events, beside what is predicted of them at the same post.

    The average current follows from the charge that was left: full at the start, or with what was left at the
    post that it came on from with less than a night between, at the event's coldest, the sun's and chargers'
    average taken off, and the batteries as they are listed today. From it follows the share of time on
    transmit, the rest of the time listening and waiting as the duty profile has it. Of several radios that a
    kit has on at once the one counts whose hours are predicted, with the batteries that are its own and what
    else draws from these. Ranges: the gauge may be off by the policy's gauge_share either way, and each side of
    the budget that is only assumed by its range_share. What a kit would last scales the predicted hours by how
    long its batteries run at either current.

    Parameters
    ----------
    event : only what was told of it, earlier editions of the same name included; None for all

    Returns
    -------
    DataFrame
        TOLD and FOUND; reading is `measured`, `at most` (no charge left told: it drew no more than this) or
        `not known`, with why.
    """
    facts = assessment.policy.facts
    rows = assessment.frame(STATIONS, {"warm": facts["assumed_temperature_c"], "home_h": facts["home_h"]})
    if event is not None:
        rows = rows[rows["event"] == event].reset_index(drop=True)
    feed = assessment.table("feed")
    width, gauge = (float(facts[name]) for name in ("range_share", "gauge_share"))
    worked = []
    for row in rows.to_dict("records"):
        bank = feed[feed["supply_id"] == row["supply_id"]]
        if row["may_be_several"] is True and not _why_not(row):
            case, bank = bank_at_post(assessment.con.cursor(), assessment.policy, row["post_kit_id"])
            row |= case[["amps_tx", "amps_rx", "amps_idle", "accessory_a"]].iloc[0].to_dict()
        worked.append(_observed(row, bank, width, gauge))
    found = pd.DataFrame(worked, columns=["predicted_left_share", *FOUND], index=rows.index)
    return rows.join(found)[[*TOLD, *FOUND]]


def _observed(row: Mapping[Any, Any], feed: pd.DataFrame, width: float, gauge: float) -> dict[str, Any]:
    """What follows from one row of STATIONS and the rows of feed behind its radio."""
    unknown = {"reading": "not known"}
    if why := _why_not(row):
        return unknown | {"why": why}
    pieces = _pieces(feed, row["temperature_c"])
    if pieces is None:
        return unknown | {
            "why": "a battery's capacity or chemistry is not told, or it was colder than known of"
        }
    draw = _draw(row)
    planned_a = draw.current_a(row["planned_share"])
    put_in_a = row["recharge_w"] * planned_a / row["load_w"] if row["load_w"] > 0 else 0.0
    bank, load = width * bool(row["is_bank_assumed"]), width * bool(row["is_load_assumed"])
    found: dict[str, Any] = {"reading": "measured", "why": ""}
    full = row["begins_share"]
    found["predicted_left_share"] = max(0.0, full - used_share(pieces, planned_a, row["hours"], put_in_a))
    if pd.isna(row["left_share"]):
        used = (float("nan"), 0.0, full)
        found |= {"reading": "at most", "why": "nobody wrote what was left in the battery"}
    else:
        share = full - row["left_share"]
        if row["has_come_on"]:
            gauge *= 2  # it was read before and after
        used = (share, max(0.0, share - gauge), min(1.0, share + gauge))
    low_a = measured_current_a(pieces, used[1], row["hours"], put_in_a, 1.0 - bank)
    high_a = measured_current_a(pieces, used[2], row["hours"], put_in_a, 1.0 + bank)
    found |= {"average_low_a": low_a, "average_high_a": high_a}
    low, high = draw.tx_share(low_a, 1.0 + load), draw.tx_share(high_a, 1.0 - load)
    found |= {"measured_low_share": _within(low), "measured_high_share": _within(high)}
    lasts = _lasting(pieces, planned_a, put_in_a, row["predicted_h"])
    found |= {"lasts_low_h": lasts(high_a, 1.0 - bank), "lasts_high_h": lasts(low_a, 1.0 + bank)}
    if found["reading"] == "measured":
        average_a = measured_current_a(pieces, used[0], row["hours"], put_in_a)
        share = draw.tx_share(average_a)
        found |= {"average_a": average_a, "measured_share": _within(share), "lasts_h": lasts(average_a, 1.0)}
        if low > 1.0 or high < 0.0 or np.isnan(share):
            found["reading"] = "not known"
            found["why"] = (
                "no share of time on transmit explains it: the battery or the currents are not as listed"
            )
    return found


def _why_not(row: Mapping[Any, Any]) -> str:
    """Why nothing follows from a row, "" where something does."""
    if not row["has_post"]:
        return "no file names this post of the event any more"
    if pd.isna(row["hours"]) or row["hours"] <= 0:
        return "nobody wrote how long it ran on battery"
    if row["is_changed_since"] is True:
        return "a radio or battery of it has failed or gone since"
    if pd.isna(row["supply_id"]) or pd.isna(row["predicted_h"]):
        return "its hours at this post cannot be predicted from what is listed"
    if pd.isna(row["begins_share"]):
        return "it came on from another post, and nobody wrote what was left in the battery there"
    if row["left_share"] > row["begins_share"]:
        return "more was left than at the post before: it was charged in between"
    currents = ("amps_tx", "amps_rx", "amps_idle", "planned_share", "load_w")
    if any(pd.isna(row[name]) for name in currents):
        return "what it draws is not told"
    return ""


def _pieces(feed: pd.DataFrame, temperature_c: float) -> Pieces | None:
    if feed.empty:
        return None
    feed = feed.sort_values("is_converted").drop_duplicates("item_id")  # which way was taken nobody tells
    chemistry = feed["chemistry"].to_numpy(str)
    cold = battery.temperature_factor(chemistry, temperature_c)
    capacity = feed["piece_ah"].to_numpy(float)
    if np.isnan(capacity * cold).any():
        return None
    return Pieces(
        capacity,
        cold,
        feed["peukert"].to_numpy(float),
        feed["quantity"].to_numpy(float),
        feed["gain"].to_numpy(float),
    )


def _draw(row: Mapping[Any, Any]) -> Draw:
    off = row["rx_share"] + row["idle_share"]
    listen = row["rx_share"] / off if off > 0 else 0.0
    return Draw(
        row["amps_tx"], row["amps_rx"], row["amps_idle"], row["accessory_a"], row["mode_factor"], listen
    )


def _lasting(
    pieces: Pieces, planned_a: float, put_in_a: float, predicted_h: float
) -> Callable[[float, float], float]:
    """How long a kit would last at another current, from what is predicted at the planned one."""

    def hours(current_a: float, capacity_factor: float) -> float:
        if predicted_h >= LONGEST_H or put_in_a >= planned_a:  # the bank alone does not set the hours
            return float("nan")
        if current_a <= put_in_a or current_a <= 0:
            return LONGEST_H
        share = used_share(pieces, planned_a, 1.0, put_in_a) / used_share(
            pieces, current_a, 1.0, put_in_a, capacity_factor
        )
        return float(min(LONGEST_H, predicted_h * share))

    return hours


def _within(share: float) -> float:
    return float(np.clip(share, 0.0, 1.0))


# --- a corrected duty profile ---


@dataclass(frozen=True)
class Correction:
    """A duty profile as it was measured.

    Attributes
    ----------
    stations : how many measured stations it rests on
    was : share of time on transmit in the profile
    tx_share, rx_share, idle_share : together 1; the share on transmit is the middle of the stations
    low, high : the middle of the stations' lowest and highest shares on transmit
    least : stations that must be measured before it is changed for all
    """

    duty: str
    stations: int
    was: float
    tx_share: float
    rx_share: float
    idle_share: float
    low: float
    high: float
    least: float

    @property
    def is_enough(self) -> bool:
        """Whether enough stations were measured."""
        return self.stations >= self.least

    @property
    def is_off(self) -> bool:
        """Whether the profile lies outside what was measured."""
        return not self.low <= self.was <= self.high

    @property
    def reason(self) -> str:
        """Why a policy would take it over."""
        return (
            f"Measured at {self.stations} station{'' if self.stations == 1 else 's'}: on transmit {self.tx_share:.1%} of the time "
            f"({self.low:.1%} to {self.high:.1%}); the profile “{self.duty}” said {self.was:.1%}."
        )


def corrections(assessment: Assessment, found: pd.DataFrame) -> list[Correction]:
    """The duty profiles that measured stations speak of; `found` as `observations` returns it."""
    measured = found[found["reading"] == "measured"].dropna(subset=["measured_share"])
    shares = {row["duty"]: row for row in assessment.table("duty").to_dict("records")}
    said, least = [], float(assessment.policy.facts["least_stations"])
    for duty, rows in measured.groupby("duty"):
        profile = shares[duty]
        off = profile["rx_share"] + profile["idle_share"]
        tx = round(float(rows["measured_share"].median()), 3)
        rx = round((1.0 - tx) * profile["rx_share"] / off, 3) if off > 0 else 0.0
        low, high = (float(rows[name].median()) for name in ("measured_low_share", "measured_high_share"))
        idle = round(1.0 - tx - rx, 3)
        said.append(
            Correction(str(duty), len(rows), float(profile["tx_share"]), tx, rx, idle, low, high, least)
        )
    return said


def with_duty(policy_text: str, correction: Correction) -> str:
    """The text of a policy with the profile as measured; everything else in it, comments too, stays.

    Raises
    ------
    tomlkit.exceptions.ParseError
        The text is no TOML.
    """
    told = tomlkit.parse(policy_text)
    duty = told.setdefault("duty", tomlkit.table(is_super_table=True))
    duty[correction.duty] = {
        "tx_share": correction.tx_share,
        "rx_share": correction.rx_share,
        "idle_share": correction.idle_share,
    }
    return tomlkit.dumps(told)
