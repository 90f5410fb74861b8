/*
title      = "No first-aid kit at the post"
subject    = "post"
severity   = "advice"
why        = "Most of what happens to a volunteer wants a plaster within five minutes."
not_met    = "{subject}: for some of the time no kit there holds a first-aid kit in date that works{faulty}."
not_known  = "{subject}: first-aid kits there at the least: {first_aid_kits}; until when they are good, or whether they are fit for use, is not written down."
fix        = "Bring one class A kit for the post or the vehicle (about 20 to 45 USD). Use it only as you were taught; give no medical advice."
source     = "ANSI Z308.1 class A per post or vehicle; common practice"
applies_to = "posts off the traffic with somebody assigned; the others have no_first_aid_beside_traffic"

[remedy]
kind = "first_aid"
*/
select
    h.post_id                   as subject,
    h.pieces                    as first_aid_kits,
    h.faulty,
    case when h.is_sure then true when h.pieces = 0 then false end as ok
from at_hand as h
join post as p using (post_id)
where h.kind = 'first_aid' and not p.is_beside_traffic
