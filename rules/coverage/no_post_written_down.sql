/*
title      = "No post written down"
subject    = "event"
severity   = "blocks"
why        = "An event of which no post is written down looks ready, and nobody is sent."
not_met    = "{subject}: no post is written down."
mended_by  = "coordinator"
fix        = "Write its posts (costs nothing); where there are some, see whether they name this event, on its own days."
source     = "common practice"
applies_to = "events to come"
*/
select
    event_id                                                                as subject,
    event_id in (select event_id from post)                                 as ok
from event
where ends >= $today
