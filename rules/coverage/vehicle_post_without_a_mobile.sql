/*
title    = "Vehicle post without a mobile"
subject  = "post_kit"
severity = "limits"
why      = "Inside a car a handheld hears little; the car's own metal stands in the way."
not_met  = "{subject}: {member}'s {kit} has no mobile radio, or no magnet mount for the roof."
not_known = "{subject}: whether the mobile radio and the magnet mount of {member}'s {kit} work is not written down."
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
    w.has_mobile and w.has_mount                as ok
from post_kit as pk
join post as p using (post_id)
join holding as h on h.kit_id = pk.kit_id
join (
    select kit_id, any_works(case when role = 'radio' and kind <> 'handheld' then condition end) as has_mobile,
        any_works(case when kind = 'mag_mount' then condition end) as has_mount
    from item where is_usable and role in ('radio', 'antenna') group by kit_id
) as w on w.kit_id = pk.kit_id
where p.post_type = 'sag' and h.radios > 0
