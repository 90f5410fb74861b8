/*
title     = "Lead drops too much voltage"
subject   = "item"
severity  = "limits"
why       = "Voltage lost in the lead is taken from the radio, which drops out while the battery is still half full."
not_met   = "{subject}: {drop_v:.2f} V ({drop_share:.1%} of 13.8 V) is lost at {peak_a:.0f} A over {length_m:.1f} m of {wire_mm2:.1f} mm²."
not_known = "{subject}: wire size, length or the radio's current is not written down."
fix       = "Shorten the lead or use heavier wire (12 AWG up to 3.3 m, 10 AWG up to 5 m for a 50 W mobile; about 15 to 40 USD)."
source    = "boat-wiring standard ABYC E-11: 3 % for circuits that matter, 10 % at most"
applies_to = "DC leads, clip leads and socket leads that work, in kits with a radio that is not a handheld"

[param.most_share]
value  = 0.03
unit   = "1"
why    = "radios at 13.8 V -15 % have little to spare on a battery"
source = "ABYC E-11, circuits that matter"

[remedy]
kind = "dc_lead"
*/
select
    l.item_id           as subject,
    l.drop_v, l.drop_share, l.peak_a, l.length_m, l.wire_mm2, l.how,
    l.drop_share <= $most_share as ok
from lead as l
join holding as h on h.kit_id = l.kit_id
where h.has_mobile
