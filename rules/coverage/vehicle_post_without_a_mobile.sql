/*
title    = "Vehicle post without a mobile"
subject  = "post_kit"
severity = "limits"
why      = "Inside a car a handheld hears little; the car's own metal stands in the way."
not_met  = "{subject}: {member}'s {kit} has no mobile radio that is fed and heard on a band of the post, or no magnet mount for it on the roof."
not_known = "{subject}: whether {member}'s {kit} has a mobile radio that is fed and heard on a band of the post, and a magnet mount for it that works, is not written down."
fix      = "Bring a mobile (about 180 to 600 USD) with a magnet mount (about 25 to 90 USD), and feed it from a battery (about 60 to 260 USD) or by a fused clip lead from the vehicle's (about 15 to 30 USD), or borrow the club's."
source   = "bike-tour guides: lead and SAG vehicles with a mobile and a roof antenna"
applies_to = "kits with a radio, at posts in a vehicle (SAG, lead vehicle, a sweep that is driven); a lead to the vehicle's battery or socket feeds a mobile, too"

[remedy]
kind = "mag_mount"
*/
with fed as (   -- by a lead to the vehicle's battery or socket
    select pk.post_kit_id, any_works(case when i.role = 'radio' then if(i.bands is null and p.bands is not null, 'unknown', i.condition) end) as has_set,
        any_works(case when i.role = 'lead' then i.condition end) as has_lead
    from post_kit as pk join post as p using (post_id)
    join item as i on i.kit_id = pk.kit_id and i.is_usable and (
        i.role = 'radio' and i.kind <> 'handheld' and coalesce(list_has_any(string_split(i.bands, ' '), string_split(p.bands, ' ')), true)
        or i.role = 'lead' and ('clips' in (i.dc_plug, i.dc_plug_far) or 'j563_male' in (i.dc_plug, i.dc_plug_far)))
    group by pk.post_kit_id
)
select
    pk.post_kit_id                              as subject,
    p.post_type, h.radios,
    list_concat(h.radio_lines, h.antenna_lines) as lines,
    r.has_mount and (r.has_mobile or if(f.post_kit_id is null, false, f.has_set and f.has_lead)) as ok
from post_kit as pk
join post as p using (post_id)
join holding as h on h.kit_id = pk.kit_id
join want as w using (post_id)
join want_reach as r on r.want_id = w.want_id and r.kit_id = pk.kit_id
left join fed as f using (post_kit_id)
where p.is_vehicle and h.radios > 0
