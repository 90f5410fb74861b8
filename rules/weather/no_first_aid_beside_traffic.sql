/*
title      = "No first-aid kit beside traffic"
subject    = "post"
severity   = "blocks"
why        = "What a car does to somebody cannot wait for an ambulance that stands in the jam behind it."
not_met    = "{subject}: stands beside traffic, and none of the kits there holds a first-aid kit in date."
not_known  = "{subject}: first-aid kits there: {first_aid_kits}; until when they are good, whether they are fit for use, or whether the post stands beside traffic, is not written down."
told_by    = "coordinator"
fix        = "Bring one class A kit for the post or the vehicle (about 20 to 45 USD). Use it only as you were taught; give no medical advice."
source     = "ANSI Z308.1 class A per post or vehicle; common practice"
applies_to = "posts beside traffic, or where nobody said, with somebody assigned; elsewhere it is advice, by no_first_aid_at_the_post"

[remedy]
kind = "first_aid"
*/
select
    a.post_id                   as subject,
    count(i.item_id)            as first_aid_kits,
    case when bool_or(i.condition = 'ok' and i.expires is not null) then true when p.is_beside_traffic and count(i.item_id) = 0 then false end as ok
from assignment as a
join post as p using (post_id)
left join item as i on i.kit_id = a.kit_id and i.is_usable and i.kind = 'first_aid'
    and is_in_date(i.expires, a.ends)
where coalesce(p.is_beside_traffic, true)
group by a.post_id, p.is_beside_traffic
