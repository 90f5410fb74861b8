/*
title     = "No shelter from lightning"
subject   = "event"
severity  = "blocks"
why       = "A mast in the open and a person beside it are the tallest things on the hill."
not_met   = "{subject}: thunderstorms are possible and no shelter is named."
not_known = "{subject}: whether thunderstorms are possible is not written down, and no shelter is named."
told_by   = "coordinator"
fix       = "Name a building or a hard-topped vehicle for every post (costs nothing). Stop and disconnect at the first thunder; go back 30 minutes after the last."
source    = "US National Weather Service, lightning guidance for large groups: building or hard-topped vehicle, 30 minutes after the last thunder"
*/
select
    event_id                    as subject,
    is_storm_possible, shelter,
    [line]                      as lines,
    case when not is_storm_possible or trim(shelter) <> '' then true when is_storm_possible then false end as ok
from event
