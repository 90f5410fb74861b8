/*
title      = "No guide to the radio"
subject    = "kit"
severity   = "advice"
why        = "After a lock key nobody meant to press, the guide is the way back on the air."
not_met    = "{subject}: no guide to the radio is listed."
fix        = "Print one page that says how to set frequency, tone, power and lock, and how to add a channel (0 to 15 USD)."
source     = "club go-kit page: a cheat sheet that covers adding a channel"
applies_to = "kits with a radio; a box of spares needs no papers"

[remedy]
kind = "manual"
*/
select
    h.kit_id                    as subject,
    coalesce(sum(i.quantity), 0) as papers,
    any_value(kit.lines)        as lines,
    papers > 0                  as ok
from holding as h
join kit using (kit_id)
left join item as i on i.kit_id = h.kit_id and i.is_usable and i.kind = 'manual'
where h.radios > 0
group by h.kit_id
