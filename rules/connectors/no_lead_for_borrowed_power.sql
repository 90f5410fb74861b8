/*
title    = "No lead for borrowed power"
subject  = "kit"
severity = "advice"
why      = "With clips and a vehicle plug any car or battery on the spot can take over."
not_met  = "{subject}: no lead that works ends in: {missing_parts}."
fix      = "Add a fused clip lead and a vehicle-socket lead (about 25 to 50 USD together). Check polarity and voltage first: agency vehicles may be 24 V or positive earth."
source   = "state auxiliary-communications DC connector standard; county group power pages"
applies_to = "kits with a radio that is not a handheld"

[remedy]
kind = "clip_lead"
*/
with held as (
    select kit_id, coalesce(bool_or('clips' in (dc_plug, dc_plug_far)), false) as has_clips,
        coalesce(bool_or('j563_male' in (dc_plug, dc_plug_far)), false) as has_socket_plug
    from item where is_usable and role = 'lead' group by kit_id
)
select
    h.kit_id                        as subject,
    concat_ws(', ', case when has_clips is not true then 'battery clips' end,
        case when has_socket_plug is not true then 'vehicle plug' end) as missing_parts,
    h.radio_lines                   as lines,
    coalesce(has_clips and has_socket_plug, false) as ok
from holding as h
left join held using (kit_id)
where h.has_mobile
