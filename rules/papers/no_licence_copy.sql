/*
title      = "No copy of the licence"
subject    = "kit"
severity   = "limits"
why        = "A marshal or a deputy who asks by what right you transmit wants paper, not a promise."
not_met    = "{subject}: no copy of the licence is listed."
not_known  = "{subject}: a copy of the licence is listed, and whether it can be used is not written down."
fix        = "Copy the licence, put it with a photo identity card into the papers (0 to 5 USD), and list both as licence_copy."
source     = "county member checklists; deployment kit list of a city group"
applies_to = "kits with a radio; a box of spares needs no papers, nor does one of the club's that nobody is sent with"

[remedy]
kind = "licence_copy"
*/
select
    h.kit_id                    as subject,
    coalesce(p.pieces, 0)       as papers,
    papers > 0 and p.is_sure     as ok
from holding as h
left join (select kit_id, sum(quantity) as pieces, any_works(condition) as is_sure from item
    where is_usable and kind = 'licence_copy' group by kit_id) as p using (kit_id)
where h.radios > 0 and h.kit_id not in (from pool_kit)
