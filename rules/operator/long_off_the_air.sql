/*
title     = "Long off the air"
subject   = "member"
severity  = "advice"
why       = "Batteries, microphones and habits fail between two uses."
not_met   = "{subject}: last on the air {off_air_days:.0f} days ago; once every {within_days:.0f} days is asked."
not_known = "{subject}: the last day on the air is not written down."
told_by   = "coordinator"
fix       = "Check in to a net from the kit (costs nothing), and tell the coordinator the date (last_on_air)."
source    = "common practice: on the air from the kit every 90 days"

[param.within_days]
value  = 90
unit   = "d"
why    = "once a season"
source = "common practice"
*/
select
    member_id                                       as subject,
    date_diff('day', last_on_air, $today)           as off_air_days,
    off_air_days <= $within_days                    as ok
from member
