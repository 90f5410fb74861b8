/*
title     = "No margin on the clock"
subject   = "post_kit"
severity  = "limits"
why       = "Assignments run on; a battery planned to the minute ends before the sweep comes in."
not_met   = "{subject}: {member}'s {kit} lasts {runtime_h:.1f} h for {need_h:.1f} h; plan for {margin:.2f} times the hours."
not_known = "{subject}: the hours of {member}'s {kit} cannot be worked out: {limited_by}."
fix       = "Bring a second battery (20 Ah LiFePO4 about 90 to 260 USD), transmit at low power where the path allows it (watts at low power: {low_power_w:.0f}; hours at low power: {low_power_h:.1f}), or name a relief."
source    = "common practice: club event checklists plan for overrun; 12 h baseline of county emergency groups"
applies_to = "kits that hold a radio, unless another kit assigned to the post is there as long and lasts longer"

[param.margin]
value  = 1.25
unit   = "1"
why    = "assignments run on"
source = "common practice"

[remedy]
kind = "battery_lifepo4"
*/
select
    r.post_kit_id                               as subject,
    r.runtime_h, r.runtime_low_h, r.runtime_high_h, r.need_h, r.limited_by, r.low_power_w, r.low_power_h, r.how, r.lines,
    r.is_on_mains or r.runtime_h >= r.need_h * $margin as ok
from post_kit as pk
join runtime as r using (post_kit_id)
where not r.is_second
