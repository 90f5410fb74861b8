/*
title    = "No battery of its own"
subject  = "kit"
severity = "limits"
why      = "A station must not depend on a vehicle, the mains or a generator alone."
not_met  = "{subject}: no battery or pack that works is listed."
fix      = "Add a battery with its fuse (20 Ah LiFePO4 about 90 to 260 USD), or borrow one from the club's pool."
source   = "county emergency group guidance: always hold battery, never rely on utility, vehicle or generator alone"
applies_to = "kits that hold a radio"

[remedy]
kind = "battery_lifepo4"
*/
select
    kit_id                  as subject,
    batteries, packs,
    radio_lines             as lines,
    batteries > 0 or (packs > 0 and not has_mobile) as ok
from holding
where radios > 0
