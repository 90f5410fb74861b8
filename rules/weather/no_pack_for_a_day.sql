/*
title      = "No pack for a day at a remote post"
subject    = "post_kit"
severity   = "blocks"
why        = "Where no car comes, a storm or a search can keep people out overnight; who is cold and thirsty needs help instead of giving it."
not_met    = "{subject}: no pack with water, food and layers for 24 h in {member}'s {kit}."
not_known  = "{subject}: whether {member}'s {kit} must hold water, food and layers for 24 h, and does, is not known: whether a cell phone works there, or whether the pack listed is in order, is not written down."
told_by    = "coordinator"
fix        = "Pack water (two litres or more above 27 °C), food, a warm layer, rain cover and sun cream for 24 h (0 to 150 USD, most of it at home) and list it as one thing; it counts towards the weight that is carried. In frost keep hands and batteries warm; at a heat index of 32 °C rest in the shade."
source     = "search-and-rescue ready-pack outlines: 24 h; common practice"
applies_to = "posts that are carried to or remote, and those that no ordinary car reaches where no cell phone works or nobody said, or that no vehicle stays at where none works; beside a car the member's own things need not be listed; more people than kits have fewer_packs_than_people"

[remedy]
kind = "personal_pack"
*/
select
    pk.post_kit_id              as subject,
    p.access, p.has_cell_cover,
    any_value(kit.lines)        as lines,
    case when any_works(i.condition) then true
         when count(i.item_id) = 0 and (p.is_remote or not p.has_cell_cover) then false end as ok
from post_kit as pk
join post as p using (post_id)
join kit on kit.kit_id = pk.kit_id
left join item as i on i.kit_id = pk.kit_id and i.is_usable and i.kind = 'personal_pack'
    and is_in_date(i.expires, pk.ends)
where p.is_remote or (p.access in ('walk', '4x4') or p.is_on_foot) and p.has_cell_cover is not true
    or not p.has_cell_cover and not p.has_vehicle
group by pk.post_kit_id, p.access, p.is_remote, p.has_cell_cover
