/*
title      = "No second way to call for help"
subject    = "post"
severity   = "blocks"
why        = "When the radio is what failed, someone hurt on the hill needs another way out; an hour from care, nobody has the time to drive for help."
not_met    = "{subject}: no cell cover, for some of the time nobody there carries a satellite messenger in date that works{faulty}, and no other way to call is written down."
not_known  = "{subject}: for some of the time nobody carries a satellite messenger that works for certain, and whether one works and until when its plan is paid, a cell phone does there, or there is another way to call, is not written down."
told_by    = "coordinator"
fix        = "Lend a messenger with a paid plan (about 150 to 400 USD), or name in alert_path an agency radio, a landline or a runner who is there."
source     = "trail-race plans and search-and-rescue ready-pack outlines; common practice"
applies_to = "posts with somebody assigned that no ordinary car reaches, or where no cell phone works and no vehicle stays or care is far by what the event tells; from the others a car can go for help"

[remedy]
kind = "satellite_messenger"

[param.far_from_care_min]
value  = 60
unit   = "min"
why    = "from an hour on care counts as far: it comes too late when somebody must first drive for it"
source = "definitions of wilderness medicine: one hour, some say two, to definitive care"
*/
select
    p.post_id                   as subject,
    p.has_cell_cover,
    p.alert_path,
    h.pieces                    as messengers,
    h.faulty,
    case when p.has_cell_cover or p.alert_path <> 'none' or h.is_sure then true
        when not p.has_cell_cover and h.pieces = 0 then false end as ok
from post as p
join at_hand as h on h.post_id = p.post_id and h.kind = 'satellite_messenger'
left join event as e using (event_id)
where p.is_remote or p.access in ('walk', '4x4') or p.is_on_foot
    or not p.has_cell_cover and (not p.has_vehicle or e.minutes_to_care >= $far_from_care_min)
