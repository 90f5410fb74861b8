/*
title    = "No lead for the vehicle or room of others"
subject  = "post_kit"
severity = "limits"
why      = "Where you ride or sit with others there is a battery and perhaps a socket, and none of the club's plugs."
not_met  = "{subject}: {member}'s {kit} has {what_lacks}"
not_known = "{subject}: whether the lead with {asked_lead} in {member}'s {kit} works is not written down."
fix      = "Bring a fused clip lead (about 15 to 30 USD); a shadow who transmits at low power gets by with a vehicle-socket lead (about 10 to 25 USD). Check polarity and voltage first."
source   = "a county member page: agency vehicles may lack a socket or be 24 V; county emergency group power pages: vehicle sockets are fused at 10 or 20 A; bike-tour guides"
applies_to = "kits with a radio that is not a handheld, at posts in a vehicle (SAG, lead vehicle, a sweep that is driven), which want battery clips, and at shadow posts, where a vehicle plug will do"

[remedy]
kind = "clip_lead"
*/
select
    pk.post_kit_id                  as subject,
    p.post_type, h.has_mobile,
    h.radio_lines                   as lines,
    if(i.has_plug, 'no battery clips; a vehicle plug feeds no full-power mobile.',
        'no battery clips' || if(p.post_type = 'shadow', ' and no vehicle plug.', '.')) as what_lacks,
    'battery clips' || if(p.post_type = 'shadow', ' or a vehicle plug', '') as asked_lead,
    case when i.kit_id is null then false when p.post_type = 'shadow' then i.is_sure else i.has_clips end as ok
from post_kit as pk
join post as p using (post_id)
join holding as h on h.kit_id = pk.kit_id
left join (
    select kit_id, any_works(condition) as is_sure, bool_or('j563_male' in (dc_plug, dc_plug_far)) as has_plug,
        any_works(case when 'clips' in (dc_plug, dc_plug_far) then condition end) as has_clips
    from item
    where is_usable and role = 'lead' and ('clips' in (dc_plug, dc_plug_far) or 'j563_male' in (dc_plug, dc_plug_far)) group by kit_id
) as i on i.kit_id = pk.kit_id
where (p.is_vehicle or p.post_type = 'shadow') and h.has_mobile
