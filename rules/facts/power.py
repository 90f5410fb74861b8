"""Time on the air: the bank behind each radio, and how long it lasts."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd

from rules.physics import battery as cells
from rules.physics import discharge, sun
from rules.policy import Policy

CONTACT_OHM = 0.002
"""One pair of DC contacts in good order, planning figure; common practice."""
FUSE_OHM = 0.003
"""One blade fuse with its holder, planning figure; common practice."""
LEAD_OHM = 0.016
"""A radio's usual lead where none is listed: 3 m of 12 AWG out and back at 20 C, half shared; common practice."""
LONGEST_H = 240.0
"""Hours beyond which nobody asks."""

Floats = npt.NDArray[np.float64]


def battery(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pd.DataFrame]:
    """Each store of energy that works: rated and usable capacity (Ah, Wh), age, days since charged.

    Measured capacity counts before the rating. A battery not measured within the policy's years is taken at the
    policy's age factor once it is as old; one without a date of purchase is taken as new, and marked assumed.
    """
    frame = con.execute(
        """
        select i.item_id, i.kit_id, i.chemistry, i.role = 'pack' as is_pack,
            i.capacity_ah * i.quantity as rated_ah, i.tested_ah * i.quantity as measured_ah,
            date_diff('day', i.acquired, $today) / 365.25 as age_years,
            date_diff('day', i.tested, $today) / 365.25 as tested_years,
            cast(date_diff('day', i.charged, $today) as double) as charged_days, c.charge_days as charge_limit_days,
            c.usable_share, (i.volts_min + i.volts_max) / 2 as middle_v,
            i.capacity_ah_is_assumed or i.chemistry_is_assumed as is_assumed
        from item as i left join chemistry as c using (chemistry)
        where i.is_usable and i.role in ('source', 'pack') and i.chemistry is not null
        """,
        {"today": today},
    ).df()
    stale = policy.facts["untested_after_years"]
    is_fresh = (frame["tested_years"] < stale) & frame["measured_ah"].notna()
    is_old = (frame["age_years"] >= stale) & ~is_fresh
    frame["age_factor"] = np.where(is_old, policy.facts["age_factor"], 1.0)
    base = frame["measured_ah"].where(is_fresh, frame["rated_ah"])
    frame["usable_ah"] = base * frame["age_factor"] * frame["usable_share"]
    frame["usable_wh"] = frame["usable_ah"] * frame["middle_v"]
    frame["measured_share"] = frame["measured_ah"] / frame["rated_ah"]
    left = np.full(len(frame), np.nan)
    dated = (frame["charged_days"] >= 0).to_numpy()
    if dated.any():
        chemistry = frame.loc[dated, "chemistry"].to_numpy(str)
        left[dated] = cells.self_discharge_remaining(
            chemistry, frame.loc[dated, "charged_days"].to_numpy(float)
        )
    frame["charge_left_share"] = left
    frame["how"] = np.select([is_fresh, frame["is_assumed"]], ["measured", "assumed"], "told")
    kept = [
        "item_id", "kit_id", "chemistry", "is_pack", "rated_ah", "usable_ah", "usable_wh", "age_years", "charged_days",
        "charge_limit_days", "charge_left_share", "measured_share", "age_factor", "how",
    ]  # fmt: skip
    return {"battery": frame[kept]}


def supply(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pd.DataFrame]:
    """Each radio that works, with the bank that could feed it: every battery of the kit whose voltage fits.

    A handheld is fed by its kit's packs; other radios by the batteries whose range overlaps the radio's (a range not
    told is taken to fit). Batteries of one kit are used one after another, so capacities add up. The main radio of a
    kit is the first that is no spare and no handheld, else the first. The bank's chemistry is that of its largest part.
    """
    return {
        "supply": con.execute(
            """
            with radio as (
                select i.*, kind = 'handheld' as is_handheld,
                    row_number() over (partition by kit_id order by is_spare, kind = 'handheld', line) = 1 as is_main
                from item as i where role = 'radio' and is_usable
            ), fed as (
                select r.item_id as radio_item_id, sum(b.rated_ah * b.age_factor * least(1, coalesce(b.measured_share, 1))) as bank_ah,
                    sum(b.usable_wh) as bank_wh, arg_max(b.chemistry, coalesce(b.rated_ah, 0)) as chemistry,
                    arg_max((s.volts_min + s.volts_max) / 2, coalesce(b.rated_ah, 0)) as nominal_v,
                    sum(c.usable_share * b.rated_ah) / sum(b.rated_ah) as usable_share,
                    sum(b.charge_left_share * b.rated_ah) / sum(b.rated_ah) as charge_left_share,
                    bool_and(b.rated_ah is not null) as is_bank_known, bool_or(b.how = 'assumed') as is_bank_assumed,
                    list(s.line order by s.line) as lines
                from radio as r
                join battery as b on b.kit_id = r.kit_id and b.is_pack = r.is_handheld
                join item as s on s.item_id = b.item_id
                join chemistry as c on c.chemistry = b.chemistry
                where r.is_handheld or coalesce(s.volts_max >= r.volts_min and s.volts_min <= r.volts_max, true)
                group by r.item_id
            ), led as (
                select kit_id, max(drop_v / nullif(peak_a, 0)) as path_ohm from lead group by kit_id
            ), other as (
                select kit_id, sum(amps_idle * quantity) filter (role in ('computer', 'converter') and not is_spare) as accessory_a,
                    sum(solar_watts * quantity) filter (role = 'solar') as solar_watts,
                    bool_or(role = 'source' and chemistry is null and kind <> 'generator') as has_mains_supply
                from item where is_usable group by kit_id
            )
            select row_number() over (order by r.item_id) as supply_id, r.kit_id, r.item_id as radio_item_id, r.is_main,
                r.is_handheld, r.bands, r.amps_tx, r.amps_rx, r.amps_idle,
                case when r.is_handheld then 0 else coalesce(o.accessory_a, 0) end as accessory_a, r.rf_watts,
                r.volts_min as radio_volts_min, r.volts_max as radio_volts_max,
                case when f.radio_item_id is null then 0 else f.bank_ah end as bank_ah,
                case when f.radio_item_id is null then 0 else f.bank_wh end as bank_wh, f.chemistry, f.nominal_v,
                f.usable_share, f.charge_left_share, coalesce(l.path_ohm, $lead_ohm) + 4 * $contact_ohm + $fuse_ohm as path_ohm,
                coalesce(o.has_mains_supply, false) and not r.is_handheld as has_mains_supply,
                case when r.is_handheld then 0 else coalesce(o.solar_watts, 0) end as solar_watts,
                coalesce(f.is_bank_known, true) as is_bank_known,
                r.amps_tx_is_assumed or r.amps_rx_is_assumed or r.amps_idle_is_assumed as is_load_assumed,
                coalesce(f.is_bank_assumed, false) as is_bank_assumed, list_concat([r.line], coalesce(f.lines, [])) as lines
            from radio as r
            left join fed as f on f.radio_item_id = r.item_id
            left join led as l on l.kit_id = r.kit_id
            left join other as o on o.kit_id = r.kit_id
            """,
            {"lead_ohm": LEAD_OHM, "contact_ohm": CONTACT_OHM, "fuse_ohm": FUSE_OHM},
        ).df()
    }


class _Hours(NamedTuple):
    load_w: Floats
    energy_wh: Floats
    hours: Floats
    limited_by: npt.NDArray[np.str_]


def _hours(cases: pd.DataFrame, charge: Floats, temperature_c: Floats, sun_w: Floats) -> _Hours:
    """Hours on the air of N cases (columns of supply and duty shares), from `charge` share at `temperature_c`.

    `sun_w` is the average harvest; it is taken off the average load. No bank is 0 h; a value not known is NaN.
    """
    number = {name: cases[name].to_numpy(float) for name in cases.select_dtypes("number")}
    bank = number["bank_ah"]
    is_empty = bank == 0
    chemistry = cases["chemistry"].fillna("lifepo4").to_numpy(str)
    nominal = np.where(is_empty, 12.0, number["nominal_v"])
    load_a = (
        number["amps_tx"] * number["tx_share"] + number["amps_rx"] * number["rx_share"]
        + number["amps_idle"] * number["idle_share"] + number["accessory_a"]
    )  # fmt: skip
    capacity = np.where(is_empty | np.isnan(bank), 1.0, bank)
    run = discharge.simulate(
        capacity, chemistry, temperature_c, np.where(is_empty, 1.0, charge), cells.internal_resistance_ohm(chemistry, capacity, nominal),
        np.where(cases["is_handheld"], 0.0, number["path_ohm"]),
        number["amps_tx"] + number["accessory_a"], number["amps_rx"] + number["accessory_a"],
        number["amps_idle"] + number["accessory_a"], number["tx_share"], number["rx_share"], number["idle_share"],
        number["radio_volts_min"], LONGEST_H, nominal, np.where(is_empty, 0.0, 1.0 - number["usable_share"]),
    )  # fmt: skip
    hours = np.where(is_empty, 0.0, np.where(np.isnan(bank), np.nan, run.hours_h))
    load_w = load_a * nominal
    with np.errstate(divide="ignore", invalid="ignore"):
        net = np.clip(1.0 - sun_w / load_w, 0.0, 1.0)
        hours = np.where(net > 0, np.minimum(hours / net, LONGEST_H), LONGEST_H)
    hours = np.where(np.isnan(run.hours_h) & ~is_empty, np.nan, hours)
    limited = np.where(is_empty, "no battery", np.where(np.isnan(hours), "not known", run.limit))
    limited = np.where(
        limited == "horizon", "nothing", np.where(limited == "energy", "stored energy", limited)
    )
    return _Hours(load_w, number["bank_wh"] * np.nan_to_num(charge, nan=1.0), hours, limited)


def _ranged(frame: pd.DataFrame, policy: Policy) -> pd.DataFrame:
    """Add the low and high ends: each assumed side of the budget, load and bank, widens the range by the policy's share."""
    share = float(policy.facts["range_share"])
    widths = frame["is_load_assumed"].astype(float) + frame["is_bank_assumed"].astype(float)
    frame["runtime_low_h"] = frame["runtime_h"] * (1 - share) ** widths
    frame["runtime_high_h"] = frame["runtime_h"] * (1 + share) ** widths
    frame["how"] = np.where(widths > 0, "assumed", "told")
    return frame


def kit_runtime(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pd.DataFrame]:
    """Hours on the air of each kit's main radio as it stands today, at the policy's duty profile.

    The bank holds what self-discharge has left since its charge date; without a date it is taken as full.
    """
    frame = con.execute(
        """
        select s.*, d.duty, d.tx_share, d.rx_share, d.idle_share,
            coalesce(k.hours, case when s.is_handheld then $handheld_hours else $hours end) as need_h
        from supply as s join kit as k using (kit_id), (from duty where duty = $duty) as d
        where s.is_main
        """,
        {
            "duty": policy.facts["kit_duty"],
            "hours": policy.facts["kit_hours"],
            "handheld_hours": policy.facts["handheld_hours"],
        },
    ).df()
    charge = frame["charge_left_share"].fillna(1.0).to_numpy(float)
    warm = np.full(len(frame), float(policy.facts["assumed_temperature_c"]))
    run = _hours(frame, charge, warm, np.zeros(len(frame)))
    frame["load_w"], frame["energy_wh"], frame["runtime_h"], frame["limited_by"] = run
    kept = [
        "kit_id", "duty", "load_w", "energy_wh", "runtime_h", "runtime_low_h", "runtime_high_h", "need_h", "limited_by",
        "how", "lines",
    ]  # fmt: skip
    return {"kit_runtime": _ranged(frame, policy)[kept]}


def runtime(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pd.DataFrame]:
    """Hours on the air of each kit at each post: the radio of the kit that reaches the bands and lasts longest.

    Charged the day before; at the event's lowest temperature (the policy's where none is told); the sun's average
    harvest between opening and closing counts where the kit has a panel and the event a place. Mains where the post
    has mains and the kit a supply. A kit is second where another assigned one is there for all of its hours and lasts
    longer: the post does not hang on it.
    """
    frame = con.execute(
        """
        select pk.post_kit_id, pk.need_h, pk.is_assigned, pk.starts, pk.ends, s.*, p.duty, p.tx_share, p.rx_share, p.idle_share, p.post_id,
            coalesce(e.temp_min_c, $warm) as temperature_c, coalesce(p.has_mains, false) and s.has_mains_supply as is_on_mains,
            p.bands is null or coalesce(list_has_all(string_split(s.bands, ' '), string_split(p.bands, ' ')), true) as has_band,
            e.lat, e.lon, p.opens - to_minutes(cast(60 * coalesce(e.utc_offset_h, 0) as integer)) as opens,
            p.closes - to_minutes(cast(60 * coalesce(e.utc_offset_h, 0) as integer)) as closes
        from post_kit as pk join post as p using (post_id) join event as e using (event_id)
        join supply as s on s.kit_id = pk.kit_id
        """,
        {"warm": policy.facts["assumed_temperature_c"]},
    ).df()
    sun_w = _sun_w(frame, policy)
    run = _hours(frame, np.ones(len(frame)), frame["temperature_c"].to_numpy(float), sun_w)
    frame["load_w"], frame["energy_wh"], frame["runtime_h"], frame["limited_by"] = run
    frame["solar_w"] = sun_w
    frame.loc[frame["is_on_mains"], "limited_by"] = "mains"
    frame = _ranged(frame, policy).sort_values(
        ["post_kit_id", "has_band", "is_on_mains", "runtime_h"],
        ascending=[True, False, False, False],
        na_position="last",
    )
    frame = frame.drop_duplicates("post_kit_id")
    con.register("lasting", frame)
    rows = con.execute(
        """
        select l.post_kit_id, l.radio_item_id, l.duty, l.load_w, l.energy_wh, l.solar_w, l.runtime_h, l.runtime_low_h,
            l.runtime_high_h, l.need_h, l.is_on_mains, l.limited_by, l.how, l.lines,
            l.is_assigned and exists (
                from lasting as o
                where o.is_assigned and o.post_id = l.post_id and o.post_kit_id <> l.post_kit_id
                    and o.starts <= l.starts and o.ends >= l.ends
                    and (coalesce(o.runtime_h, 0), o.is_on_mains, o.post_kit_id)
                        > (coalesce(l.runtime_h, 0), l.is_on_mains, l.post_kit_id)
            ) as is_second
        from lasting as l
        """
    ).df()
    con.unregister("lasting")
    return {"runtime": rows}


def _sun_w(frame: pd.DataFrame, policy: Policy) -> Floats:
    """Average harvest (W) of each row's panel while its post is open; 0 without a panel or a place."""
    hours = np.maximum((frame["closes"] - frame["opens"]).dt.total_seconds().to_numpy(float) / 3600.0, 1e-9)
    sunny = (frame["solar_watts"].gt(0) & frame["lat"].notna() & frame["lon"].notna()).to_numpy()
    harvest = np.zeros(len(frame))
    if sunny.any():
        here = frame[sunny]
        harvest[sunny] = sun.solar_energy_wh(
            here["lat"].to_numpy(float), here["lon"].to_numpy(float), here["opens"].to_numpy(), here["closes"].to_numpy(),
            here["solar_watts"].to_numpy(float), sky_factor=policy.facts["sun_share"],
        ) / hours[sunny]  # fmt: skip
    return harvest
