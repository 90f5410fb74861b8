/*
title      = "Nobody watches for storms"
subject    = "event"
severity   = "limits"
why        = "Shelter helps whoever is told to go there before the first strike."
not_met    = "{subject}: thunderstorms are possible, and nothing tells of one before it is there."
not_known  = "{subject}: thunderstorms are possible; what tells of one is not written down."
told_by    = "coordinator"
fix        = "Name who watches the weather service's warnings or a radar picture and calls every post in (costs nothing), and write it in storm_watch."
source     = "US National Weather Service, lightning guidance for large groups: a source of warnings and someone who watches it"
applies_to = "events with thunderstorms possible; where to go then is no_shelter_from_lightning"
*/
select
    event_id                    as subject,
    storm_watch,
    storm_watch <> 'none'       as ok
from event
where is_storm_possible
