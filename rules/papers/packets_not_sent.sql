/*
title     = "Assignment and channel plan not sent"
subject   = "event"
severity  = "limits"
why       = "Who has the assignment, the map and the channel plan on paper is not lost with the first dead phone."
not_met   = "{subject}: packets went out on {packets_sent}; send them within {within_days} days before the start, not after it."
not_known = "{subject}: the day on which assignments, map and channel plan were sent is not written down."
told_by   = "coordinator"
fix       = "Print or send everyone who is sent the packet of the event (assignment, map, channel plan; 0 to 15 USD for paper), about a week before it, and write the day in packets_sent."
source    = "county member checklists: event assignment, map and channel plan in the kit; common practice: final plan a week before"

[param.within_days]
value  = 30
unit   = "d"
why    = "plans change; what was sent a month before is no longer the plan"
source = "common practice"
*/
select
    event_id        as subject,
    packets_sent,
    packets_sent between cast(starts as date) - cast($within_days as integer) and cast(starts as date) as ok
from event
