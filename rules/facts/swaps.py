"""Whether the gear of two kits at one post can stand in for one another."""

from __future__ import annotations

from datetime import date

import duckdb

from rules.facts.select import Select
from rules.policy import Policy


def swap(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """Each ordered pair of kits that meet at a post: does the first's gear work in the second's main station?

    Kits meet where one is there with the other or takes over from it. Plugs are followed through the leads and converters, or
    the coax and adapters, of both kits as far as they mate.

    - Power is asked for where the first kit has a battery, or a pack for a second whose main radio is a handheld; its battery is
      asked for such a one only where an eliminator lies there.
    - Voltage ranges must overlap, those of what a converter gives behind one. No booster stands behind more volts than it gives,
      no step down behind less.
    - What gives or leads power carries the radio's current on transmit, before a converter what the lowest of these takes in.
    - Bands must be shared. What is not told of volts, currents and bands is taken to fit.
    - Packs and eliminators fit their own family alone; an eliminator that lies beside the radio is taken to be of its own.

    NULL: no way is found for certain, and a plug or family on a possible way is not told, or nobody is sure whether a thing on it
    works; the first such thing of a way is power_doubt or antenna_doubt (item_id).
    """
    rows = Select(
        """
        with recursive pair as (
            select distinct a.post_id, a.kit_id as from_kit_id, b.kit_id as to_kit_id
            from assignment as a join assignment as b on b.post_id = a.post_id and b.kit_id <> a.kit_id
                and b.starts <= a.ends and b.ends >= a.starts
        ), two as (
            select distinct from_kit_id, to_kit_id from pair
        ), side as (   -- apart, as one condition on both kits would look at every item for each pair
            select from_kit_id, to_kit_id, unnest([from_kit_id, to_kit_id]) as kit_id from two
        ), joint as (
            select plug_a as a, plug_b as b from mating where mates union select plug_b, plug_a from mating where mates
        ), radio as (
            select t.from_kit_id, t.to_kit_id, s.is_handheld, r.dc_plug, r.rf_plug, r.volts_min, r.volts_max, r.bands,
                lower(trim(r.pack_family)) as fits, r.amps_tx
            from two as t join supply as s on s.kit_id = t.to_kit_id and s.is_main join item as r on r.item_id = s.radio_item_id
        ), fed as (   -- what could give power on either end of a way, and whether as the radio wants it
            select r.from_kit_id, r.to_kit_id, i.kit_id = r.from_kit_id as is_lent, i.role = 'converter' as is_converter,
                i.dc_plug as a, i.dc_plug_far as b, i.kind = 'handheld_dc_lead' as is_eliminator,
                i.role = 'pack' or i.kind = 'handheld_dc_lead' as is_of_family,
                case when is_of_family then coalesce(lower(trim(i.pack_family)) = r.fits,
                    case when is_eliminator and not is_lent then true end)
                     else coalesce(i.volts_max >= r.volts_min and i.volts_min <= r.volts_max, true) end as is_right,
                coalesce(i.amps_rated >= r.amps_tx, true) or i.kind = 'dry_cell_shell' as is_strong,
                case when i.condition <> 'ok' then i.item_id end as doubt,
                cast(i.kind as varchar) as kind, i.amps_rated, r.amps_tx, i.volts_min as low_v,
                (i.volts_min + i.volts_max) / 2 as middle_v
            from radio as r join side using (from_kit_id, to_kit_id) join item as i using (kit_id)
            where i.is_usable and (i.role = 'converter' or i.role = 'source' and i.chemistry is not null
                or i.role = 'pack' and r.is_handheld)
        ), source as (
            from fed where is_lent and not is_converter
        ), drawn as (   -- what the lowest converter for the radio takes in
            select from_kit_id, to_kit_id, min(middle_v) * any_value(amps_tx) / $converter_share as watts
            from fed where is_converter and is_right and is_strong group by from_kit_id, to_kit_id
        ), begun as (   -- straight to the radio, or to a converter
            select from_kit_id, to_kit_id, a, true as is_right, doubt, amps_tx as amps, low_v, middle_v
            from source where is_strong and is_right
            union all
            select from_kit_id, to_kit_id, a, false, doubt, watts / middle_v, low_v, middle_v
            from source join drawn using (from_kit_id, to_kit_id)
            where not is_of_family and coalesce(amps_rated >= watts / middle_v, true)
        ), lent_power as (
            select s.from_kit_id, s.to_kit_id from source as s join radio as r using (from_kit_id, to_kit_id)
            where s.is_of_family or not r.is_handheld or exists (from fed as f
                where f.from_kit_id = s.from_kit_id and f.to_kit_id = s.to_kit_id and f.is_eliminator
                    and f.is_right is distinct from false)
            group by s.from_kit_id, s.to_kit_id
        ), aerial as (
            select r.from_kit_id, r.to_kit_id, i.rf_plug as plug, case when i.condition <> 'ok' then i.item_id end as doubt,
                coalesce(list_has_any(string_split(i.bands, ' '), string_split(r.bands, ' ')), true) as is_shared
            from radio as r join item as i on i.kit_id = r.from_kit_id
            where i.is_usable and i.role = 'antenna' and (r.is_handheld or i.kind <> 'whip')
        ), link as (
            select r.from_kit_id, r.to_kit_id, i.role <> 'lead' as is_rf,
                case when i.role = 'lead' then i.dc_plug else i.rf_plug end as a,
                case when i.role = 'lead' then i.dc_plug_far else i.rf_plug_far end as b,
                case when i.condition <> 'ok' then i.item_id end as doubt,
                case when i.role = 'lead' then i.amps_rated end as amps, coalesce(amps >= r.amps_tx, true) as is_strong
            from radio as r join side using (from_kit_id, to_kit_id) join item as i using (kit_id)
            where i.is_usable and i.role in ('lead', 'coax', 'rf_adapter') and i.kind <> 'extension_cord'
        ), way as (
            select from_kit_id, to_kit_id, is_rf, a, b, doubt, amps, null::boolean as gives_right,
                null::varchar as kind, null::double as low_v, null::double as middle_v
            from link
            union select from_kit_id, to_kit_id, is_rf, b, a, doubt, amps, null, null, null, null from link
            union select from_kit_id, to_kit_id, false, a, b, doubt,
                case when is_right then amps_tx else watts / middle_v end, coalesce(is_right, false),
                kind, low_v, middle_v
            from fed left join drawn using (from_kit_id, to_kit_id) where is_converter and is_strong
        ), reached as (
            select from_kit_id, to_kit_id, false as is_rf, a as plug, is_right, doubt, amps, low_v, middle_v from begun
            union select from_kit_id, to_kit_id, true, rf_plug, true, null, null, null, null from radio
            union
            select w.from_kit_id, w.to_kit_id, w.is_rf, w.b, coalesce(w.gives_right, r.is_right), coalesce(r.doubt, w.doubt),
                case when w.gives_right is null then r.amps else w.amps end,
                case when w.gives_right is null then r.low_v else w.low_v end,
                case when w.gives_right is null then r.middle_v else w.middle_v end
            from reached as r join joint as j on j.a = r.plug
            join way as w on w.from_kit_id = r.from_kit_id and w.to_kit_id = r.to_kit_id and w.is_rf = r.is_rf and w.a = j.b
            where w.b is not null and case when w.gives_right is null then coalesce(w.amps >= r.amps, true)
                else not r.is_right
                    and coalesce(case w.kind when 'boost_converter' then r.low_v <= w.middle_v
                        when 'buck_converter' then r.middle_v > w.middle_v end, true) end
        ), met as (   -- plugs that join to what is reached, and what stands in doubt on every way there
            select x.from_kit_id, x.to_kit_id, x.is_rf, j.b as plug, case when count(*) = count(x.doubt) then min(x.doubt) end as doubt
            from reached as x join joint as j on j.a = x.plug where x.is_rf or x.is_right group by all
        ), open_link as (
            select from_kit_id, to_kit_id, bool_or(not is_rf) as is_dc_open, bool_or(is_rf) as is_rf_open
            from link where is_strong and (a is null or b is null) group by from_kit_id, to_kit_id
        ), open_power as (   -- a converter that may join to the radio, a family that may be the same
            select distinct f.from_kit_id, f.to_kit_id
            from fed as f join radio as r using (from_kit_id, to_kit_id)
            where f.is_strong and (f.is_right is null and (f.is_lent or f.is_converter) or f.is_converter
                and f.is_right and (f.b is null
                or f.a is null and exists (from joint as j where j.a = f.b and j.b = r.dc_plug)))
        ), power as (
            select r.from_kit_id, r.to_kit_id,
                case when m.plug is not null then m.doubt is null end as is_found, m.doubt,
                exists (from fed as s where s.from_kit_id = r.from_kit_id and s.to_kit_id = r.to_kit_id
                    and (s.is_lent or s.is_converter) and s.is_strong and s.is_right is distinct from false) as is_fed,
                r.dc_plug is null or coalesce(o.is_dc_open, false) or f.from_kit_id is not null or exists (from source as s
                    where s.from_kit_id = r.from_kit_id and s.to_kit_id = r.to_kit_id and s.a is null and s.is_strong) as is_open
            from radio as r join lent_power using (from_kit_id, to_kit_id)
            left join met as m on m.from_kit_id = r.from_kit_id and m.to_kit_id = r.to_kit_id and not m.is_rf and m.plug = r.dc_plug
            left join open_power as f using (from_kit_id, to_kit_id)
            left join open_link as o using (from_kit_id, to_kit_id)
        ), air as (
            select r.from_kit_id, r.to_kit_id,
                bool_or(coalesce(a.doubt, m.doubt) is null) filter (a.is_shared and m.plug is not null) as is_found,
                min(coalesce(a.doubt, m.doubt)) filter (a.is_shared and m.plug is not null) as doubt,
                bool_or(a.is_shared) as is_shared,
                bool_or(r.rf_plug is null or a.plug is null and a.is_shared or coalesce(o.is_rf_open, false)) as is_open
            from radio as r join aerial as a using (from_kit_id, to_kit_id)
            left join met as m on m.from_kit_id = r.from_kit_id and m.to_kit_id = r.to_kit_id and m.is_rf and m.plug = a.plug
            left join open_link as o using (from_kit_id, to_kit_id)
            group by r.from_kit_id, r.to_kit_id
        )
        select p.post_id, p.from_kit_id, p.to_kit_id, w.from_kit_id is not null as is_power_asked,
            case when w.is_found then true when not w.is_found or w.is_fed and w.is_open then null
                when w.from_kit_id is not null then false end
                as has_power_fit,
            case when not w.is_found then w.doubt end as power_doubt,
            a.from_kit_id is not null as is_antenna_asked,
            case when a.is_found then true when not a.is_found or a.is_shared and a.is_open then null
                when a.from_kit_id is not null then false end
                as has_antenna_fit,
            case when not a.is_found then a.doubt end as antenna_doubt
        from pair as p
        left join power as w using (from_kit_id, to_kit_id)
        left join air as a using (from_kit_id, to_kit_id)
        """,
        {"converter_share": policy.facts["converter_share"]},
    )
    return {"swap": rows}
