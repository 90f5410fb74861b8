"""What each kit holds, and how far it has been rehearsed."""

from __future__ import annotations

from datetime import date, timedelta

import duckdb

from rules.facts.select import Select
from rules.policy import Policy

STAGES = ("bench", "room", "yard", "park", "site", "event")


def holding(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """Counts per kit of radios, antennas and sources that work, the peak DC current and the weight.

    Spares count: a second radio on the shelf of the kit is a second radio. Items taken out or faulty do not, nor does what
    cannot send on the club's channels (role other_radio in kinds.csv: receivers, licence-free handhelds). What is faulty and
    not taken out is carried all the same, and weighs. A spare mobile that nothing in the kit can put on the air (idle_radio)
    draws nothing through its leads, and makes it no mobile's kit.
    """
    rows = Select(
        """
        with mobile as (
            select kit_id, max(amps_tx) as peak_a from item
            where role = 'radio' and is_usable and kind <> 'handheld' and item_id not in (select item_id from idle_radio) group by kit_id
        )
        select kit_id,
            coalesce(sum(quantity) filter (role = 'radio'), 0) as radios,
            coalesce(sum(quantity) filter (role = 'antenna'), 0) as antennas,
            coalesce(sum(quantity) filter (role = 'antenna' and kind <> 'whip'), 0) as antennas_apart,
            coalesce(sum(quantity) filter (role = 'source' and kind not in ('supply_30a', 'generator')), 0) as batteries,
            coalesce(sum(quantity) filter (role = 'pack'), 0) as packs,
            coalesce(sum(quantity) filter (kind = 'handheld'), 0) as handhelds,
            kit_id in (select kit_id from mobile) as has_mobile, any_value(mobile.peak_a) as peak_a,
            coalesce(bool_or(kind in ('mast_fibreglass', 'mast_metal')), false) as has_mast,
            coalesce(list(i.line order by i.line) filter (role = 'radio'), []) as radio_lines,
            coalesce(list(i.line order by i.line) filter (role = 'antenna'), []) as antenna_lines,
            coalesce(list(i.line order by i.line) filter (role = 'pack'), []) as pack_lines,
            round(sum(weight_kg * quantity), 3) as weight_kg,
            count(*) filter (weight_kg is null) = 0 as is_weight_known
        from kit left join (
            select kit_id, line, quantity, weight_kg, case when is_usable then role end as role, case when is_usable then kind end as kind
            from item where is_usable or condition <> 'removed'
        ) as i using (kit_id) left join mobile using (kit_id)
        group by kit_id
        """
    )
    return {"holding": rows}


def practice(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """The highest stage that each kit was tried at (1 bench … 6 event), with the latest date; none is 0.

    What lies further back than the policy's years is no step of the ladder: things were exchanged since, and hands forget.
    """
    rows = Select(
        """
        with latest as (select kit_id, arg_max(trips_back, date) as trips_back from rehearsal group by kit_id)
        select kit.kit_id, coalesce(max(list_position($stages, stage)) filter (r.date >= $since), 0) as ladder, max(r.date) as last_rehearsed,
            any_value(l.trips_back) as trips_back, max(hours_on_battery) as longest_battery_h
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
