/*
title     = "Briefing not held"
subject   = "event"
severity  = "limits"
why       = "Channels, station identification and what may be said of an injured person must be known before the net opens."
not_met   = "{subject}: the briefing was on {briefed}; hold one within {within_days} days before the start, not after it."
not_known = "{subject}: no briefing that was held is written down."
told_by   = "coordinator"
fix       = "Hold a briefing (costs nothing): channels and fallback, identify every ten minutes, bib number and exact place only, no names or medical detail on the air. Write its date in “briefed”; it counts once it is over."
source    = "common practice: marathon and bike-tour guides brief a week before; identification after 47 CFR 97.119"

[param.within_days]
value  = 30
unit   = "d"
why    = "people forget, and plans change"
source = "common practice"
*/
select
    event_id        as subject,
    briefed,
    briefed between cast(starts as date) - cast($within_days as integer) and cast(starts as date) as ok
from event
