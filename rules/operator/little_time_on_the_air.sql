/*
title     = "Little time on the air"
subject   = "member"
severity  = "advice"
why       = "Procedure fades; a quiet check-in now is better than a first one at the finish line."
not_met   = "{subject}: events in twelve months: {events_12m}, nets: {on_air_12m}; {least_events} and {least_nets} keep the habit."
not_known = "{subject}: events or nets of the last twelve months are not written down."
told_by   = "coordinator"
mended_by = "coordinator"
fix       = "Invite them to the next net and to a small event, beside somebody (costs nothing)."
source    = "common practice; a city group asks for one event and twelve net check-ins a year"

[param.least_events]
value  = 1
unit   = "1"
why    = "any event or drill"
source = "common practice"

[param.least_nets]
value  = 4
unit   = "1"
why    = "one a season"
source = "common practice"
*/
select
    member_id                   as subject,
    events_12m, on_air_12m,
    case when events_12m < $least_events or on_air_12m < $least_nets then false
         when events_12m is not null and on_air_12m is not null then true end as ok
from member
