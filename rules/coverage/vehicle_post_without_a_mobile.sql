/*
title    = "Vehicle post without a mobile"
subject  = "post_kit"
severity = "limits"
why      = "Inside a car a handheld hears little; the car's own metal stands in the way."
not_met  = "{subject}: {member}'s {kit} has no mobile radio, or no magnet mount for the roof."
fix      = "Bring a mobile (about 180 to 600 USD) with a magnet mount (about 25 to 90 USD), or borrow the club's."
source   = "bike-tour guides: lead and SAG vehicles with a mobile and a roof antenna"
applies_to = "kits with a radio, at SAG and lead-vehicle posts"

[remedy]
kind = "mag_mount"
*/
select
    pk.post_kit_id                              as subject,
    p.post_type, h.radios, h.has_mobile,
    list_concat(h.radio_lines, h.antenna_lines) as lines,
    h.has_mobile and exists (from item as i where i.kit_id = pk.kit_id and i.is_usable and i.kind = 'mag_mount') as ok
from post_kit as pk
join post as p using (post_id)
join holding as h on h.kit_id = pk.kit_id
where p.post_type = 'sag' and h.radios > 0
