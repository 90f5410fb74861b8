"""Whether the gear of two kits at one post can stand in for one another."""

from __future__ import annotations

from datetime import date

import duckdb

from rules.facts.select import Select
from rules.policy import Policy


def swap(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """Each ordered pair of kits that meet at a post: does the first's gear work in the second's main station?

    Kits meet where one is there with the other or takes over from it. Plugs are followed through the leads, or the
    coax and adapters, of both kits as far as they mate. A battery is asked for where the first kit has one and the
    second's main radio is no handheld (a pack fits only its own family, which is not told). Voltage ranges must
    overlap and bands be shared; what is not told is taken to fit there. NULL: no way is found, and a plug on a
    possible way is not told.
    """
    rows = Select(
        """
        with recursive pair as (
            select distinct a.post_id, a.kit_id as from_kit_id, b.kit_id as to_kit_id
            from assignment as a join assignment as b on b.post_id = a.post_id and b.kit_id <> a.kit_id
                and b.starts <= a.ends and b.ends >= a.starts
        ), two as (
            select distinct from_kit_id, to_kit_id from pair
        ), joint as (
            select plug_a as a, plug_b as b from mating where mates union select plug_b, plug_a from mating where mates
        ), radio as (
            select t.from_kit_id, t.to_kit_id, s.is_handheld, r.dc_plug, r.rf_plug, r.volts_min, r.volts_max, r.bands
            from two as t join supply as s on s.kit_id = t.to_kit_id and s.is_main join item as r on r.item_id = s.radio_item_id
        ), source as (
            select r.from_kit_id, r.to_kit_id, i.dc_plug as plug
            from radio as r join item as i on i.kit_id = r.from_kit_id
            where i.is_usable and i.role = 'source' and i.chemistry is not null and not r.is_handheld
                and coalesce(i.volts_max >= r.volts_min and i.volts_min <= r.volts_max, true)
        ), lent_power as (
            select distinct r.from_kit_id, r.to_kit_id
            from radio as r join item as i on i.kit_id = r.from_kit_id
            where i.is_usable and i.role = 'source' and i.chemistry is not null and not r.is_handheld
        ), aerial as (
            select r.from_kit_id, r.to_kit_id, i.rf_plug as plug,
                coalesce(list_has_any(string_split(i.bands, ' '), string_split(r.bands, ' ')), true) as is_shared
            from radio as r join item as i on i.kit_id = r.from_kit_id
            where i.is_usable and i.role = 'antenna' and (r.is_handheld or i.kind <> 'whip')
        ), link as (
            select t.from_kit_id, t.to_kit_id, i.role <> 'lead' as is_rf,
                case when i.role = 'lead' then i.dc_plug else i.rf_plug end as a,
                case when i.role = 'lead' then i.dc_plug_far else i.rf_plug_far end as b
            from two as t join item as i on i.kit_id in (t.from_kit_id, t.to_kit_id)
            where i.is_usable and i.role in ('lead', 'coax', 'rf_adapter') and i.kind <> 'extension_cord'
        ), way as (
            select from_kit_id, to_kit_id, is_rf, a, b from link union select from_kit_id, to_kit_id, is_rf, b, a from link
        ), reached as (
            select from_kit_id, to_kit_id, false as is_rf, plug from source
            union select from_kit_id, to_kit_id, true, rf_plug from radio
            union
            select w.from_kit_id, w.to_kit_id, w.is_rf, w.b
            from reached as r join joint as j on j.a = r.plug
            join way as w on w.from_kit_id = r.from_kit_id and w.to_kit_id = r.to_kit_id and w.is_rf = r.is_rf and w.a = j.b
            where w.b is not null
        ), open_link as (
            select from_kit_id, to_kit_id, bool_or(not is_rf) as is_dc_open, bool_or(is_rf) as is_rf_open
            from link where a is null or b is null group by from_kit_id, to_kit_id
        ), power as (
            select r.from_kit_id, r.to_kit_id,
                exists (from reached as x join joint as j on j.a = x.plug
                    where x.from_kit_id = r.from_kit_id and x.to_kit_id = r.to_kit_id and not x.is_rf and j.b = r.dc_plug) as is_found,
                exists (from source as s where s.from_kit_id = r.from_kit_id and s.to_kit_id = r.to_kit_id) as is_fed,
                r.dc_plug is null or coalesce(o.is_dc_open, false) or exists (from source as s
                    where s.from_kit_id = r.from_kit_id and s.to_kit_id = r.to_kit_id and s.plug is null) as is_open
            from radio as r join lent_power using (from_kit_id, to_kit_id)
            left join open_link as o using (from_kit_id, to_kit_id)
        ), air as (
            select r.from_kit_id, r.to_kit_id,
                bool_or(a.is_shared and exists (from reached as x join joint as j on j.a = x.plug
                    where x.from_kit_id = r.from_kit_id and x.to_kit_id = r.to_kit_id and x.is_rf and j.b = a.plug)) as is_found,
                bool_or(a.is_shared) as is_shared,
                bool_or(r.rf_plug is null or a.plug is null and a.is_shared or coalesce(o.is_rf_open, false)) as is_open
            from radio as r join aerial as a using (from_kit_id, to_kit_id)
            left join open_link as o using (from_kit_id, to_kit_id)
            group by r.from_kit_id, r.to_kit_id
        )
        select p.post_id, p.from_kit_id, p.to_kit_id, w.from_kit_id is not null as is_power_asked,
            case when w.is_found then true when w.is_fed and w.is_open then null when w.from_kit_id is not null then false end
                as has_power_fit,
            a.from_kit_id is not null as is_antenna_asked,
            case when a.is_found then true when a.is_shared and a.is_open then null when a.from_kit_id is not null then false end
                as has_antenna_fit
        from pair as p
        left join power as w using (from_kit_id, to_kit_id)
        left join air as a using (from_kit_id, to_kit_id)
        """
    )
    return {"swap": rows}
