/*
title     = "Battery leaves the radio's voltage window"
subject   = "kit"
severity  = "limits"
why       = "A radio that wants 11.7 V shuts down on transmit while a lead-acid battery is still half full."
not_met   = "{subject}: browns out after {runtime_h:.1f} h, before the stored energy is used; below {stop_v:.1f} V it stops."
not_known = "{subject}: when it stops cannot be worked out: {limited_by}."
fix       = "Use LiFePO4, a shorter or heavier lead, lower power, or a boost converter (about 60 to 180 USD)."
source    = "radios at 13.8 V -15 % (transceiver specifications); 100 W radio on 12 V lead-acid that shut down at half charge, battery test report"
applies_to = "kits whose main radio is not a handheld and has a battery"

[remedy]
kind = "boost_converter"
*/
select
    s.kit_id            as subject,
    r.runtime_h, r.stop_v, r.limited_by, r.how,
    s.lines,
    case when r.runtime_h is not null then r.limited_by <> 'brown-out' end as ok
from supply as s
join kit_runtime as r on r.kit_id = s.kit_id
where s.is_main and not coalesce(s.is_handheld, false) and (s.bank_ah is null or s.bank_ah > 0)
