/*
title      = "Alone with little time on the air"
subject    = "post_kit"
severity   = "limits"
why        = "Whoever is alone has nobody to ask how a message is passed or where the tone is set."
not_met    = "{subject}: {member} would be alone there; events in twelve months: {events_12m}, nets: {on_air_12m}; {least_events} and {least_nets} are wanted."
not_known  = "{subject}: {member} would be alone there; events or nets of the last twelve months are not written down."
told_by    = "coordinator"
mended_by  = "coordinator"
fix        = "Send somebody along who is on the air often, or have {member} join nets and a small event before (costs nothing)."
source     = "common practice; a city group asks for one event and twelve net check-ins a year"
lines_of   = "members"
applies_to = "members who would be alone; in company it is advice, see little_time_on_the_air"

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
    pk.post_kit_id              as subject,
    m.events_12m, m.on_air_12m,
    [m.line]                    as lines,
    case when m.events_12m < $least_events or m.on_air_12m < $least_nets then false
         when m.events_12m is not null and m.on_air_12m is not null then true end as ok
from post_kit as pk
join watch as w using (post_kit_id)
join member as m on m.member_id = pk.member_id
where w.is_alone
