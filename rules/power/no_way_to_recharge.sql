/*
title     = "No way to recharge"
subject   = "post_kit"
severity  = "limits"
why       = "A post of a day or more, or a second one soon after, outlasts most batteries that people carry."
not_met   = "{subject}: {member}'s {kit} must last {need_h:.1f} h before it can rest, cannot carry that with margin, and has no way to charge that brings enough."
not_known = "{subject}: whether {member}'s {kit} can be charged there is not known: {untold}."
told_by   = "coordinator"
caution   = "A running engine or generator gives off carbon monoxide: outdoors only, 6 m (20 ft) from doors, windows and tents, never in a garage or under an awning. Keep a generator dry and off before it is filled; never plug one into a building's wiring. A vehicle that feeds a station with its engine off may not start again."
fix       = "Bring a second battery (20 Ah LiFePO4 about 90 to 260 USD), a 100 W panel with its controller (about 115 to 480 USD), or plan a charge at the overnight stop. Charge where someone can see it; do not charge LiFePO4 below freezing; check local rules."
source    = "common practice: solar and backup-power talks of clubs; recharge wanted beyond one day and overnight; generator 20 ft from openings, US CDC and CPSC"
applies_to = "kits with a radio that are there for a day or more, or go on soon after; after a night between they are in order with a charger that brings in those hours what the two days take beyond the bank"

[param.from_h]
value  = 24
unit   = "h"
why    = "one day on the air"
source = "common practice"

[param.rest_h]
value  = 12
unit   = "h"
why    = "time in which an empty battery is found, charged and packed again"
source = "common practice: asked where the next day starts less than 12 h later"

[param.home_h]
value  = 8
unit   = "h"
why    = "a night between two shifts, in which a kit can be charged at home or where its people sleep"
source = "common practice"

[remedy]
kind = "solar_panel"

[shared]
margin = "no_margin_on_the_clock"
*/
with goes_on as (   -- by kit at a post that has another shift before it has rested: hours that its own post does not count yet
    select post_id, kit_id, coalesce(sum(hours) filter (is_elsewhere or gap_h >= $home_h), 0) as next_h, min(gap_h) as gap_h
    from (
        select distinct a.post_id, a.kit_id, b.assignment_id, b.post_id <> a.post_id as is_elsewhere,
            date_diff('minute', b.starts, b.ends) / 60.0 as hours, date_diff('minute', a.ends, b.starts) / 60.0 as gap_h
        from assignment_utc as a
        join assignment_utc as b on b.kit_id = a.kit_id
        where b.starts >= a.ends and b.starts < a.ends + to_minutes(cast(60 * $rest_h as integer))
            and (b.post_id <> a.post_id or b.starts > a.ends)
    )
    group by post_id, kit_id
), asked as (   -- by kit at a post that is judged: for how long, and whether only as it goes on after a night
    select pk.post_kit_id, pk.post_id, pk.kit_id, pk.is_assigned, pk.need_h + coalesce(g.next_h, 0) as need_h, g.gap_h,
        pk.need_h < $from_h and g.gap_h >= $home_h as is_overnight
    from post_kit as pk
    left join goes_on as g using (post_id, kit_id)
    where pk.need_h >= $from_h or g.kit_id is not null
), held as (   -- by kit: what it has to charge with
    select kit_id,
        any_works(case when kind = 'generator' then condition end) as has_generator,
        any_works(case when kind = 'power_station' then condition end) as has_own_charger,
        string_agg('whether ' || item || ' works', ', ' order by line)
            filter (condition <> 'ok' and (role = 'charger' or kind = 'power_station')) as doubts,
        list(line order by line) filter (role in ('solar', 'charger', 'source')) as lines
    from item
    where is_usable and role in ('solar', 'charger', 'source') and kit_id in (select kit_id from asked)
    group by kit_id
), fed as (   -- by radio: what chargers put into its bank
    select s.kit_id, s.radio_item_id, s.has_mains_supply,
        coalesce(max(f.charger_a), 0) > 0 as has_charger, coalesce(max(f.charger_may_a), 0) > 0 as may_have_charger,
        max(f.charger_a) as charger_a, max(f.charger_may_a) as charger_may_a,
        sum(f.charge_per_h * f.piece_ah * f.quantity) as most_a, max(f.nominal_v) * min(f.given_back_share) as kept_v
    from supply as s
    left join feed as f using (supply_id)
    where s.kit_id in (select kit_id from asked)
    group by all
), way as (   -- by kit at a post that is judged: its ways to be charged; wanted_a: all night, for what the next day lacks
    select a.*, r.runtime_h, r.hoped_h, r.untold, r.recharge_w, r.how, r.is_on_mains, coalesce(h.lines, r.lines) as lines, h.doubts,
        case when h.kit_id is null then false else h.has_own_charger end as is_own,
        case when h.kit_id is null then false else h.has_generator end
            or case when plant.post_id is null then false else plant.is_sure end as has_plant,
        f.has_charger or is_own as has_charger, f.may_have_charger or is_own is null as may_have_charger,
        has_plant and (f.has_charger or f.has_mains_supply) as is_charged_by_plant,
        is_own and (has_plant or p.has_mains) as is_own_charged,
        (a.need_h - r.runtime_h) * r.load_w / nullif(f.kept_v * a.gap_h, 0) as wanted_a,
        a.is_overnight and (is_own or coalesce(least(f.charger_a, f.most_a) >= wanted_a, true)) as is_enough,
        a.is_overnight and (is_own is null or coalesce(least(f.charger_may_a, f.most_a) >= wanted_a, true)) as may_be_enough
    from asked as a
    join post as p using (post_id)
    join runtime as r using (post_kit_id)
    left join held as h on h.kit_id = a.kit_id
    left join plant on plant.post_id = a.post_id and plant.kit_id is not distinct from case when a.is_assigned then a.kit_id end
    left join fed as f on f.kit_id = a.kit_id and f.radio_item_id = r.radio_item_id
)
select
    post_kit_id                             as subject,
    runtime_h, need_h, how,
    coalesce(untold, 'nobody tells ' || doubts) as untold,
    lines,
    case when is_on_mains or runtime_h >= need_h * $margin or recharge_w > 0 and runtime_h >= need_h then true
         when is_charged_by_plant and hoped_h >= need_h or has_charger and is_enough or is_own_charged then true
         when w.untold is not null and coalesce(hoped_h >= need_h, true) or may_have_charger and may_be_enough then null
         when is_own is null and is_own_charged is distinct from false then null
         else false                         end as ok
from way as w
