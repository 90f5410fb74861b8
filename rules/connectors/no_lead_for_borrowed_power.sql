/*
title    = "No lead for borrowed power"
subject  = "kit"
severity = "advice"
why      = "With clips, a vehicle plug and bare or ring ends any car, battery or supply on the spot can take over."
not_met  = "{subject}: no lead that works ends in: {missing_parts}."
not_known = "{subject}: whether the leads that end in battery clips, a vehicle plug, and ring or bare ends work is not written down."
fix      = "Add a fused clip lead, a vehicle-socket lead and a fused lead with ring or bare ends (about 25 to 50 USD together). Check polarity and voltage first: agency vehicles may be 24 V or positive earth."
source   = "state auxiliary-communications DC connector standard; county group power pages"
applies_to = "kits with a radio that is not a handheld"

[remedy]
kind = "clip_lead"
*/
with held as (
    select kit_id, any_works(case when 'clips' in (dc_plug, dc_plug_far) then condition end) as has_clips,
        any_works(case when 'j563_male' in (dc_plug, dc_plug_far) then condition end) as has_socket_plug,
        any_works(case when dc_plug in ('ring_m6', 'bare_wire')
            or dc_plug_far in ('ring_m6', 'bare_wire') then condition end) as has_ends
    from item where is_usable and role = 'lead' group by kit_id
)
select
    h.kit_id                        as subject,
    concat_ws(', ', case when l.kit_id is null or not has_clips then 'battery clips' end,
        case when l.kit_id is null or not has_socket_plug then 'vehicle plug' end,
        case when l.kit_id is null or not has_ends then 'ring or bare ends' end) as missing_parts,
    h.radio_lines                   as lines,
    l.kit_id is not null and has_clips and has_socket_plug and has_ends as ok
from holding as h
left join held as l using (kit_id)
where h.has_mobile
