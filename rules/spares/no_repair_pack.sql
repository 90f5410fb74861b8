/*
title    = "No repair pack"
subject  = "kit"
severity = "advice"
why      = "Most faults in the field are a loose end, a broken tie or a flat battery, and want a tool and a meter."
not_met  = "{subject}: missing for small repairs: {missing_parts}."
fix      = "Pack a tool roll or tape and ties (about 10 to 90 USD) and a multimeter (about 15 to 70 USD). Disconnect the battery before you mend a lead."
source   = "common practice: spare parts lists after the 2017 hurricane season"
applies_to = "kits with a mast or with a radio that is not a handheld"

[remedy]
kind = "tool_roll"
*/
with held as (
    select kit_id, coalesce(bool_or(kind in ('tool_roll', 'cable_ties_tape')), false) as has_tools,
        coalesce(bool_or(kind = 'multimeter'), false) as has_meter
    from item where is_usable group by kit_id
)
select
    kit.kit_id      as subject,
    concat_ws(', ', case when not has_tools then 'tools, tape or ties' end, case when not has_meter then 'multimeter' end) as missing_parts,
    kit.lines       as lines,
    has_tools and has_meter as ok
from kit
join holding as h using (kit_id)
join held using (kit_id)
where h.has_mast or h.has_mobile
