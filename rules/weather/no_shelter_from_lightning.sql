/*
title     = "No shelter from lightning"
subject   = "post"
severity  = "blocks"
why       = "A mast in the open and a person beside it are the tallest things on the hill."
not_met   = "{subject}: thunderstorms are possible and no shelter is named."
not_known = "{subject}: not written down: {shelter_open}."
told_by   = "coordinator"
fix       = "Name a building or a hard-topped vehicle within reach (costs nothing) and write it in “shelter”, or leave a vehicle there for all of the time. Stop and disconnect at the first thunder; go back 30 minutes after the last."
source    = "US National Weather Service, lightning guidance for large groups: building or hard-topped vehicle, 30 minutes after the last thunder"
*/
select
    p.post_id                   as subject,
    e.is_storm_possible, p.shelter,
    concat_ws(' and ', case when e.is_storm_possible is null then 'whether thunderstorms are possible' end,
        case when p.shelter is null then 'where people there go in a storm' end) as shelter_open,
    case when not e.is_storm_possible or p.has_vehicle or p.shelter <> 'none' then true
         when e.is_storm_possible and (p.shelter = 'none' or e.shelter is null) then false end as ok
from post as p
join event as e on e.event_id = p.event_id
