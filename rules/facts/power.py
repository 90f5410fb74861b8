"""What feeds each radio: the stores of energy that work, and the ways from them to it."""

from __future__ import annotations

from datetime import date
from functools import cache
from typing import Any

import duckdb
import numpy as np
import pyarrow as pa

from data import reference
from rules.facts.select import Floats, Select, columns, each_word, floats, table
from rules.physics import battery as cells
from rules.physics import wire
from rules.policy import Policy

BUS_V = 12.0
"""Volts at which accessories are taken to run."""
RADIO = """
    radio as (
        select item_id as supply_id, item_id, kit_id, line, bands, amps_tx, amps_rx, amps_idle,
            rf_watts, volts_min, volts_max, kind = 'handheld' as is_handheld, lower(trim(pack_family)) as fits,
            amps_tx_is_assumed or amps_rx_is_assumed or amps_idle_is_assumed as is_load_assumed,
            case when amps_tx_low is not null then least(amps_tx_low, amps_tx) end as amps_tx_low,
            case when rf_watts_low is not null then least(rf_watts_low, rf_watts) end as rf_watts_low,
            amps_tx_low is null or is_low_assumed or amps_rx_is_assumed or amps_idle_is_assumed as is_low_load_assumed,
            item_id in (
                select arg_min(item_id, (is_spare, kind = 'handheld', line))
                from item where role = 'radio' and is_usable group by kit_id
            ) as is_main
        from item where role = 'radio' and is_usable
    )"""
IN_SERIES = """
    case v.kind when 'boost_converter' then a.is_boost_in_series
                when 'buck_converter' then a.is_buck_in_series
                else a.is_step_in_series end"""
FEED = f"""
    with {RADIO}, charger as (   -- by kit, what chargers are for and their plugs: their amperes
        select kit_id, kind in ('charger_handheld', 'charger_cells') as is_pack, charged_as(chemistry) as family,
            lower(trim(pack_family)) as fits, dc_plug as near, dc_plug_far as far,
            sum(amps_rated * quantity) as may_amps,
            sum(amps_rated * quantity) filter (condition = 'ok') as amps
        from item
        where role = 'charger' and is_usable and chemistry is not null
            and kind not in ('charge_controller_mppt', 'charge_controller_pwm')
        group by all
    ), store as (   -- by battery: what it gives, and what fits it
        select b.item_id, b.kit_id, b.chemistry, b.is_pack, b.charged_days, b.charge_end_days, b.charge_left_share,
            case when s.condition = 'ok' then b.dependable_ah end as dependable_ah,
            s.kind, s.quantity, s.volts_min, s.volts_max, nullif((s.volts_min + s.volts_max) / 2, 0) as nominal_v,
            least(b.dependable_ah / nullif(s.capacity_ah * s.quantity, 0), 1) as left_share,
            s.dc_plug as plug, lower(trim(s.pack_family)) as fits, charged_as(b.chemistry) as family
        from battery as b join item as s using (item_id)
    ), unmet as (   -- by battery and charger for another family of packs, or whose plugs are told and do not mate with the battery's
        select c.*, b.item_id, b.plug, coalesce(c.fits <> b.fits, false) as is_other
        from charger as c
        join store as b on b.kit_id = c.kit_id and b.is_pack = c.is_pack and b.family = c.family
        where is_other or coalesce(c.near, c.far) is not null and b.plug is not null
            and list_contains($mating, c.near || ' ' || b.plug) is not true
            and list_contains($mating, c.far || ' ' || b.plug) is not true
    ), misfit as (   -- by battery: the amperes of such that no lead of the kit joins to it either
        select u.item_id, sum(u.amps) as amps, sum(u.may_amps) as may_amps
        from unmet as u
        left join (
            select kit_id, unnest([dc_plug, dc_plug_far]) as here, unnest([dc_plug_far, dc_plug]) as there
            from item where role = 'lead' and is_usable and kit_id in (select kit_id from unmet)
        ) as l on l.kit_id = u.kit_id and not u.is_other
            and coalesce(list_contains($mating, l.there || ' ' || u.plug), true)
            and (l.here is null
                or list_contains($mating, u.near || ' ' || l.here)
                or list_contains($mating, u.far || ' ' || l.here))
        where l.kit_id is null
        group by u.item_id
    ), charging as (   -- by kit and what chargers are for: the amperes of all of these
        select kit_id, is_pack, family, sum(amps) as amps, sum(may_amps) as may_amps from charger group by all
    ), straight as (   -- by radio and battery that feeds it without a converter
        select r.supply_id, b.item_id, 1.0 as gain, r.volts_min as stop_v, false as is_converted,
            case when a.item_id is null then true else a.is_straight end as is_joined
        from radio as r
        join store as b on b.kit_id = r.kit_id and b.is_pack = r.is_handheld
        left join apart as a on a.item_id = b.item_id and a.radio_item_id = r.item_id
        where coalesce(b.volts_max >= r.volts_min and b.volts_min <= r.volts_max, true) and is_joined is distinct from false
    ), converted as (   -- by radio and kind of converter that fits it, or may: volts that it delivers, NULL if none certainly fits
        select supply_id, item_id, kit_id, is_handheld, kind, min(middle_v) filter (is_fit) as out_v,
            bool_or(could_fit and is_fit is null) as is_doubtful
        from (
            select r.supply_id, r.item_id, r.kit_id, r.is_handheld, c.kind, (c.volts_min + c.volts_max) / 2 as middle_v,
                c.volts_min >= r.volts_min and c.volts_max <= r.volts_max and c.amps_rated >= r.amps_tx
                    and coalesce(lower(trim(c.pack_family)) = r.fits, true) as could_fit,
                case when c.condition = 'ok' or not could_fit then could_fit end as is_fit
            from radio as r
            join item as c on c.kit_id = r.kit_id and c.role = 'converter' and c.is_usable
        )
        where is_fit is distinct from false
        group by all
    ), way as (   -- by radio, battery and way between them
        from straight
        union all
        select v.supply_id, b.item_id,
            v.out_v / ($converter_share * b.nominal_v) / case when {IN_SERIES} then $converter_share else 1 end,
            case when v.kind = 'buck_converter' and a.is_buck_in_series is not true
                then greatest(v.out_v, $converter_volts_min) else $converter_volts_min end,
            true,
            case when a.item_id is null then true
                 when v.kind = 'boost_converter' then a.is_boosted
                 when v.kind = 'buck_converter' then a.is_bucked
                 else a.is_stepped end as is_joined
        from converted as v
        join store as b on b.kit_id = v.kit_id and not b.is_pack
        left join apart as a on a.item_id = b.item_id and a.radio_item_id = v.item_id
        where is_joined is distinct from false
            and (v.out_v is not null or v.is_doubtful or v.supply_id not in (select supply_id from straight))
            and not (v.is_handheld and b.item_id in (select item_id from straight))
    )
    select w.supply_id, b.item_id, b.quantity, b.chemistry, b.nominal_v,
        w.is_joined, w.is_converted, w.gain, w.stop_v,
        case when w.is_joined then b.dependable_ah / b.quantity end as piece_ah,
        case when b.charged_days > b.charge_end_days then 0 else b.charge_left_share end as charge_left_share,
        c.usable_share, c.peukert, c.cell_ohm_ah, $cold_doubles_k as cold_doubles_k,
        coalesce(left_share * (1 + ($aged_resistance - 1) * (1 - left_share) / nullif(1 - $age_factor, 0)), 1) as worn_times,
        round(coalesce(g.amps, 0) - coalesce(m.amps, 0), 6) as charger_a,
        round(coalesce(g.may_amps, 0) - coalesce(m.may_amps, 0), 6) as charger_may_a,
        c.charge_min_c, c.charge_max_c, c.charge_per_h, c.given_back_share,
        b.kind is not distinct from 'power_station' as has_vehicle_lead
    from way as w
    join store as b using (item_id)
    join chemistry as c on c.chemistry = b.chemistry
    left join charging as g on g.kit_id = b.kit_id and g.is_pack = b.is_pack and g.family = b.family
    left join misfit as m on m.item_id = b.item_id
    union all by name   -- a battery of which nobody tells what it is
    select r.supply_id, i.item_id, i.quantity, r.volts_min as stop_v, 1.0 as gain, false as is_converted, false as has_vehicle_lead
    from radio as r join item as i using (kit_id)
    where i.kind = 'battery' and i.chemistry is null and i.is_usable and not r.is_handheld
        and r.supply_id not in (select supply_id from way)
        and (i.item_id, r.item_id) not in (select (item_id, radio_item_id) from apart where not is_straight)
"""
"""Rows of the table feed."""
SUPPLY = f"""
    with {RADIO}, fed as (   -- by radio: the bank of all that feeds it
        select f.supply_id, sum(f.piece_ah * f.quantity) as bank_ah,
            bool_or(b.how = 'assumed') as is_bank_assumed,
            bool_or(b.charge_left_share is null) as is_charge_assumed,
            list(s.line order by s.line) as lines
        from (select supply_id, item_id, quantity, max(piece_ah) as piece_ah from feed group by all) as f
        left join battery as b using (item_id)
        join item as s using (item_id)
        where s.role in ('source', 'pack')
        group by f.supply_id
    ), open as (   -- by radio: names of batteries of which nobody tells whether they are joined to it
        select supply_id, string_agg(item, ', ' order by line) as open_items
        from (select supply_id, item_id from feed group by all having bool_or(is_joined) is not true)
        join item using (item_id)
        where role in ('source', 'pack')
        group by supply_id
    ), link as (
        -- by radio, rung and thing that may stand there, the radio itself for a lead that no line tells; the first
        -- rank counts
        select w.item_id, w.rung, $metre_ohm * i.length_m / i.wire_mm2 as wire_ohm,
            case when i.kind in ('dc_lead', 'clip_lead', 'socket_lead') or i.item_id = w.item_id
                then coalesce(wire_ohm, $lead_ohm) else wire_ohm end as ohm,
            case when i.item_id = w.item_id then 1
                 else case when i.amps_rated < w.amps_tx then 8 else 0 end
                     + case when i.condition = 'ok' then 0 else 4 end
                     + case when i.is_spare then 2 else 0 end end as rank
        from (
            select radio_item_id as item_id, amps_tx, rung, item_id as link_id from chain
            union all
            select r.item_id, r.amps_tx, 1, l.item_id
            from radio as r
            join item as l on l.kit_id = r.kit_id and l.kind in ('dc_lead', 'clip_lead', 'socket_lead')
                and l.is_usable and not l.is_spare
            where not r.is_handheld and coalesce(l.amps_rated >= r.amps_tx, true)
                and r.item_id not in (select radio_item_id from chain)
            union all
            select item_id, amps_tx, 1, item_id from radio
            where not is_handheld and item_id not in (select radio_item_id from chain)
        ) as w
        join item as i on i.item_id = w.link_id
    ), path as (   -- by radio: resistance of the way to it, by the worst and by the best of its leads
        select item_id,
            sum(ohm) + (count(*) - 1) * $contact_ohm as ohm,
            sum(least_ohm) + (count(*) - 1) * $contact_ohm as least_ohm
        from (
            select item_id, arg_min(least_ohm, rank) as least_ohm,
                greatest(arg_min(most_ohm, rank), case when min(rank) = 1 then max(most_ohm) filter (rank = 4) end) as ohm
            from (select item_id, rung, rank, max(ohm) as most_ohm, min(ohm) as least_ohm from link group by all)
            group by item_id, rung
        )
        group by item_id
    ), eliminated as (   -- by handheld of a kit without another radio that runs on what its 12 V lead delivers
        select distinct r.item_id
        from radio as r
        join item as e on e.kit_id = r.kit_id and e.volts_min >= r.volts_min and e.volts_max <= r.volts_max
            and e.amps_rated >= r.amps_tx and coalesce(lower(trim(e.pack_family)) = r.fits, true)
        where r.is_handheld and e.kind = 'handheld_dc_lead' and e.is_usable
            and r.kit_id not in (select kit_id from radio where not is_handheld)
    ), hung as (   -- by radio that is joined to a mains supply, or may be: whether one is that certainly works, and which may be joined
        select supply_id, nullif(bool_or(is_joined and is_sure), false) as is_sure,
            string_agg(item, ', ' order by line) filter (is_joined is null) as open_items
        from (
            select r.supply_id, i.item, i.line, i.condition = 'ok' as is_sure,
                case when a.item_id is null then true
                     when r.is_handheld then a.is_converted
                     else a.is_straight or a.is_converted end as is_joined
            from radio as r
            join item as i on i.kit_id = r.kit_id and i.kind in ('supply_30a', 'power_station') and i.is_usable
            left join apart as a on a.item_id = i.item_id and a.radio_item_id = r.item_id
            where not r.is_handheld or r.item_id in (select item_id from eliminated)
        )
        where is_joined is distinct from false
        group by supply_id
    ), told as (   -- by panel and charge controller of told plugs
        select item_id, kit_id, role, volts_max, dc_plug, dc_plug_far
        from item
        where is_usable and (
            role = 'solar' and coalesce(dc_plug, dc_plug_far) is not null
            or role = 'charger' and kind in ('charge_controller_mppt', 'charge_controller_pwm')
                and dc_plug is not null and dc_plug_far is not null
        )
    ), sunless as (   -- by such that mates with nothing that could join it
        select item_id from told where item_id not in (
            select s.item_id
            from told as s
            join item as t on t.kit_id = s.kit_id and t.is_usable and t.role in ('lead', 'source', 'charger', 'solar')
                and (t.role = 'lead'
                    or t.role = 'source' and t.chemistry is not null and (s.role <> 'solar' or s.volts_max <= $regulated_v)
                    or t.role <> s.role and (t.role = 'solar' or t.kind in ('charge_controller_mppt', 'charge_controller_pwm')))
                and (t.dc_plug is null or t.role in ('lead', 'charger') and t.dc_plug_far is null
                    or list_has_any($mating, [
                        s.dc_plug || ' ' || t.dc_plug, s.dc_plug || ' ' || t.dc_plug_far,
                        s.dc_plug_far || ' ' || t.dc_plug, s.dc_plug_far || ' ' || t.dc_plug_far
                    ]))
        )
    ), other as (   -- by kit: what else draws all the time, and what its panels and charge controllers give
        select kit_id,
            sum(on_a * quantity * case
                    when $bus_v between volts_min and volts_max or role = 'converter' then 1.0
                    else coalesce((volts_min + volts_max) / 2 / ($bus_v * $converter_share), 1.0) end)
                filter (role not in ('source', 'charger', 'solar') and cell_size is null and not is_spare) as accessory_a,
            sum(solar_watts * quantity) filter (role = 'solar') as may_panel_w,
            sum(solar_watts * quantity) filter (role = 'solar' and is_sure) as panel_w,
            sum(solar_watts * quantity) filter (role = 'solar' and volts_max <= $regulated_v) as may_regulated_w,
            sum(solar_watts * quantity) filter (role = 'solar' and volts_max <= $regulated_v and is_sure) as regulated_w,
            max(share) as may_controller_share,
            max(share) filter (is_sure) as controller_share,
            sum(amps_rated * quantity) filter (share > 0) as controller_may_a,
            sum(amps_rated * quantity) filter (share > 0 and is_sure) as controller_a
        from (
            select kit_id, kind, role, quantity, condition, condition = 'ok' as is_sure, solar_watts, amps_rated,
                volts_min, volts_max, cell_size, is_spare,
                case when role = 'other_radio' then amps_rx else amps_idle end as on_a,
                case kind when 'charge_controller_mppt' then $mppt when 'charge_controller_pwm' then $pwm end as share
            from item
            where is_usable
                and (role in ('source', 'charger')
                    or role = 'solar' and coalesce(volts_max >= $bus_v, true)
                    or on_a > 0 and role not in ('radio', 'pack', 'solar') and (role <> 'other_radio' or capacity_ah is null))
                and item_id not in (select item_id from sunless)
        )
        group by kit_id
    )
    select r.supply_id, r.kit_id, r.item_id as radio_item_id, r.is_main, r.is_handheld, r.bands,
        r.amps_tx, r.amps_rx, r.amps_idle, r.rf_watts, r.is_load_assumed,
        r.amps_tx_low, r.rf_watts_low, r.is_low_load_assumed,
        case when r.is_handheld then 0 else coalesce(o.accessory_a, 0) + $accessory_w / $bus_v end as accessory_a,
        case when f.supply_id is null then 0 else f.bank_ah end as bank_ah,
        coalesce(f.is_bank_assumed, false) as is_bank_assumed,
        coalesce(f.is_charge_assumed, false) as is_charge_assumed,
        case when r.is_handheld then 0 else coalesce(p.ohm, $lead_ohm) + 4 * $contact_ohm + $fuse_ohm end as path_ohm,
        case when r.is_handheld then 0 else coalesce(p.least_ohm, $lead_ohm) + 4 * $contact_ohm + $fuse_ohm end as path_least_ohm,
        case when h.supply_id is null then false else h.is_sure end as has_mains_supply,
        case when r.is_handheld then 0
             else coalesce(o.panel_w * o.controller_share, o.regulated_w * $pwm, 0) end as solar_w,
        case when r.is_handheld then 0
             else coalesce(o.may_panel_w * o.may_controller_share, o.may_regulated_w * $pwm, 0) end as solar_may_w,
        o.controller_a, o.controller_may_a,
        list_concat([r.line], coalesce(f.lines, [])) as lines,
        nullif(concat_ws(', ', u.open_items, h.open_items), '') as open_items,
        f.supply_id is null and r.item_id in (
            select radio_item_id from apart join battery using (item_id) where is_pack = r.is_handheld and not is_straight
        ) as has_apart
    from radio as r
    left join fed as f on f.supply_id = r.supply_id
    left join open as u on u.supply_id = r.supply_id
    left join path as p on p.item_id = r.item_id
    left join other as o on o.kit_id = r.kit_id
    left join hung as h on h.supply_id = r.supply_id
"""
"""Rows of the table supply."""


def battery(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pa.Table]:
    """Each store of energy that works: capacity to count on (Ah), energy of it to use (Wh), age, days since charged.

    Measured capacity counts before the rating, but never for more than a rating that is told: what a slow or warm discharge
    gave beyond it is no reserve (common practice). A battery not measured within the policy's years is taken at the
    policy's age factor of its rating once it is as old, or at what was measured before, where that is less. It is at
    least as old as its test; one without either date is taken as new, and marked assumed.

    What one that tells no rating carries (A) is the low end of what batteries of its chemistry and size usually do
    (data/reference/ratings.csv): less the policy's share for what is only assumed.
    """
    told = columns(
        con,
        """
        with store as (
            select i.item_id, i.kit_id, i.kind, i.chemistry, i.chemistry_is_assumed, i.role = 'pack' as is_pack, i.is_spare,
                i.acquired, i.tested, i.stored_charge_share, case when i.amps_rated is null then i.capacity_ah end as unrated_ah,
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
        select item_id, kit_id, cast(kind as varchar) as kind, chemistry, chemistry_is_assumed, is_pack, is_spare, acquired, tested,
            stored_charge_share, unrated_ah, dependable_ah, dependable_ah * usable_share * middle_v as usable_wh,
            age_years, charged_days, charge_limit_days, charge_limit_days * $empty_after as charge_end_days,
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
        chemistry = each_word(told["chemistry"], cells.places)[dated]
        left[dated] = cells.self_discharge_remaining(chemistry, days[dated], loss_per_month_share=lost[dated])
    least = 1 - float(policy.facts["range_share"])
    usual = least * _usual_a(told["chemistry"], floats(told.pop("unrated_ah")))
    return {"battery": table(told | {"charge_left_share": left, "usual_a": usual})}


def _usual_a(chemistry: Any, capacity_ah: Floats) -> Floats:
    """Rated current (A) of batteries of a chemistry and capacity (Ah): that of the next smaller in the list; NaN where not known."""
    usual, ratings = np.full(len(capacity_ah), np.nan), _ratings()
    place = {word: number for number, word in enumerate(ratings)}
    listed = each_word(chemistry, lambda words: np.array([place.get(word, -1) for word in words], np.int64))
    for number, (sizes_ah, amps) in enumerate(ratings.values()):
        is_such = np.flatnonzero((listed == number) & (capacity_ah > 0))
        usual[is_such] = amps[np.searchsorted(sizes_ah, capacity_ah[is_such], "right")]
    return usual


@cache
def _ratings() -> dict[str, tuple[Floats, Floats]]:
    """By chemistry: sizes (Ah) in order, and the rated currents (A) below the first and from each on."""
    return {
        str(word): (rows["least_ah"].to_numpy(float), np.array([np.nan, *rows["amps_rated"]]))
        for word, rows in reference.table("ratings").groupby("chemistry")
    }


def supply(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """Each radio that works, and (feed) every battery of its kit that could feed it.

    What feeds what:

    - A handheld is fed by its kit's packs, other radios by the batteries, where plugs, leads, volts and amperes join them
      (`apart`, `rules.facts.station_feed`; figures and families of packs not told are taken to fit).
    - One of which nobody tells whether it is joined counts, where another is, in the high end of the hours alone.
    - A battery that feeds a radio straight is not counted on for a handheld beside it.
    - A battery whose chemistry is not told feeds, for hours not known, a radio that nothing else feeds.
    - What is in a battery of which nobody knows whether it works is not known; whether there is sun or a mains supply is not,
      where it hangs on such a thing.
    - A power station is a battery, and on mains a supply. A supply counts for the radios that it is joined to, for a handheld in
      a kit without another radio by its 12 V lead.
    - The main radio of a kit is the first that is no spare and no handheld, else the first.

    Through a converter, by which a battery may have a second way to a radio:

    - A battery that is no pack also feeds a radio through a converter of the kit that delivers what the radio takes and carries
      its peak. What it accepts is not told; a buck converter stops at what it delivers and takes no battery whose middle is not
      above that, a boost converter none that stays above it.
    - Before that converter may be another, if none of its sort hangs on the battery itself: its losses count too, and a battery
      is taken to feed it down to where any converter stops.
    - A converter whose figures are not told counts, as not known, where nothing else feeds the radio, and one of which nobody is
      sure whether it works so too beside what does.

    What charges:

    - A battery's charger is what its kit has for its chemistry, unless both tell plugs and neither these mate nor one lead of the
      kit joins them, or both tell a family of packs and not the same; one for lead-acid serves all three sorts.
    - A panel counts for nothing that gives less than 12 V, and so does a panel or a charge controller that tells its plugs, where
      these mate with no lead of the kit and with nothing that it would be joined to straight.

    The path (ohm) is that of the shortest way to the radio by the plugs of its kit, whichever battery it begins at (`chain`): its
    leads there and back, a pair of contacts at each joint, at the battery and at the fuse, and the fuse. Of leads that fit the
    same place those count that carry the radio, work for certain and are in use, in this order and as far as there are such: the
    worst of them in path_ohm, the best in path_least_ohm, for nobody tells which is used. Where a battery mates with the radio
    itself such a lead that joins them counts, else one of usual make, and in path_ohm one in use of which nobody knows whether it
    works, if that is worse. A longer way counts for none, though its leads carry more
    than those of the shortest. A handheld hangs on none.

    Whatever else tells a current, itself or by its kind, and has no cells or pack of its own is on all the time, a receiver as it
    receives, through a converter where it does not run on 12 V; accessories that no line tells count with the policy's.
    """
    of_feed = ("converter_share", "converter_volts_min", "age_factor", "aged_resistance", "cold_doubles_k")
    of_supply = ("lead_ohm", "contact_ohm", "fuse_ohm", "accessory_w", "converter_share", "regulated_v")
    settings = {
        "metre_ohm": float(wire.lead_resistance_ohm(1.0, 1.0, policy.facts["lead_temperature_c"])),
        "bus_v": BUS_V,
        "mppt": policy.facts["mppt_share"],
        "pwm": policy.facts["pwm_share"],
        "mating": mated(),
    }
    return {
        "feed": Select(FEED, {name: policy.facts[name] for name in of_feed} | {"mating": mated()}),
        "supply": Select(SUPPLY, {name: policy.facts[name] for name in of_supply} | settings),
    }


@cache
def mated() -> list[str]:
    """Plugs that mate, with a space between them, either first."""
    return sorted({f"{a} {b}" for pair in reference.mating_pairs() for a, b in (pair, pair[::-1])})
