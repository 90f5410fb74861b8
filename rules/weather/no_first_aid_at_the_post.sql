/*
title      = "No first-aid kit at the post"
subject    = "post"
severity   = "advice"
why        = "Most of what happens to a volunteer wants a plaster within five minutes."
not_met    = "{subject}: none of the kits there holds a first-aid kit in date."
not_known  = "{subject}: first-aid kits there: {first_aid_kits}; until when they are good, or whether they are fit for use, is not written down."
fix        = "Bring one class A kit for the post or the vehicle (about 20 to 45 USD). Use it only as you were taught; give no medical advice."
source     = "ANSI Z308.1 class A per post or vehicle; common practice"
applies_to = "posts off the traffic with somebody assigned; the others have no_first_aid_beside_traffic"

[remedy]
kind = "first_aid"
*/
select
    a.post_id                   as subject,
    count(i.item_id)            as first_aid_kits,
    case when bool_or(i.condition = 'ok' and i.expires is not null) then true when count(i.item_id) = 0 then false end as ok
from assignment as a
join post as p using (post_id)
left join item as i on i.kit_id = a.kit_id and i.is_usable and i.kind = 'first_aid'
    and is_in_date(i.expires, a.ends)
where not p.is_beside_traffic
group by a.post_id
