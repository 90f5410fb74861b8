/*
title    = "Mast unmarked among the public"
subject  = "post"
severity = "blocks"
why      = "Guys and coax at ankle height trip people, and a pulled guy brings the mast down on them."
not_met  = "{subject}: a mast of {mast_m:.1f} m is planned among the public, and no kit sent there holds flags, cones or tape."
fix      = "Bring cones and flagging tape (about 8 to 60 USD); flag guys, stakes and coax, and keep visitors out of the fall zone."
source   = "national field-day safety checklist and related club safety notes"
applies_to = "posts of public events that plan a mast"

[remedy]
kind = "cones_tape"
*/
select
    p.post_id   as subject,
    p.mast_m,
    exists (from assignment as a join item as i using (kit_id)
        where a.post_id = p.post_id and i.is_usable and i.kind in ('cones_tape', 'warning_signs')) as ok
from post as p
join event as e using (event_id)
where e.is_public and p.mast_m is not null
