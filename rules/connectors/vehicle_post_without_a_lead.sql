/*
title    = "No lead for the vehicle or room of others"
subject  = "post_kit"
severity = "limits"
why      = "Where you ride or sit with others there is a battery and perhaps a socket, and none of the club's plugs."
not_met  = "{subject}: {member}'s {kit} has no battery clips and no vehicle plug."
not_known = "{subject}: whether the lead with battery clips or a vehicle plug in {member}'s {kit} works is not written down."
fix      = "Bring a fused clip lead or a vehicle-socket lead (about 10 to 30 USD). A socket feeds no full-power mobile; check polarity and voltage first."
source   = "a county member page: agency vehicles may lack a socket or be 24 V; bike-tour guides"
applies_to = "kits with a radio that is not a handheld, at SAG, lead-vehicle and shadow posts"

[remedy]
kind = "clip_lead"
*/
select
    pk.post_kit_id                  as subject,
    p.post_type, h.has_mobile,
    h.radio_lines                   as lines,
    i.kit_id is not null and i.is_sure as ok
from post_kit as pk
join post as p using (post_id)
join holding as h on h.kit_id = pk.kit_id
left join (
    select kit_id, any_works(condition) as is_sure from item
    where is_usable and role = 'lead' and ('clips' in (dc_plug, dc_plug_far) or 'j563_male' in (dc_plug, dc_plug_far)) group by kit_id
) as i on i.kit_id = pk.kit_id
where p.post_type in ('sag', 'shadow') and h.has_mobile
