/*
title      = "Relay without a node"
subject    = "post"
severity   = "limits"
why        = "Who calls from a poor place is heard further on only if something, or somebody, repeats it."
not_met    = "{subject}: for some of the time no radio but handhelds is there, so no cross-band node; whoever holds the post has to repeat each message by voice."
not_known  = "{subject}: for some of the time no cross-band node on a whole station is there for certain; whether another radio there repeats across bands, or somebody repeats each message by voice, is not written down."
fix        = "List a mobile that repeats across bands as a crossband_node (costs nothing); else send a node (about 400 to 3000 USD, or the club's) with a spare mobile, or tell who holds the post to repeat by voice."
source     = "tower-trailer node write-up: a node at the relay, with a spare mobile; common practice"
applies_to = "relay posts that somebody is sent to with a kit"
*/
with there as (
    select t.post_id, t.instant, any_works(case when i.kind = 'crossband_node' then
            if(s.is_tuned, 'ok', if(s.is_tuned is null, 'unknown', null)) end) as has_node,
        coalesce(bool_or(i.kind <> 'handheld'), false) as has_mobile
    from post as p join present as t on t.post_id = p.post_id and t.kit_id is not null
    join want as w on w.post_id = p.post_id
    left join item as i on i.kit_id = t.kit_id and i.role = 'radio' and i.is_usable
    left join suit as s on s.want_id = w.want_id and s.item_id = i.item_id
    where p.post_type = 'relay'
    group by t.post_id, t.instant
)
select
    post_id as subject,
    case when bool_and(coalesce(has_node, false)) then true when not bool_and(has_mobile) then false end as ok
from there
group by post_id
