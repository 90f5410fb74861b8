/*
title      = "No roster at the backup net control"
subject    = "post"
severity   = "limits"
why        = "Who takes over a net without knowing who is where calls into the dark."
not_met    = "{subject}: for some of the time no kit there holds a roster."
not_known  = "{subject}: a roster is listed there, and whether it can be used is not written down."
fix        = "Print who is at which post, with call signs and hours (0 to 5 USD), put it beside the channel list in a kit that goes there, and list it as roster. Leave out addresses, and phone numbers that members did not agree to."
source     = "net-control training slides and a net-control handbook: the backup has the roster and the channel plan"
applies_to = "posts of backup net control, with somebody assigned; the channel list is asked of each kit by no_channel_list"

[remedy]
kind = "roster"
*/
select
    p.post_id                   as subject,
    h.pieces                    as papers,
    case when h.is_sure then true when h.pieces = 0 then false end as ok
from at_hand as h
join post as p using (post_id)
where h.kind = 'roster' and p.post_type = 'backup_net_control'
