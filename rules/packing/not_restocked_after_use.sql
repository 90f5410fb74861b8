/*
title     = "Not restocked after its last use"
subject   = "kit"
severity  = "limits"
why       = "The next event finds the empty battery and the used forms of the last one."
not_met   = "{subject}: last used {used_days:.0f} days ago and not {undone} since."
not_known = "{subject}: the last use or the last restocking is not written down."
fix       = "Dry it, recharge it, replace what was used (tape, ties, cells and fuses about 5 to 40 USD), and write the day in “restocked”, and on the line of each battery in “charged”. Charge batteries where someone can see them, lithium never below 0 °C; check local rules."
source    = "common practice: clean, dry, recharge and restock after every use; volunteer services check kits after every mission"
applies_to = "kits; of the batteries those in use that can be charged and tell when they last were, where a rehearsal or an event since tells that the kit ran on battery"

[param.grace_days]
value  = 7
unit   = "d"
why    = "time to dry and recharge"
source = "common practice"
*/
with tried as (
    select kit_id, max(date) filter (stage = 'event') as last_event,
        max(date) filter (hours_on_battery > 0 or battery_left_share < 1) as drawn
    from rehearsal where date <= $today group by kit_id
), flat as (   -- run down, and not charged since
    select i.kit_id, string_agg(i.item, ', ' order by i.line) as items
    from tried as t join item as i on i.kit_id = t.kit_id and i.charged < t.drawn
    where i.role in ('source', 'pack') and i.is_usable and not i.is_spare and i.chemistry <> 'alkaline'
        and date_diff('day', t.drawn, $today) > $grace_days
    group by i.kit_id
), used as (
    select kit_id, restocked, greatest(kit.last_used, tried.last_event) as last_used, tried.drawn, flat.items
    from kit left join tried using (kit_id) left join flat using (kit_id)
)
select
    kit_id                                          as subject,
    date_diff('day', greatest(last_used, case when items is not null then drawn end), $today) as used_days,
    concat_ws(' nor ', case when restocked < last_used and date_diff('day', last_used, $today) > $grace_days then 'restocked' end,
        'charged (' || items || ')')                as undone,
    case when undone <> '' then false
         when restocked >= last_used or date_diff('day', last_used, $today) <= $grace_days then true end as ok
from used
