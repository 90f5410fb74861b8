/*
title    = "No battery of its own"
subject  = "kit"
severity = "limits"
why      = "A station must not depend on a vehicle, the mains or a generator alone."
not_met  = "{subject}: no battery or pack that works is listed."
not_known = "{subject}: nobody knows whether a battery or pack that is listed works."
fix      = "Add a battery with its fuse (20 Ah LiFePO4 about 90 to 260 USD) or, for a handheld, packs that fit it (about 20 to 80 USD each), or borrow from the club's pool."
source   = "county emergency group guidance: always hold battery, never rely on utility, vehicle or generator alone"
applies_to = "kits that hold a radio"

[remedy]
kind = "battery_lifepo4"
*/
select
    h.kit_id                as subject,
    h.batteries, h.packs,
    h.radio_lines           as lines,
    case when h.batteries > coalesce(u.batteries, 0) or h.packs > coalesce(u.packs, 0) and not h.has_mobile then true
         when h.batteries = 0 and (h.packs = 0 or h.has_mobile) then false end as ok
from holding as h
left join untried as u using (kit_id)
where h.radios > 0
