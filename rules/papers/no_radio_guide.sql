/*
title      = "No guide to the radio"
subject    = "kit"
severity   = "limits"
why        = "After a lock key nobody meant to press, the guide is the way back on the air."
not_met    = "{subject}: no guide to the radio is listed."
not_known  = "{subject}: a guide to the radio is listed, and whether it can be used is not written down."
fix        = "Print one page that says how to set frequency, tone, power and lock, and how to add a channel (0 to 15 USD), and list it as manual."
source     = "club go-kit page: a cheat sheet that covers adding a channel"
applies_to = "kits with a radio; a box of spares needs no papers"

[remedy]
kind = "manual"
*/
select
    h.kit_id                    as subject,
    coalesce(p.pieces, 0)       as papers,
    papers > 0 and p.is_sure     as ok
from holding as h
left join (select kit_id, sum(quantity) as pieces, any_works(condition) as is_sure from item
    where is_usable and kind = 'manual' group by kit_id) as p using (kit_id)
where h.radios > 0
