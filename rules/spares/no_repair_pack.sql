/*
title    = "No repair pack"
subject  = "kit"
severity = "advice"
why      = "Most faults in the field are a loose end or a broken tie, and want a tool and some tape."
not_met  = "{subject}: it has no tool roll and no tape and ties that work."
not_known = "{subject}: a tool roll or tape and ties is listed, and whether it works is not written down."
fix      = "Pack a tool roll, or tape and ties (about 5 to 90 USD). Disconnect the battery before you mend a lead."
source   = "common practice: spare parts lists after the 2017 hurricane season"
applies_to = "kits with a mast or with a radio that is not a handheld"

[remedy]
kind = "tool_roll"
*/
select
    h.kit_id        as subject,
    h.has_mobile, h.has_mast,
    i.kit_id is not null and i.is_sure as ok
from holding as h
left join (
    select kit_id, any_works(condition) as is_sure from item
    where is_usable and kind in ('tool_roll', 'cable_ties_tape') group by kit_id
) as i using (kit_id)
where h.has_mast or h.has_mobile
