/*
title     = "Battery runs out before the shift ends"
subject   = "post_kit"
severity  = "blocks"
why       = "A station that goes silent mid-shift leaves its post uncovered until someone drives there."
not_met   = "{subject}: {member}'s {kit} lasts {runtime_h:.2f} h of {need_h:.2f} h{same_charge} at {load_w:.0f} W on average; what ends it: {limited_by}."
not_known = "{subject}: the hours of {member}'s {kit} cannot be worked out: {limited_by}."
fix       = "Bring about {short_wh:.0f} Wh more (20 Ah LiFePO4 batteries: {batteries_wanted}; one gives about {battery_wh:.0f} Wh and is about 90 to 260 USD), transmit at low power where the path allows it (watts at low power: {low_power_w:.0f}; hours at low power: {low_power_h:.1f}), or split the shift. Charge batteries where someone can see them; check local rules."
applies_to = "kits that hold a radio, unless others sent to the post have at every hour a station that suits it as well and lasts longer: one, or two where it needs two ways; where a kit brings both ways the one that ends first is judged"
source    = "common practice: battery power pages of county emergency groups (12 h baseline); discharge after Peukert and Ohm"

[param.battery_wh]
value  = 230
unit   = "Wh"
why    = "what a 20 Ah LiFePO4 battery gives"
source = "20 Ah at 12.8 V, nine tenths of it used; common practice"

[remedy]
kind = "battery_lifepo4"
capacity_wh = "short_wh"
*/
select
    r.post_kit_id                                       as subject,
    r.runtime_h, r.runtime_low_h, r.runtime_high_h, r.need_h, r.load_w, r.energy_wh, r.limited_by, r.low_power_w,
    r.low_power_h, r.how, r.lines,
    case when r.elsewhere_h > 0 then concat(', ', round(r.elsewhere_h, 1), ' h of it for other posts on the same charge') else '' end as same_charge,
    ceil(r.short_wh)                                    as short_wh,
    cast(ceil(short_wh / $battery_wh) as integer)       as batteries_wanted,
    r.is_on_mains or r.runtime_h >= r.need_h            as ok
from post_kit as pk
join runtime as r using (post_kit_id)
where not r.is_second
