/*
title      = "No shade in the heat"
subject    = "post"
severity   = "limits"
why        = "Who stands in the sun for a shift above 27 °C is the next patient, and the radio beside them cuts its power."
not_met    = "{subject}: up to {temp_max_c:.0f} °C is expected; no vehicle stays, and for some of the time no kit there holds a canopy or an umbrella that works."
not_known  = "{subject}: up to {temp_max_c:.0f} °C is expected; for some of the time no canopy or umbrella there works for certain, and whether one does, or a vehicle stays, is not written down."
told_by    = "coordinator"
fix        = "Bring an umbrella (about 15 to 50 USD) or a canopy with a weight on every leg (about 100 to 250 USD), or leave a vehicle there; two litres of water or more for each. At a heat index of 32 °C rest in the shade."
source     = "marathon radio requirements and bike-tour guides: shade at aid stations; heat-index guides; the temperature is common practice"
applies_to = "posts in the open that stay where they are (aid stations, start and finish, medical, relay and remote posts without mains), with somebody assigned, where it gets hot by what the event tells"

[shared]
hot_c = "no_water_or_warm_layer"

[remedy]
kind = "umbrella"
*/
select
    p.post_id                   as subject,
    e.temp_max_c,
    h.pieces                    as shades,
    case when h.is_sure or p.has_vehicle then true when not p.has_vehicle and h.pieces = 0 then false end as ok
from at_hand as h
join post as p using (post_id)
join event as e on e.event_id = p.event_id
where h.kind = 'umbrella' and e.temp_max_c > $hot_c and p.has_mains is not true
    and p.post_type in ('aid_station', 'start_finish', 'medical', 'relay', 'remote')
