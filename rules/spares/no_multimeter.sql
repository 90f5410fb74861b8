/*
title    = "No multimeter"
subject  = "kit"
severity = "advice"
why      = "Without a meter nobody knows whether the battery, the fuse or the lead is at fault."
not_met  = "{subject}: it has no multimeter that works."
not_known = "{subject}: a multimeter is listed, and whether it works is not written down."
fix      = "Pack a multimeter (about 15 to 70 USD) with its spare battery. Never measure current or resistance across a battery."
source   = "common practice: spare parts lists after the 2017 hurricane season"
applies_to = "kits with a mast or with a radio that is not a handheld"

[remedy]
kind = "multimeter"
*/
select
    h.kit_id        as subject,
    h.has_mobile, h.has_mast,
    i.kit_id is not null and i.is_sure as ok
from holding as h
left join (
    select kit_id, any_works(condition) as is_sure from item where is_usable and kind = 'multimeter' group by kit_id
) as i using (kit_id)
where h.has_mast or h.has_mobile
