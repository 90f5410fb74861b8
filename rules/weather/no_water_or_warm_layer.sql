/*
title      = "No water or warm layer for the walk in"
subject    = "post_kit"
severity   = "limits"
why        = "On foot nothing can be fetched, and the shift begins cold and ends hot."
not_met    = "{subject}: {temp_min_c:.0f} to {temp_max_c:.0f} °C, reached on foot, and neither a pack with water, food and layers nor both water and a warm layer in {member}'s {kit}."
not_known  = "{subject}: no pack with water and layers, nor both by themselves, in {member}'s {kit} is known to be in order, and whether one is, or how cold and hot it gets, is not written down."
told_by    = "coordinator"
fix        = "Pack water (two litres or more above {hot_c:.0f} °C), food, a warm layer, rain cover and sun cream (0 to 150 USD, most of it at home). In frost keep hands and batteries warm; at a heat index of 32 °C rest in the shade."
source     = "search-and-rescue ready-pack outlines; heat-index guides; the temperatures are common practice"
applies_to = "posts reached or worked on foot in cold or heat, or where the day swings from one towards the other; beside a car the member's own things need not be listed; where it is carried to, remote or without cell cover no_pack_for_a_day asks for the same things"

[param.cold_c]
value  = 5
least  = -60
unit   = "C"
why    = "standing still below this wants a warm layer"
source = "common practice"

[param.hot_c]
value  = 27
unit   = "C"
why    = "about 80 F, from where shade and water are planned"
source = "common practice"

[param.swing_c]
value  = 16.5
unit   = "C"
why    = "about 30 F between the coldest and the hottest hour wants layers to take off and put on"
source = "county ready-kit page: a swing of 30 F in a day is ordinary; trail-race plans"

[remedy]
kind = "personal_pack"
*/
select
    pk.post_kit_id              as subject,
    e.temp_min_c, e.temp_max_c,
    any_value(kit.lines)        as lines,
    any_works(case when i.kind = 'personal_pack' then i.condition end) or any_works(case when i.kind = 'water' then i.condition end)
        and any_works(case when i.kind = 'cold_gear' then i.condition end) as is_packed,
    case when is_packed then true when not is_packed and e.is_hard then false end as ok
from post_kit as pk
join post as p using (post_id)
join (
    select *, temp_min_c < $cold_c or temp_max_c > $hot_c or temp_max_c - temp_min_c >= $swing_c as is_hard from event
) as e on e.event_id = p.event_id
join kit on kit.kit_id = pk.kit_id
left join item as i on i.kit_id = pk.kit_id and i.is_usable and i.kind in ('personal_pack', 'water', 'cold_gear')
    and is_in_date(i.expires, pk.ends)
where (p.access = 'walk' or p.is_on_foot)
    and (p.is_remote or not p.has_cell_cover) is not true
    and e.is_hard is not false
group by pk.post_kit_id, e.temp_min_c, e.temp_max_c, e.is_hard
