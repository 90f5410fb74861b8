/*
title      = "No gloves to write in"
subject    = "post_kit"
severity   = "limits"
why        = "Cold fingers drop the pen first and the microphone next; with thick gloves neither can be held."
not_met    = "{subject}: down to {temp_min_c:.0f} °C, and neither gloves nor warm things in {member}'s {kit}."
not_known  = "{subject}: no gloves or warm things in {member}'s {kit} are known to be in order, and whether some are, or how cold it gets, is not written down."
told_by    = "coordinator"
fix        = "Pack thin gloves that a pen and a key can be used in (about 8 to 30 USD), with a hat and a warm layer."
source     = "packing checklists: gloves one can write in; the temperature is common practice"
applies_to = "posts reached or worked on foot in the cold; beside a car the member's own things need not be listed"

[param.cold_c]
value  = 5
least  = -60
unit   = "C"
why    = "below this fingers stiffen within the hour"
source = "common practice"

[remedy]
kind = "gloves"
*/
select
    pk.post_kit_id              as subject,
    e.temp_min_c,
    any_value(kit.lines)        as lines,
    case when any_works(i.condition) then true when e.temp_min_c is not null and count(i.item_id) = 0 then false end as ok
from post_kit as pk
join post as p using (post_id)
join event as e on e.event_id = p.event_id
join kit on kit.kit_id = pk.kit_id
left join item as i on i.kit_id = pk.kit_id and i.is_usable and i.kind in ('gloves', 'cold_gear')
    and is_in_date(i.expires, pk.ends)
where (p.access in ('walk', 'carry') or p.is_on_foot) and coalesce(e.temp_min_c < $cold_c, true)
group by pk.post_kit_id, e.temp_min_c
