/*
title      = "No log, forms or pens"
subject    = "kit"
severity   = "limits"
why        = "What is not written down is argued about afterwards; a pen ends more shifts than a battery."
not_met    = "{subject}: no clipboard with log, message forms and pens is listed."
fix        = "Pack a clipboard with log and message forms (ten of each) and two pens (about 10 to 30 USD), with the assignment."
source     = "county member checklists: ten blank forms of each kind; deployment kit list of a city group"
applies_to = "kits with a radio; a box of spares needs no papers"

[remedy]
kind = "clipboard"
*/
select
    h.kit_id                    as subject,
    coalesce(p.pieces, 0)       as papers,
    papers > 0                  as ok
from holding as h
left join (select kit_id, sum(quantity) as pieces from item where is_usable and kind = 'clipboard' group by kit_id) as p using (kit_id)
where h.radios > 0
