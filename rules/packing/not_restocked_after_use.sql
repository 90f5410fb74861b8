/*
title     = "Not restocked after its last use"
subject   = "kit"
severity  = "limits"
why       = "The next event finds the empty battery and the used forms of the last one."
not_met   = "{subject}: last used {used_days:.0f} days ago and not restocked since."
not_known = "{subject}: the last use or the last restocking is not written down."
fix       = "Dry it, recharge it, replace what was used (tape, ties, cells and fuses about 5 to 40 USD), and write the day in “restocked”. Charge batteries where someone can see them, lithium never below 0 °C; check local rules."
source    = "common practice: clean, dry, recharge and restock after every use; volunteer services check kits after every mission"

[param.grace_days]
value  = 7
unit   = "d"
why    = "time to dry and recharge"
source = "common practice"
*/
with held as (
    select kit_id, max(date) as last_event from rehearsal where stage = 'event' and date <= $today group by kit_id
)
select
    kit_id                                          as subject,
    date_diff('day', greatest(kit.last_used, held.last_event), $today) as used_days,   -- since the later that is told
    date_diff('day', restocked, $today)             as restocked_days,
    case when restocked_days <= used_days then true
         when restocked_days > used_days and used_days > $grace_days then false
         when used_days <= $grace_days then true end as ok
from kit
left join held using (kit_id)
