"""Time on the air: the bank behind each radio, and how long it lasts."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import cache
from typing import Any, NamedTuple

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa

from data import reference
from rules.facts import recharge, sharing
from rules.facts.select import Columns, Floats, Select, columns, floats, table
from rules.facts.station_graph import join
from rules.physics import battery as cells
from rules.physics import discharge, wire
from rules.policy import Policy

BUS_V = 12.0
"""Volts at which accessories are taken to run."""
OF_HOURS = ("load_w", "energy_wh", "runtime_h", "limited_by", "recharge_w", "short_wh")
OF_RUNTIME = (
    "post_kit_id", "radio_item_id", "duty", "amps_tx", *OF_HOURS, "runtime_low_h", "runtime_high_h", "hoped_h", "untold", "need_h", "elsewhere_h", "is_on_mains",
    "low_power_w", "low_power_h", "is_load_assumed", "how", "lines", "is_second", "ways_low", "ways_high",
)  # fmt: skip
LONGEST_H = 240.0
"""Hours beyond which nobody asks."""
PLENTY = 4.0
"""Times the hours of a shift beyond which nobody asks what low power would add; common practice plans for 1.25 times."""
RADIO = """
    radio as (
        select row_number() over (order by item_id) as supply_id, item_id, kit_id, line, bands, amps_tx, amps_rx, amps_idle,
            rf_watts, volts_min, volts_max, kind = 'handheld' as is_handheld,
            amps_tx_is_assumed or amps_rx_is_assumed or amps_idle_is_assumed as is_load_assumed,
            case when amps_tx_low is not null then least(amps_tx_low, amps_tx) end as amps_tx_low,
            case when rf_watts_low is not null then least(rf_watts_low, rf_watts) end as rf_watts_low,
            amps_tx_low is null or is_low_assumed or amps_rx_is_assumed or amps_idle_is_assumed as is_low_load_assumed,
            row_number() over (partition by kit_id order by is_spare, kind = 'handheld', line) = 1 as is_main
        from item where role = 'radio' and is_usable
    )"""
FAMILY = """case when {chemistry} in ('agm', 'gel', 'flooded') then 'lead' when {chemistry} = 'nimh_lsd' then 'nimh' else {chemistry} end"""
STOPPED_BY = {"horizon": "nothing", "energy": "stored energy"}
UNTOLD = "no figures written down for the radio or what feeds it, or a battery that may not work"
DEAD = "a battery that was measured at no capacity"
UNTOLD_THERE = (
    "whether the post has mains", "whether a vehicle stays there", "the plug of the handheld's 12 V lead", "whether the generator has fuel for all of it",
    "the place, hours from UTC or warmest of the event", "the figures of its batteries",
)  # fmt: skip
"""What decides how a bank is charged at its post, where nobody tells it."""
TOO_COLD = "colder than the figures published for its battery"
OF_CASE = (
    "amps_tx", "amps_rx", "amps_idle", "accessory_a", "tx_share", "rx_share", "idle_share", "mode_factor",
    "temperature_c", "path_ohm",
)  # fmt: skip
OF_FEED = (
    "piece_ah", "quantity", "usable_share", "nominal_v", "charge_left_share", "gain", "stop_v", "peukert", "cell_ohm_ah", "worn_times",
    "cold_doubles_k",
)  # fmt: skip
AT_POST = """
    with car as (
        select kit_id, max(amps_rated) filter (kind in ('socket_lead', 'clip_lead')) as car_lead_a,
            max(amps_rated) filter (kind = 'boost_converter') as booster_a,
            arg_max((volts_min + volts_max) / 2, amps_rated) filter (kind = 'boost_converter') as booster_v,
            max(amps_rated) filter (kind = 'inverter') as inverter_a,
            max(amps_rated * volts_min) filter (kind = 'generator') as plant_w
        from item
        where is_usable and kind in ('socket_lead', 'clip_lead', 'boost_converter', 'inverter', 'generator')
        group by kit_id
    ), eliminator as (
        select kit_id, amps_rated, unnest(case when dc_plug = 'pack_latch' then [dc_plug_far] when dc_plug_far = 'pack_latch' then [dc_plug] else [dc_plug, dc_plug_far] end) as plug
        from item where is_usable and kind = 'handheld_dc_lead'
    ), handheld_lead as (   -- straight into a vehicle, maybe so, or by a lead of the kit that goes there
        select e.kit_id, max(e.amps_rated) filter (e.plug in ('j563_male', 'clips')) as handheld_plug_a,
            max(e.amps_rated) filter (e.plug is null) as handheld_open_a,
            max(e.amps_rated) filter (l.kit_id is not null and coalesce(list_contains($mating, e.plug || ' ' || l.plug), true)) as handheld_lead_a
        from eliminator as e left join (
            select kit_id, case when dc_plug in ('j563_male', 'clips') then dc_plug_far else dc_plug end as plug
            from item where is_usable and kind in ('socket_lead', 'clip_lead')
        ) as l using (kit_id) group by e.kit_id
    ), plant as (
        select pk.post_id, max(plant_w) as plant_w from post_kit as pk join car using (kit_id) where pk.is_assigned group by pk.post_id
    ), cut as (
        select post_id, moment as starts, lead(moment) over (partition by post_id order by moment) as ends
        from (select distinct post_id, unnest([starts, ends]) as moment from post_kit where is_assigned)
    ), alongside as (   -- kits that could help a kit at the thinnest hour of its own
        select post_kit_id, min(others) as others from (
            select pk.post_kit_id, count(*) filter (pk.has_mode is distinct from false) over (partition by c.post_id, c.starts)
                - case when pk.has_mode is distinct from false then 1 else 0 end as others
            from cut as c join post_kit as pk on pk.post_id = c.post_id and pk.is_assigned and pk.kit_id is not null
                and pk.starts <= c.starts and pk.ends >= c.ends
        ) group by post_kit_id
    ), charged as (
        select kit_id, bool_or(has_mains_supply) as has_supply, max(bank_ah) / nullif(max(charger_a), 0) as charge_h
        from supply left join feed using (supply_id) group by kit_id
    ), sent as (   -- shifts on battery, and whether mains charge the kit there
        select pk.*, coalesce(p.has_mains and c.charge_h <= pk.need_h, false) as is_refilled
        from post_kit as pk join post as p using (post_id) join charged as c using (kit_id)
        where pk.is_assigned and not coalesce(p.has_mains and c.has_supply, false)
    ), turn as (   -- the charge on which a kit runs them, of kits that have several
        select post_kit_id, count(*) filter (is_fresh) over (partition by kit_id order by starts, post_kit_id) as charge
        from (
            select *, is_refilled or coalesce(lag(is_refilled) over one_by_one, false)
                or starts - max(ends) over (one_by_one rows between unbounded preceding and 1 preceding) >= to_minutes(cast(60 * $home as integer)) as is_fresh
            from sent window one_by_one as (partition by kit_id order by starts, post_kit_id)
            qualify min(starts) over (partition by kit_id) < max(starts) over (partition by kit_id)
        )
    ), mains as (
        select kit_id, sum(quantity) as supplies from item
        where is_usable and kind in ('supply_30a', 'power_station') group by kit_id
    ), at_post as (
    select pk.post_kit_id, pk.need_h, turn.charge, pk.is_assigned, pk.starts, pk.ends, s.* replace (
            case when p.power_setting = 'low' then coalesce(s.amps_tx_low, s.amps_tx) else s.amps_tx end as amps_tx,
            case when p.power_setting = 'low' then s.is_low_load_assumed else s.is_load_assumed end as is_load_assumed
        ), p.duty, p.tx_share, p.rx_share, p.idle_share, p.post_id,
        coalesce(e.temp_min_c, $warm) as temperature_c, e.temp_min_c is null as is_weather_assumed, e.temp_max_c as warmest_c,
        coalesce(p.has_vehicle, false) as has_vehicle, coalesce(p.has_vehicle, p.access = '4x4' or p.access = 'drive' and not p.is_on_foot or p.post_type = 'sag', false) as may_have_vehicle,
        0.0 as generator_w, false as is_hoped, coalesce(greatest(car.plant_w, plant.plant_w), 0) as plant_w, car.* exclude (kit_id, plant_w), held.* exclude (kit_id), m.mode_factor, coalesce(p.has_mains, false) as has_mains,
        coalesce(p.has_mains, false) and s.has_mains_supply as is_on_mains, p.has_mains is null and not p.is_on_foot and p.post_type is distinct from 'sag' as may_have_mains,
        coalesce(w.stations_low, 0) as stations_low, coalesce(w.stations_high, 1) as stations_high,
        f.item_id is not null and (f.is_band and f.is_mode) is distinct from false and stations_high > 0 as is_fit, coalesce(f.is_band and f.is_mode, false) as is_sure,
        case when not is_fit then 0 when f.is_band and f.is_mode and f.is_strong then 4 when f.is_strong is distinct from false then 3
            when f.is_band and f.is_mode then 2 else 1 end as suits,
        i.quantity as radios, coalesce(mains.supplies, 0) as supplies,
        case when pk.is_assigned and p.needs_two_ways then stations_high else 0 end as ways,
        cast(greatest(p.radios - greatest(coalesce(alongside.others, 0), case when p.needs_two_ways then 1 else 0 end), 1) as integer) as at_once,
        e.lat, e.lon, pk.starts - to_minutes(cast(60 * e.utc_offset_h as integer)) as starts_utc
    from post_kit as pk join post as p using (post_id) join event as e using (event_id)
    join supply as s on s.kit_id = pk.kit_id join item as i on i.item_id = s.radio_item_id
    left join want on want.post_id = pk.post_id
    left join suit as f on f.want_id = want.want_id and f.item_id = s.radio_item_id
    left join way as w on w.post_kit_id = pk.post_kit_id left join alongside on alongside.post_kit_id = pk.post_kit_id
    left join mains on mains.kit_id = pk.kit_id
    join post_talk as m on m.post_id = p.post_id
    left join car on car.kit_id = pk.kit_id left join handheld_lead as held on held.kit_id = pk.kit_id left join plant on plant.post_id = pk.post_id
    left join turn on turn.post_kit_id = pk.post_kit_id
    ), loaded as (
        select *, amps_tx * tx_share * mode_factor + amps_rx * (rx_share + tx_share * (1 - mode_factor)) + amps_idle * idle_share + accessory_a as load_a
        from at_post
    ), summed as (
        select * exclude (charge, load_a) replace (coalesce(case when charge is not null then
                sum(need_h * load_a) over (partition by supply_id, charge) / nullif(load_a, 0) end, need_h) as need_h), need_h as own_h
        from loaded
    )
    select * exclude (own_h), round(need_h - own_h, 6) as elsewhere_h from summed
"""
"""Every kit at its posts with each radio that could be used there: how well it suits (is_fit: does bands and modes on a whole
station, or may; suits: best is most), how many of the kit's radios are on at once (at_once: those that the post plans, but one
for each kit beside it, and at least one where it needs two ways: a second way stands by; one that is not sent is taken to be there
alone) and up to how many ways on the air the kit may be there (ways: 0 where it is not sent, or one is enough). A kit that is sent to several posts one after another with less than a night at home between (the policy's hours) runs them all on
one charge: need_h is the sum, elsewhere_h what of it is elsewhere, in hours of the load here; unless it hangs on mains there, or chargers
fill it at a post with mains. starts_utc is NULL where the event tells no hours from UTC."""


def battery(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pa.Table]:
    """Each store of energy that works: capacity to count on (Ah), energy of it to use (Wh), age, days since charged.

    Measured capacity counts before the rating, but never for more than a rating that is told: what a slow or warm discharge
    gave beyond it is no reserve (common practice). A battery not measured within the policy's years is taken at the
    policy's age factor of its rating once it is as old, or at what was measured before, where that is less. It is at
    least as old as its test; one without either date is taken as new, and marked assumed.
    """
    told = columns(
        con,
        """
        with store as (
            select i.item_id, i.kit_id, i.chemistry, i.role = 'pack' as is_pack,
                i.capacity_ah * i.quantity as rated_ah, i.tested_ah * i.quantity as measured_ah, i.capacity_ah_is_assumed,
                date_diff('day', i.acquired, $today) / 365.25 as age_years,
                cast(date_diff('day', i.charged, $today) as double) as charged_days,
                c.charge_days as charge_limit_days, c.usable_share, c.month_loss_share, (i.volts_min + i.volts_max) / 2 as middle_v,
                date_diff('day', i.tested, $today) / 365.25 as tested_years,
                i.tested_ah is not null and coalesce(tested_years < $stale_years, false) as is_fresh,
                greatest(age_years, tested_years) as least_age_years,
                i.capacity_ah_is_assumed or i.chemistry_is_assumed or least_age_years is null as is_assumed
            from item as i left join chemistry as c using (chemistry)
            where i.is_usable and i.role in ('source', 'pack') and i.chemistry is not null
        ), aged as (
            select *, case when least_age_years >= $stale_years and not is_fresh then $age_factor else 1 end as age_factor,
                case when not is_fresh then least(measured_ah, rated_ah * age_factor) when capacity_ah_is_assumed then measured_ah
                    else least(measured_ah, rated_ah) end as dependable_ah
            from store
        )
        select item_id, kit_id, chemistry, is_pack, dependable_ah, dependable_ah * usable_share * middle_v as usable_wh,
            age_years, charged_days, charge_limit_days,
            charge_limit_days * $empty_after as charge_end_days,
            measured_ah / rated_ah as measured_share, age_factor, month_loss_share,
            case when is_fresh then 'measured' when is_assumed then 'assumed' else 'told' end as how
        from aged
        """,
        {
            "today": today,
            "stale_years": float(policy.facts["untested_after_years"]),
            "age_factor": float(policy.facts["age_factor"]),
            "empty_after": float(policy.facts["empty_after_intervals"]),
        },
    )
    days, lost = floats(told["charged_days"]), floats(told.pop("month_loss_share"))
    dated = days >= 0
    left = np.full(len(days), np.nan)
    if dated.any():
        chemistry = np.asarray(told["chemistry"], str)[dated]
        left[dated] = cells.self_discharge_remaining(chemistry, days[dated], loss_per_month_share=lost[dated])
    return {"battery": table(told | {"charge_left_share": left})}


def supply(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """Each radio that works, and (feed) every battery of its kit that could feed it.

    A handheld is fed by its kit's packs, other radios by the batteries, where its range overlaps the radio's (a range not
    told is taken to fit). A battery that is no pack also feeds a radio through a converter of the kit that delivers what
    the radio takes and carries its peak (what it accepts is not told; a buck converter stops at what it delivers and
    takes no battery whose middle is not above that, a boost converter none that stays above it), so a battery may have two ways to a radio. A converter whose
    figures are not told counts, as not known, where nothing else feeds the radio. A battery that feeds a radio straight is
    not counted on for a handheld beside it. The main radio of a kit is the first that is no spare and no handheld, else the
    first. A battery's charger is what its kit has for its chemistry; one for lead-acid serves all three sorts. A battery
    whose chemistry is not told feeds, for hours not known, a radio that nothing else feeds. What is in a battery of which
    nobody knows whether it works is not known. A power station is a battery, and on mains a supply.

    The path (ohm) is that of the kit's example station: its leads there and back, a pair of contacts at each joint, at
    the battery and at the fuse, and the fuse. Another radio of the kit is taken to hang on the kit's worst lead alone, one
    without any on a lead of usual make, and a handheld on none. Whatever else tells a current, itself or by its kind, and has no
    cells of its own is on all the time, through a converter where it does not run on 12 V; accessories that no line tells
    count with the policy's.
    """
    feed = Select(
        f"""
        with {RADIO}, charger as (
            select kit_id, kind in ('charger_handheld', 'charger_cells') as is_pack, {FAMILY.format(chemistry="chemistry")} as family,
                sum(amps_rated * quantity) as amps
            from item where role = 'charger' and is_usable and chemistry is not null group by all
        ), store as (
            select b.* replace (case when s.condition = 'ok' then b.dependable_ah end as dependable_ah),
                s.kind, s.quantity, s.volts_min, s.volts_max, nullif((s.volts_min + s.volts_max) / 2, 0) as nominal_v,
                least(b.dependable_ah / nullif(s.capacity_ah * s.quantity, 0), 1) as left_share
            from battery as b join item as s using (item_id)
        ), straight as (
            select r.supply_id, b.item_id, 1.0 as gain, r.volts_min as stop_v, false as is_converted
            from radio as r join store as b on b.kit_id = r.kit_id and b.is_pack = r.is_handheld
            where coalesce(b.volts_max >= r.volts_min and b.volts_min <= r.volts_max, true)
        ), converted as (
            select supply_id, kit_id, is_handheld, kind, min(middle_v) filter (is_fit) as out_v
            from (
                select r.supply_id, r.kit_id, r.is_handheld, c.kind, (c.volts_min + c.volts_max) / 2 as middle_v,
                    c.volts_min >= r.volts_min and c.volts_max <= r.volts_max and c.amps_rated >= r.amps_tx as is_fit
                from radio as r join item as c on c.kit_id = r.kit_id and c.role = 'converter' and c.is_usable
            )
            where is_fit is distinct from false group by all
        ), way as (
            from straight
            union all
            select v.supply_id, b.item_id, v.out_v / ($converter_share * b.nominal_v),
                case v.kind when 'buck_converter' then greatest(v.out_v, $converter_volts_min) else $converter_volts_min end, true
            from converted as v join store as b on b.kit_id = v.kit_id and not b.is_pack
            where coalesce(case v.kind when 'boost_converter' then b.volts_min <= v.out_v when 'buck_converter' then b.nominal_v > v.out_v end, true)
                and (v.out_v is not null or v.supply_id not in (select supply_id from straight))
                and not (v.is_handheld and b.item_id in (select item_id from straight))
        )
        select w.supply_id, b.item_id, b.quantity, b.dependable_ah / b.quantity as piece_ah, b.chemistry, b.nominal_v,
            c.usable_share, case when b.charged_days > b.charge_end_days then 0 else b.charge_left_share end as charge_left_share,
            coalesce(g.amps, 0) as charger_a, c.charge_min_c, c.charge_max_c, b.kind is not distinct from 'power_station' as has_vehicle_lead, w.gain, w.stop_v,
            w.is_converted, c.peukert, c.cell_ohm_ah, c.given_back_share, c.charge_per_h, $cold_doubles_k as cold_doubles_k,
            coalesce(left_share * (1 + ($aged_resistance - 1) * (1 - left_share) / nullif(1 - $age_factor, 0)), 1) as worn_times
        from way as w
        join store as b using (item_id)
        join chemistry as c on c.chemistry = b.chemistry
        left join charger as g on g.kit_id = b.kit_id and g.is_pack = b.is_pack
            and g.family = {FAMILY.format(chemistry="b.chemistry")}
        union all by name   -- a battery of which nobody tells what it is
        select r.supply_id, i.item_id, i.quantity, r.volts_min as stop_v, 1.0 as gain, false as is_converted, false as has_vehicle_lead
        from radio as r join item as i using (kit_id)
        where i.kind = 'battery' and i.chemistry is null and i.is_usable and not r.is_handheld
            and r.supply_id not in (select supply_id from way)
        """,
        {
            name: policy.facts[name]
            for name in (
                "converter_share",
                "converter_volts_min",
                "age_factor",
                "aged_resistance",
                "cold_doubles_k",
            )
        },
    )
    rows = Select(
        f"""
        with {RADIO}, fed as (
            select f.supply_id, sum(f.piece_ah * f.quantity) as bank_ah,
                bool_or(b.how = 'assumed') as is_bank_assumed,
                bool_or(b.charge_left_share is null) as is_charge_assumed,
                list(s.line order by s.line) as lines
            from (select distinct supply_id, item_id, quantity, piece_ah from feed) as f
            left join battery as b using (item_id) join item as s using (item_id) group by f.supply_id
        ), led as (
            select kit_id, max(drop_v / nullif(peak_a, 0)) as ohm from lead group by kit_id
        ), path as (
            select s.kit_id, any_value(i.item_id) filter (i.role = 'radio') as item_id, count(*) - 1 as parts,
                sum(coalesce($metre_ohm * i.length_m / i.wire_mm2, case when l.item_id is not null then $lead_ohm end)) as ohm
            from station_step as s join item as i using (item_id) left join lead as l using (item_id)
            where i.role in ('radio', 'lead', 'fuse', 'converter') group by s.kit_id having ohm is not null
        ), eliminator as (
            select r.supply_id, e.kit_id, if(e.dc_plug = 'pack_latch', e.dc_plug_far, e.dc_plug) as plug
            from radio as r join item as e on e.kit_id = r.kit_id and e.volts_min >= r.volts_min and e.volts_max <= r.volts_max and e.amps_rated >= r.amps_tx
            where r.is_handheld and e.kind = 'handheld_dc_lead' and e.is_usable and r.kit_id not in (select kit_id from radio where not is_handheld)
        ), offered as (   -- plugs that a mains supply has, itself or at the end of a lead of the kit
            select kit_id, dc_plug as plug from item where kind in ('supply_30a', 'power_station') and is_usable and kit_id in (select kit_id from eliminator)
        ), reached as (
            from offered
            union all
            select o.kit_id, l.far from offered as o join (
                select kit_id, unnest([dc_plug, dc_plug_far]) as near, unnest([dc_plug_far, dc_plug]) as far
                from item where role = 'lead' and is_usable and kit_id in (select kit_id from offered)
            ) as l on l.kit_id = o.kit_id and coalesce(list_contains($mating, l.near || ' ' || o.plug), true)
        ), hung as (
            select distinct e.supply_id from eliminator as e join reached as o on o.kit_id = e.kit_id and coalesce(list_contains($mating, e.plug || ' ' || o.plug), true)
        ), other as (
            select kit_id, sum(amps_idle * quantity * case when $bus_v between volts_min and volts_max or role = 'converter' then 1.0
                    else coalesce((volts_min + volts_max) / 2 / ($bus_v * $converter_share), 1.0) end)
                    filter (role not in ('source', 'charger', 'solar') and cell_size is null and not is_spare) as accessory_a,
                sum(solar_watts * quantity) filter (role = 'solar') as panel_w,
                sum(solar_watts * quantity) filter (role = 'solar' and volts_max <= $regulated_v) as regulated_w,
                max(case kind when 'charge_controller_mppt' then $mppt when 'charge_controller_pwm' then $pwm end) as controller_share,
                sum(amps_rated * quantity) filter (kind in ('charge_controller_mppt', 'charge_controller_pwm')) as controller_a,
                bool_or(kind in ('supply_30a', 'power_station')) as has_mains_supply
            from item
            where is_usable and (role in ('solar', 'source', 'charger') or amps_idle > 0 and role not in ('radio', 'other_radio', 'pack'))
            group by kit_id
        )
        select r.supply_id, r.kit_id, r.item_id as radio_item_id, r.is_main, r.is_handheld, r.bands, r.amps_tx, r.amps_rx,
            r.amps_idle, case when r.is_handheld then 0 else coalesce(o.accessory_a, 0) + $accessory_w / $bus_v end as accessory_a, r.rf_watts,
            case when f.supply_id is null then 0 else f.bank_ah end as bank_ah,
            case when r.is_handheld then 0
                else coalesce(p.ohm, l.ohm, $lead_ohm) + (3 + coalesce(p.parts, 1)) * $contact_ohm + $fuse_ohm end as path_ohm,
            case when r.is_handheld then h.supply_id is not null else coalesce(o.has_mains_supply, false) end as has_mains_supply,
            case when r.is_handheld then 0 else coalesce(o.panel_w * o.controller_share, o.regulated_w * $pwm, 0) end as solar_w,
            o.controller_a,
            coalesce(f.is_charge_assumed, false) as is_charge_assumed,
            r.is_load_assumed, r.amps_tx_low, r.rf_watts_low, r.is_low_load_assumed,
            coalesce(f.is_bank_assumed, false) as is_bank_assumed, list_concat([r.line], coalesce(f.lines, [])) as lines
        from radio as r
        left join fed as f on f.supply_id = r.supply_id
        left join led as l on l.kit_id = r.kit_id
        left join path as p on p.kit_id = r.kit_id and p.item_id = r.item_id
        left join other as o on o.kit_id = r.kit_id
        left join hung as h on h.supply_id = r.supply_id
        """,
        {
            name: policy.facts[name]
            for name in ("lead_ohm", "contact_ohm", "fuse_ohm", "accessory_w", "converter_share")
        }
        | {
            "mating": _mating(),
            "metre_ohm": float(wire.lead_resistance_ohm(1.0, 1.0, policy.facts["lead_temperature_c"])),
            "bus_v": BUS_V,
            "mppt": policy.facts["mppt_share"],
            "pwm": policy.facts["pwm_share"],
            "regulated_v": policy.facts["regulated_v"],
        },
    )
    return {"feed": feed, "supply": rows}


class _Hours(NamedTuple):
    load_w: Floats
    energy_wh: Floats
    hours: Floats
    limited_by: npt.NDArray[np.object_]
    recharge_w: Floats
    short_wh: Floats
    stop_v: Floats


def _uncharged(cases: Columns, feed: Columns, is_fresh: bool) -> tuple[_Hours, recharge.Used]:
    """Hours on the air of N cases that nothing charges meanwhile: columns of supply, duty shares, mode_factor and temperature_c.

    Batteries are used one after another, each piece from full (or, unless `is_fresh`, from what self-discharge has
    left since its charge date) until it is empty or the radio drops out on transmit; the hours add up. In the pauses of
    speech the transmitter draws what the receiver does. Of several ways from a battery to the radio the one counts on
    which it lasts longest; through a converter it gives the current of its nominal volts, losses included, and
    accessories hang on the lower of the two voltages. The battery that lasts longest tells the voltage, what stops it and
    at which volts. No battery is 0 h, and so is one that was measured at no capacity; hours that hang on a value not known
    are NaN, and what ends them says whether it was not told or nobody has published it for that cold.
    """
    case, fed = join(*(np.asarray(ids["supply_id"]) for ids in (cases, feed)))
    n_cases = len(cases["supply_id"])
    of_case = {name: floats(cases[name]) for name in OF_CASE}
    talk = of_case["tx_share"] * of_case["mode_factor"]
    of_case |= {"talk": talk, "quiet": of_case["rx_share"] + of_case["tx_share"] - talk}
    n = {name: values[case] for name, values in of_case.items()}
    n |= {name: floats(feed[name])[fed] for name in OF_FEED}
    chemistry = np.asarray(feed["chemistry"], str)[fed]
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
    each_h, stopped_by = np.where(is_dead, 0.0, run.hours_h), np.where(is_dead, DEAD, run.limit)
    best = _best(case, np.asarray(feed["item_id"])[fed], each_h)
    case, fed, charge = case[best], fed[best], charge[best]
    each_h, stopped_by = each_h[best], stopped_by[best]
    n = {name: values[best] for name, values in n.items()}
    hours = each_h * n["quantity"]
    energy_wh = n["piece_ah"] * n["quantity"] * n["usable_share"] * n["nominal_v"] * charge
    total_h, total_wh = (
        np.bincount(case, weights=each, minlength=n_cases).astype(np.float64)
        for each in (hours, np.nan_to_num(energy_wh))
    )
    by_hours = np.lexsort((np.nan_to_num(hours, nan=-1.0), case))
    has_battery = np.isin(np.arange(n_cases), case)
    longest = by_hours[np.searchsorted(case, np.flatnonzero(has_battery), side="right") - 1]
    volts, stop_v, gain = np.full(n_cases, np.nan), np.full(n_cases, np.nan), np.ones(n_cases)
    limit = np.full(n_cases, "no battery", dtype=object)
    volts[has_battery], stop_v[has_battery] = n["nominal_v"][longest], n["stop_v"][longest]
    gain[has_battery] = n["gain"][longest]
    limit[has_battery] = stopped_by[longest]
    for word, said in STOPPED_BY.items():
        limit[limit == word] = said
    load_a = of_case["amps_tx"] * talk + of_case["amps_rx"] * of_case["quiet"]
    load_a += of_case["amps_idle"] * of_case["idle_share"]
    load_a = gain * load_a + np.minimum(gain, 1.0) * of_case["accessory_a"]
    load_w = load_a * np.nan_to_num(volts, nan=BUS_V)
    told = sum(values for name, values in n.items() if name != "charge_left_share")
    is_untold = np.bincount(case, weights=np.isnan(told), minlength=n_cases) > 0
    limit = np.where(np.isnan(total_h), np.where(is_untold, UNTOLD, TOO_COLD), limit)
    until_h = np.minimum(total_h, LONGEST_H)
    short_wh = np.maximum(floats(cases["need_h"]) - until_h, 0.0) * load_w
    whole = _Hours(load_w, total_wh, until_h, limit, np.zeros(n_cases), short_wh, stop_v)
    return whole, recharge.Used(case, fed, hours, total_h)


def inside_ohm(chemistry: npt.NDArray[np.str_], piece_ah: Floats, n: Mapping[Any, Floats]) -> Floats:
    """Internal resistance (ohm) of one piece of each battery as old and as cold as it is.

    Parameters
    ----------
    n : nominal_v, cell_ohm_ah, temperature_c, worn_times and cold_doubles_k, by name
    """
    ohm = cells.internal_resistance_ohm(
        chemistry, piece_ah, n["nominal_v"], n["cell_ohm_ah"], n["temperature_c"], n["cold_doubles_k"]
    )
    return np.asarray(n["worn_times"] * ohm)


@cache
def _mating() -> list[str]:
    """Plugs that mate, with a space between them, either first."""
    return sorted({f"{a} {b}" for pair in reference.mating_pairs() for a, b in (pair, pair[::-1])})


def _taken(policy: Policy) -> recharge.Taken:
    return recharge.Taken(*(float(policy.facts[name]) for name in recharge.Taken._fields))


def _hours(cases: Columns, feed: Columns, taken: recharge.Taken | None) -> _Hours:
    """Hours on the air of N cases: on their own as charged today, or at a post, from full, with what charges them there.

    At a post the bank is stepped through the hours from the start of the shift (`rules.facts.recharge`). recharge_w: what
    sun and chargers spare the bank, on average until the shift ends or the bank is empty; short_wh: what a battery that is
    not charged would have to add until the shift ends; limited_by: what stops the radio,
    `nothing` where what is put in carries it past LONGEST_H.

    Parameters
    ----------
    cases : columns as `_uncharged` and, at a post, `recharge.put_in` read
    taken : what the policy takes for granted, at a post; None on their own
    """
    run, used = _uncharged(cases, feed, taken is not None)
    return run if taken is None else _charged(cases, feed, run, used, taken)[0]


def _charged(
    cases: Columns, feed: Columns, run: _Hours, used: recharge.Used, taken: recharge.Taken
) -> tuple[_Hours, recharge.PutIn]:
    """The hours of `_uncharged` with what charges the bank at its post, and what that is."""
    put = recharge.put_in(cases, feed, used, taken)
    hours, limited_by, short_wh = run.hours.copy(), run.limited_by.copy(), run.short_wh.copy()
    recharge_w = np.zeros(len(hours))
    need_h = floats(cases["need_h"])
    for rows, step_h, charged in recharge.recharged(cases, used.full_h, run.load_w, put, taken, LONGEST_H):
        hours[rows] = charged.hours_h
        limited_by[rows[charged.hours_h >= LONGEST_H]] = "nothing"
        until_h = np.minimum(need_h[rows], charged.hours_h)
        spared_h = recharge.left_at(until_h, step_h, charged.left_h) + until_h - used.full_h[rows]
        short_wh[rows] = charged.short_h * run.load_w[rows]
        recharge_w[rows] = run.load_w[rows] * spared_h / until_h
    return run._replace(hours=hours, limited_by=limited_by, recharge_w=recharge_w, short_wh=short_wh), put


def _best(case: npt.NDArray[np.intp], item_id: npt.NDArray[Any], hours: Floats) -> npt.NDArray[np.intp]:
    """Places of the pairs of case and battery with the most hours (what is not known is least), by case and battery."""
    order = np.lexsort((np.nan_to_num(hours, nan=-1.0), item_id, case))
    is_last = np.ones(len(order), dtype=bool)
    is_last[:-1] = (np.diff(case[order]) != 0) | (np.diff(item_id[order]) != 0)
    return order[is_last]


def _at_low_power(
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
        read = ("supply_id", "need_h", *OF_CASE, *(() if taken is None else recharge.OF_CASE))
        some = {name: np.asarray(cases[name])[rows] for name in read} | {"amps_tx": amps[rows]}
        hours[rows] = _hours(some, feed, taken).hours
    return hours


def _ranged(hours: Floats, cases: Columns, policy: Policy) -> dict[str, npt.NDArray[Any]]:
    """The low and high ends: each assumed side of the budget, load and bank, widens the range by the policy's share."""
    share = float(policy.facts["range_share"])
    widths = floats(cases["is_load_assumed"]) + floats(cases["is_bank_assumed"])
    return {
        "runtime_low_h": hours * (1 - share) ** widths,
        "runtime_high_h": hours * (1 + share) ** widths,
        "how": np.where(widths > 0, "assumed", "told"),
    }


def kit_runtime(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pa.Table]:
    """Hours on the air of each kit's main radio as it stands today, at the policy's duty profile.

    The bank holds what self-discharge has left since its charge date; without a date it is taken as full, and marked
    assumed. At the policy's temperature, with the range of a cold and a warm day: how says what the figures rest on.
    """
    cases = columns(
        con,
        """
        select s.* replace (s.is_bank_assumed or s.is_charge_assumed as is_bank_assumed),
            d.duty, d.tx_share, d.rx_share, d.idle_share, 1.0 as mode_factor, $temperature_c as temperature_c,
            coalesce(k.hours, case when s.is_handheld then $handheld_hours else $hours end) as need_h
        from supply as s join kit as k using (kit_id), (from duty where duty = $duty) as d
        where s.is_main
        """,
        {
            "duty": policy.facts["kit_duty"],
            "temperature_c": policy.facts["assumed_temperature_c"],
            "hours": policy.facts["kit_hours"],
            "handheld_hours": policy.facts["handheld_hours"],
        },
    )
    feed = columns(con, "from feed")
    run = _hours(cases, feed, None)
    told = {name: cases[name] for name in ("kit_id", "duty", "need_h", "lines")}
    worked_out = dict(zip(("load_w", "energy_wh", "runtime_h", "limited_by"), run[:4], strict=True))
    is_short = run.hours < floats(cases["need_h"])
    worked_out["low_power_h"] = _at_low_power(cases, feed, None, is_short)
    worked_out["stop_v"] = run.stop_v
    worked_out["low_power_w"] = np.where(is_short, floats(cases["rf_watts_low"]), np.nan)
    ranged = _ranged(run.hours, cases, policy)
    ends = (ranged["runtime_low_h"], ranged["runtime_high_h"])
    ranged["runtime_low_h"], ranged["runtime_high_h"] = _in_any_weather(cases, *ends, feed, None, policy)
    return {"kit_runtime": table(told | worked_out | ranged)}


def _in_any_weather(
    cases: Columns, low_h: Floats, high_h: Floats, feed: Columns, taken: recharge.Taken | None, policy: Policy
) -> tuple[Floats, Floats]:
    """The low and high ends of the hours of cases widened to those of a cold and of a warm day."""
    for name in ("cold_day_c", "warm_day_c"):
        day = {str(column): cases[str(column)] for column in cases}
        day["temperature_c"] = np.full(len(low_h), float(policy.facts[name]))
        day["warmest_c"] = np.full(len(low_h), np.nan)
        ends = _ranged(_hours(day, feed, taken).hours, day, policy)
        low_h, high_h = np.fmin(low_h, ends["runtime_low_h"]), np.fmax(high_h, ends["runtime_high_h"])
    return low_h, high_h


def _hope(
    frame: pd.DataFrame, feed: pd.DataFrame, run: _Hours, used: recharge.Used, taken: recharge.Taken
) -> None:
    """Add the hours where all is well that nobody tells of the post and its event (hoped_h), what that is (untold), and raise the high end to them.

    Mains supplies run on a generator as well, as long as there is fuel.
    """
    plug_a = np.fmax(frame["handheld_plug_a"], frame["handheld_open_a"])
    hoped = frame.assign(
        handheld_plug_a=plug_a,
        has_vehicle=frame["may_have_vehicle"], generator_w=frame["plant_w"],
        has_mains=frame["may_have_mains"] | frame["has_mains"], is_hoped=True,
    )  # fmt: skip
    charged, put = _charged(hoped, feed, run, used, taken)
    has_supply, may_have_mains, has_mains, has_vehicle, is_on_mains = (
        frame[name].to_numpy(bool) for name in ("has_mains_supply", "may_have_mains", "has_mains", "has_vehicle", "is_on_mains")
    )  # fmt: skip
    plant_w = frame["plant_w"].to_numpy(float)
    is_fed = has_supply | put.by_mains
    is_open = [
        is_fed & may_have_mains,
        put.by_vehicle & ~has_vehicle,
        put.by_vehicle
        & frame["is_handheld"].to_numpy(bool)
        & (frame["handheld_open_a"] > 0).to_numpy(bool)
        & frame["handheld_lead_a"].isna().to_numpy(bool),
        is_fed & (plant_w > 0) & ~has_mains,
        put.by_weather,
        put.is_some & np.isnan(run.hours),
    ]
    runs = has_supply & (may_have_mains | (run.load_w < plant_w * taken.converter_share))
    untold = np.full(len(frame), None, dtype=object)
    for row in np.flatnonzero(np.any(is_open, axis=0) & ~is_on_mains):
        words = (word for word, at in zip(UNTOLD_THERE, is_open, strict=True) if at[row])
        untold[row] = f"nobody tells {', '.join(words)}"
    frame["untold"] = untold
    frame["hoped_h"] = np.where(runs, LONGEST_H, charged.hours)
    frame["runtime_high_h"] = np.maximum(frame["runtime_high_h"], frame["hoped_h"])


def runtime(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pd.DataFrame]:
    """Hours on the air of each kit at each post: the radio of the kit that suits it best and lasts longest.

    Charged the day before; at the event's lowest temperature (the policy's where none is told, with
    the range of a cold and a warm day). From the start of the
    shift on, sun, chargers and a vehicle put in what `rules.facts.recharge` says; the sun needs the event's place and hours
    from UTC. The high end is at least the hours where all is well that nobody tells of the post and its event (hoped_h): mains, a
    vehicle that may stay, a generator that has fuel, the place and the warmth of the day. Mains where the post
    has mains and the kit a supply; not known where nobody tells of mains. Where the post transmits at low power the radio draws what it draws there; one that
    does not tell is taken at full power, and marked assumed.

    A radio suits that stands on a whole station for the post and has its power (`ways.suit`). Where the post plans several
    radios, those of a kit that are on at once share its batteries (`sharing`), all at the duty of the post; its hours are
    those of the best. The best stations of all kits that are there are ranked hour by hour by how they suit and last: the post
    hangs on the first, and a kit that is never first is second. A kit that is not sent is taken to be there alone.

    Where the post needs two ways, those of a kit that is sent are the most of its complete stations there that last its hours
    all at once, each on batteries of its own: at least those that do at the low end of their hours, and at most those
    that may at the high end.
    """
    alone, feed = _stations(con, policy)
    ways = sharing.ways(alone, feed)
    together, feed = _together(alone, ways, feed, policy)
    frame = _best_at_post(alone, together)
    frame = frame.assign(is_second=frame["is_assigned"] & ~frame["post_kit_id"].isin(_firsts(con, frame)))
    frame = frame.merge(_ways(ways, together[together["is_way"]]), how="left", on="post_kit_id")
    is_short = frame["runtime_h"].lt(PLENTY * frame["need_h"]) & ~frame["is_on_mains"]
    frame["low_power_h"] = _at_low_power(frame, feed, _taken(policy), is_short.to_numpy(bool))
    frame["low_power_w"] = frame["rf_watts_low"].where(is_short)
    frame["is_on_mains"] = (
        frame["is_on_mains"].astype("boolean").mask(frame["may_have_mains"] & frame["has_mains_supply"])
    )
    return {"runtime": frame[list(OF_RUNTIME)]}


def _stations(
    con: duckdb.DuckDBPyConnection, policy: Policy, post_kit_id: int | None = None
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The stations of each kit at each post with their hours, each with all of its kit's batteries, best first; and the fact feed.

    Parameters
    ----------
    post_kit_id : of one kit at a post alone, unless None
    """
    one = "where post_kit_id = $post_kit" if post_kit_id is not None else ""
    values = {
        "warm": policy.facts["assumed_temperature_c"],
        "home": policy.facts["home_h"],
        "mating": _mating(),
        "post_kit": post_kit_id,
    }
    frame = con.execute(
        AT_POST + one, {name: value for name, value in values.items() if value is not None}
    ).df()
    feed = con.execute("from feed").df()
    return _best_first(_lasting(frame, feed, _taken(policy), policy)), feed


def _together(
    alone: pd.DataFrame, ways: pd.DataFrame, feed: pd.DataFrame, policy: Policy
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The stations that are on at once (`sharing.seats`) with their hours, and feed with the banks of each."""
    several = sharing.seats(alone, ways)
    if several.empty:
        return several, feed
    several, own = sharing.dealt(several, feed, _uncharged(several, feed, True)[1])
    feed = pd.concat([feed, own], ignore_index=True)
    return _lasting(several, feed, _taken(policy), policy), feed


def _lasting(frame: pd.DataFrame, feed: pd.DataFrame, taken: recharge.Taken, policy: Policy) -> pd.DataFrame:
    """The cases with their hours on the air and what follows from them."""
    run, used = _uncharged(frame, feed, True)
    charged, _ = _charged(frame, feed, run, used, taken)
    worked_out = dict(zip(OF_HOURS, charged[:6], strict=True))
    frame = frame.assign(**worked_out, **_ranged(charged.hours, frame, policy))
    is_assumed = frame["is_weather_assumed"].to_numpy(bool)
    if is_assumed.any():
        low_h, high_h = (frame[name].to_numpy(copy=True) for name in ("runtime_low_h", "runtime_high_h"))
        low_h[is_assumed], high_h[is_assumed] = _in_any_weather(
            frame[is_assumed], low_h[is_assumed], high_h[is_assumed], feed, taken, policy
        )
        frame["runtime_low_h"], frame["runtime_high_h"] = low_h, high_h
        frame["how"] = frame["how"].mask(is_assumed, "assumed")
    frame.loc[frame["is_on_mains"], "limited_by"] = "mains"
    _hope(frame, feed, run, used, taken)
    return frame


def _best_first(frame: pd.DataFrame) -> pd.DataFrame:
    """By kit at a post the cases that suit best, on mains or longest, first."""
    order = ["post_kit_id", "suits", "is_on_mains", "runtime_h", "radio_item_id"]
    is_up = [True, False, False, False, True]
    return frame.sort_values(order, ascending=is_up, na_position="last", ignore_index=True)


def _best_at_post(alone: pd.DataFrame, together: pd.DataFrame) -> pd.DataFrame:
    """The best station of each kit at a post; where it has several on at once that the post plans, the best of these."""
    planned = together[~together["is_way"]]
    if len(planned):
        rest = alone[~alone["post_kit_id"].isin(planned["post_kit_id"])]
        alone = _best_first(pd.concat([rest, planned], ignore_index=True))
    return alone.drop_duplicates("post_kit_id")


def _firsts(con: duckdb.DuckDBPyConnection, best: pd.DataFrame) -> pd.Series:
    """Kits at a post (post_kit_id) that are sent and whose station is the best there for some of the time.

    Of equals the first by name, which copies keep (`rules.plans.trials`).
    """
    con.register("lasting", best)
    first = con.execute(
        """
        with sent as (
            select post_kit_id, post_id, starts, ends, suits, is_on_mains, coalesce(runtime_h, 0) as hours, kit.member, kit.kit
            from lasting join kit using (kit_id) where is_assigned
        ), cut as (
            select post_id, moment as begins, lead(moment) over (partition by post_id order by moment) as until
            from (select distinct post_id, unnest([starts, ends]) as moment from sent)
        )
        select distinct on (c.post_id, c.begins) post_kit_id
        from cut as c join sent as s on s.post_id = c.post_id and s.starts <= c.begins and s.ends >= c.until
        order by c.post_id, c.begins, suits desc, is_on_mains desc, hours desc, member, kit
        """
    ).df()["post_kit_id"]
    con.unregister("lasting")
    return first


def _ways(alone: pd.DataFrame, together: pd.DataFrame) -> pd.DataFrame:
    """How many ways on the air of a kit last their hours, at once: post_kit_id, ways_low, ways_high.

    Radios that share no batteries add up, of those that share some the most that last together count; no more than there
    are complete stations that share no item. Each radio that does not last may take one of these away, as others may
    stand on one antenna; then one is there for certain.

    Parameters
    ----------
    alone : the stations of kits that may be ways, each by itself, with the bank that they share (`sharing.ways`)
    together : several at once, by lot (`sharing.seats`)
    """
    rows = pd.concat([alone.assign(lot=-1 - np.arange(len(alone))), together], ignore_index=True)
    low = rows["is_on_mains"] | rows["runtime_low_h"].ge(rows["need_h"])
    high = rows["is_on_mains"] | ~rows["runtime_high_h"].lt(rows["need_h"])
    by = [rows[name] for name in ("post_kit_id", "bank", "lot")]
    at_once = pd.DataFrame({"ways_low": low & rows["is_sure"], "ways_high": high}).groupby(by).sum()
    lasting = at_once.groupby(level=[0, 1]).max().groupby(level=0).sum()
    there = alone.drop_duplicates("post_kit_id").set_index("post_kit_id")
    is_end = alone["is_sure"].to_numpy(bool) & ~low.to_numpy(bool)[: len(alone)]
    ends = (alone["radios"] * is_end).groupby(alone["post_kit_id"]).sum()
    sure = (there["stations_low"] - ends).clip(lower=lasting["ways_low"].clip(upper=1))
    lasting["ways_low"] = lasting["ways_low"].clip(upper=there["stations_low"]).clip(upper=sure)
    lasting["ways_high"] = lasting["ways_high"].clip(upper=there["stations_high"])
    return lasting.reset_index()


def bank_at_post(
    con: duckdb.DuckDBPyConnection, policy: Policy, post_kit_id: int
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The station of a kit at a post whose hours the fact runtime tells, as one case, and its batteries as rows of feed."""
    alone, feed = _stations(con, policy, post_kit_id)
    together, feed = _together(alone, sharing.ways(alone, feed), feed, policy)
    case = _best_at_post(alone, together)
    return case, feed[feed["supply_id"].isin(case["supply_id"])]


def left_by_hour(case: pd.DataFrame, feed: pd.DataFrame, policy: Policy) -> tuple[Floats, Floats] | None:
    """Hours since the start of a shift, and what is left then in the bank of `bank_at_post` (h of load); None where nothing charges it."""
    run, used = _uncharged(case, feed, True)
    taken = _taken(policy)
    put = recharge.put_in(case, feed, used, taken)
    for rows, step_h, charged in recharge.recharged(case, used.full_h, run.load_w, put, taken, LONGEST_H):
        if len(rows):
            return step_h * np.arange(len(charged.left_h), dtype=np.float64), charged.left_h[:, 0]
    return None
