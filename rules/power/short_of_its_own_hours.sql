/*
title     = "Kit short of its own hours"
subject   = "kit"
severity  = "limits"
why       = "A kit is planned for so many hours on its own battery; net control, packet and relay need more."
not_met   = "{subject}: as charged today it lasts {runtime_h:.2f} h of {need_h:.2f} h at an ordinary post; what ends it: {limited_by}."
not_known = "{subject}: its hours cannot be worked out: {limited_by}."
fix       = "Charge the battery, add about {short_wh:.0f} Wh (20 Ah LiFePO4 batteries: {batteries_wanted}; one gives about {battery_wh:.0f} Wh and is about 90 to 260 USD), transmit at low power where the path allows it (watts at low power: {low_power_w:.0f}; hours at low power: {low_power_h:.1f}), or plan a shorter shift. Charge where someone can see it; check local rules."
source    = "battery pages of county emergency groups (12 h baseline); discharge after Peukert and Ohm"
applies_to = "kits that hold a radio"

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
    kit_id                                                  as subject,
    runtime_h, runtime_low_h, runtime_high_h, need_h, load_w, energy_wh, limited_by, low_power_w, low_power_h, how, lines,
    ceil(greatest(need_h - runtime_h, 0) * load_w)          as short_wh,
    cast(ceil(short_wh / $battery_wh) as integer)           as batteries_wanted,
    runtime_h >= need_h                                     as ok
from kit_runtime
