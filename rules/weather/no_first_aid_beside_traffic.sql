/*
title      = "No first-aid kit beside traffic"
subject    = "post"
severity   = "blocks"
why        = "What a car does to somebody cannot wait for an ambulance that stands in the jam behind it."
not_met    = "{subject}: stands beside traffic, and for some of the time no kit there holds a first-aid kit in date that works{faulty}."
not_known  = "{subject}: first-aid kits there at the least: {first_aid_kits}; until when they are good, whether they are fit for use, or whether the post stands beside traffic, is not written down."
told_by    = "coordinator"
fix        = "Bring one class A kit for the post or the vehicle (about 20 to 45 USD). Use it only as you were taught; give no medical advice."
source     = "ANSI Z308.1 class A per post or vehicle; common practice"
applies_to = "posts beside traffic, or where nobody said, with somebody assigned; elsewhere it is advice, by no_first_aid_at_the_post"

[remedy]
kind = "first_aid"
*/
select
    h.post_id                   as subject,
    h.pieces                    as first_aid_kits,
    h.faulty,
    case when h.is_sure then true when p.is_beside_traffic and h.pieces = 0 then false end as ok
from at_hand as h
join post as p using (post_id)
where h.kind = 'first_aid' and coalesce(p.is_beside_traffic, true)
