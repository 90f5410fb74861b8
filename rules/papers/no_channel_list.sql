/*
title      = "No channel list on paper"
subject    = "kit"
severity   = "limits"
why        = "A helper who takes over the radio must find the channel without its owner."
not_met    = "{subject}: no channel list on paper is listed."
not_known  = "{subject}: a channel list on paper is listed, and whether it can be used is not written down."
fix        = "Print this year's channels by number, laminate the sheet (about 2 to 8 USD), list it, and load them at programming night."
source     = "district forms page: channels by number, laminated; club go-kit lists"
applies_to = "kits with a radio; a box of spares needs no papers, nor does one of the club's that nobody is sent with"

[remedy]
kind = "channel_list"
*/
select
    h.kit_id                    as subject,
    coalesce(p.pieces, 0)       as papers,
    papers > 0 and p.is_sure     as ok
from holding as h
left join (select kit_id, sum(quantity) as pieces, any_works(condition) as is_sure from item
    where is_usable and kind = 'channel_list' group by kit_id) as p using (kit_id)
where h.radios > 0 and h.kit_id not in (from pool_kit)
