/*
title     = "Not on the common 12 V"
subject   = "item"
severity  = "advice"
why       = "One voltage lets any battery at the post run any load at the post."
not_met   = "{subject}: runs on {volts_min:.0f} to {volts_max:.0f} V, outside the common {common_v:.1f} V, and the kit holds no converter."
not_known = "{subject}: its voltage is not written down."
fix       = "Add a converter (buck, boost or USB-C; about 15 to 180 USD) or keep a 12 V lead for it in the bag."
source    = "common practice: one 12 V bus, with a converter for each exception"
applies_to = "radios and computers that work; handhelds run on their packs"

[param.common_v]
value  = 13.2
unit   = "V"
why    = "the middle of a 12 V battery under charge and load"
source = "common practice"

[remedy]
kind = "buck_converter"
*/
select
    i.item_id           as subject,
    i.volts_min, i.volts_max,
    case when i.volts_min is null or i.volts_max is null then null
         else $common_v between i.volts_min and i.volts_max
              or exists (from item as c where c.kit_id = i.kit_id and c.is_usable and c.role = 'converter') end as ok
from item as i
where i.is_usable and i.kind <> 'handheld' and i.role in ('radio', 'computer')
