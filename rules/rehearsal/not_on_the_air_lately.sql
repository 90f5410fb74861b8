/*
title      = "Not on the air lately"
subject    = "kit"
severity   = "limits"
why        = "A charge that ran down and a setting that was changed show at the first call, and only then."
not_met    = "{subject}: last used or set up {unused_days:.0f} days ago; on the air once every {within_days:.0f} days is asked."
not_known  = "{subject}: no day on which it was used, or set up past the bench, is written down."
fix        = "Check in to a net from the kit alone (costs nothing), and write the date in last_used or as a rehearsal."
source     = "common practice: on the air from the kit every 90 days; clubs encourage practice sessions in parks"
applies_to = "kits with a radio; a trial past the bench counts as on the air"

[param.within_days]
value  = 90
unit   = "d"
why    = "once a season"
source = "common practice"
*/
select
    kit.kit_id                                                              as subject,
    date_diff('day', greatest(kit.last_used, p.last_set_up), $today)        as unused_days,   -- since the later that is told
    unused_days <= $within_days                                             as ok
from holding as h
join kit using (kit_id)
left join practice as p on p.kit_id = h.kit_id
where h.radios > 0
