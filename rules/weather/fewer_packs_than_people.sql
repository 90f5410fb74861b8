/*
title      = "Fewer packs for a day than people at a remote post"
subject    = "post"
severity   = "blocks"
why        = "A pack keeps one warm and fed; who comes along without a kit is out on the same night."
not_met    = "{subject}: people there at once: {people_there}; packs for 24 h in the kits there: {day_packs}."
not_known  = "{subject}: people there at once: {people_there}, packs for 24 h in the kits there: {day_packs}; whether all are in order, or whether a cell phone works there, is not written down."
told_by    = "coordinator"
fix        = "Pack water (two litres or more above 27 °C), food, a warm layer, rain cover and sun cream for 24 h for each (0 to 150 USD, most of it at home) and list all of them in a kit that goes there. In frost keep hands and batteries warm; at a heat index of 32 °C rest in the shade."
source     = "search-and-rescue ready-pack outlines: 24 h; common practice"
applies_to = "posts at which no_pack_for_a_day asks for a pack and more people than kits are at once; the first pack of each kit is asked by that"

[remedy]
kind = "personal_pack"
*/
select
    post_id                     as subject,
    n.people_there,
    n.pieces                    as day_packs,
    case when n.doubtful <= 0 then true when n.missing > 0 and (p.is_remote or not p.has_cell_cover) then false end as ok
from one_each as n
join post as p using (post_id)
where n.kind = 'personal_pack' and n.people_there > n.kits
    and (p.is_remote or (p.access in ('walk', '4x4') or p.is_on_foot) and p.has_cell_cover is not true
        or not p.has_cell_cover and not p.has_vehicle)
