"""What each kit holds, and how far it has been rehearsed."""

from __future__ import annotations

from datetime import date, timedelta

import duckdb

from rules.facts.select import Select
from rules.policy import Policy

STAGES = ("bench", "room", "yard", "park", "drill", "site", "event")


def holding(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """Counts per kit of radios, antennas and sources that work, the peak DC current, the weight and its modules.

    Spares count: a second radio on the shelf of the kit is a second radio. Items taken out or faulty do not, nor does what
    cannot send on the club's channels (role other_radio in kinds.csv: receivers, licence-free handhelds). What is faulty and
    not taken out is carried all the same, and weighs; a module (a bag or box) in which nothing works does not count. A spare
    mobile that nothing in the kit can put on the air (idle_radio) draws nothing through its leads, and makes it no mobile's
    kit.
    """
    idle = Select(
        """
        select r.item_id, r.kit_id
        from item as r
        where r.role = 'radio' and r.is_usable and r.is_spare and r.kind <> 'handheld'
            and r.kit_id in (select kit_id from item where role = 'radio' and is_usable and not is_spare)
            and (r.kit_id not in (
                    select kit_id from item where is_usable
                        and (role = 'source' or role = 'lead'
                            and ('clips' in (dc_plug, dc_plug_far) or 'j563_male' in (dc_plug, dc_plug_far)))
                ) or r.bands is not null and r.rf_plug is distinct from 'builtin' and r.item_id not in (
                    select s.item_id from item as s join item as a using (kit_id)
                    where s.role = 'radio' and s.is_spare and a.role = 'antenna' and a.is_usable and a.kind <> 'whip'
                        and coalesce(list_has_any(string_split(s.bands, ' '), string_split(a.bands, ' ')), true)
                ))
        """
    )
    rows = Select(
        """
        with mobile as (
            select kit_id, max(amps_tx) as peak_a, bool_or(amps_tx_is_assumed) as is_peak_assumed from item
            where role = 'radio' and is_usable and kind <> 'handheld'
                and item_id not in (select item_id from idle_radio) group by kit_id
        ), module as (
            select kit_id, module, sum(weight_kg * quantity) as weight_kg, count(*) = count(weight_kg) as is_weighed,
                bool_or(weight_kg_is_assumed) as is_assumed, bool_or(is_usable) as is_usable
            from item where condition <> 'removed' group by kit_id, module
        ), load as (
            select kit_id, round(sum(weight_kg), 3) as weight_kg, bool_and(is_weighed) as is_weight_known,
                bool_or(is_assumed) as is_weight_assumed, count(*) filter (is_usable) as modules,
                arg_max(module, coalesce(round(weight_kg, 3), 0)) as heaviest_module, round(max(weight_kg), 3) as module_kg
            from module group by kit_id
        ), held as (
            select kit_id,
                sum(quantity) filter (role = 'radio') as radios,
                sum(quantity) filter (role = 'antenna') as antennas,
                sum(quantity) filter (role = 'antenna' and kind <> 'whip') as antennas_apart,
                sum(quantity) filter (role = 'source' and kind not in ('supply_30a', 'generator')) as batteries,
                sum(quantity) filter (role = 'pack') as packs,
                sum(quantity) filter (kind = 'handheld') as handhelds,
                bool_or(kind in ('mast_fibreglass', 'mast_metal')) as has_mast,
                list(line order by line) filter (role = 'radio') as radio_lines,
                list(line order by line) filter (role = 'antenna') as antenna_lines,
                list(line order by line) filter (role = 'pack') as pack_lines
            from item where is_usable and role in ('radio', 'antenna', 'source', 'pack', 'mast') group by kit_id
        )
        select kit_id, coalesce(radios, 0) as radios, coalesce(antennas, 0) as antennas, coalesce(antennas_apart, 0) as antennas_apart,
            coalesce(batteries, 0) as batteries, coalesce(packs, 0) as packs, coalesce(handhelds, 0) as handhelds,
            m.kit_id is not null as has_mobile, m.peak_a, coalesce(is_peak_assumed, false) as is_peak_assumed, coalesce(has_mast, false) as has_mast,
            coalesce(radio_lines, []) as radio_lines, coalesce(antenna_lines, []) as antenna_lines,
            coalesce(pack_lines, []) as pack_lines,
            weight_kg, coalesce(is_weight_known, true) as is_weight_known, coalesce(is_weight_assumed, false) as is_weight_assumed,
            coalesce(modules, 0) as modules, heaviest_module, module_kg,
            modules is null or kit_id in (select kit_id from item
                where role in ('radio', 'antenna', 'coax', 'rf_adapter')) as is_for_air
        from kit left join held using (kit_id) left join mobile as m using (kit_id) left join load using (kit_id)
        """
    )
    return {"idle_radio": idle, "holding": rows}


def practice(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """The highest stage that each kit was tried at (1 bench … 7 event), with the latest date; none is 0.

    With the hours of its longest run on battery, and the minutes of the last set-up outdoors that was timed. What lies further
    back than the policy's years is no step of the ladder and no run: things were exchanged since, and hands forget.
    """
    rows = Select(
        """
        with latest as (   -- all of one day
            select kit_id, if(count(trips_back) = count(*), sum(trips_back), null) as trips_back from (
                from rehearsal where date <= $today qualify rank() over (partition by kit_id order by date desc) = 1
            ) group by kit_id
        )
        select kit.kit_id, coalesce(max(list_position($stages, stage)) filter (r.date >= $since), 0) as ladder,
            max(r.date) as last_rehearsed, max(r.date) filter (stage <> 'bench') as last_set_up,
            any_value(l.trips_back) as trips_back, max(hours_on_battery) filter (r.date >= $since) as longest_battery_h,
            arg_max(setup_min, (r.date, setup_min)) filter (r.date >= $since and stage not in ('bench', 'room')) as setup_min
        from kit left join rehearsal as r on r.kit_id = kit.kit_id and r.date <= $today
        left join latest as l on l.kit_id = kit.kit_id
        group by kit.kit_id
        """,
        {
            "stages": list(STAGES),
            "today": today,
            "since": today - timedelta(days=365.25 * float(policy.facts["ladder_years"])),
        },
    )
    return {"practice": rows}
