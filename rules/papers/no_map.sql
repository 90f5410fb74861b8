/*
title      = "No map on paper"
subject    = "kit"
severity   = "limits"
why        = "Where a call for help comes from is said by the map, also when the phone has no cover."
not_met    = "{subject}: no map is listed."
not_known  = "{subject}: a map is listed, and whether it can be used is not written down."
fix        = "Print the course map or a map of the area, put it into the papers (0 to 15 USD), and list it."
source     = "county member checklists; deployment kit list of a city group"
applies_to = "kits with a radio; a box of spares needs no papers, nor does one of the club's that nobody is sent with"

[remedy]
kind = "map"
*/
select
    h.kit_id                    as subject,
    coalesce(p.pieces, 0)       as papers,
    papers > 0 and p.is_sure     as ok
from holding as h
left join (select kit_id, sum(quantity) as pieces, any_works(condition) as is_sure from item
    where is_usable and kind = 'map' group by kit_id) as p using (kit_id)
where h.radios > 0 and h.kit_id not in (from pool_kit)
