/*
title     = "Kit short of its own hours"
subject   = "kit"
severity  = "limits"
why       = "A kit is planned for so many hours on its own battery; net control, packet and relay need more."
not_met   = "{subject}: as charged today it lasts {runtime_h:.1f} h of {need_h:.1f} h at an ordinary post; what ends it: {limited_by}."
not_known = "{subject}: its hours cannot be worked out: {limited_by}."
fix       = "{first}Charge the battery, add about {short_wh:.0f} Wh more ({mending_kind}: {batteries_wanted}, about {each_wh:.0f} Wh each{with_fuse}; a 20 Ah LiFePO4 battery is about 90 to 260 USD, a pack 20 to 80), transmit at low power where the path allows it (watts at low power: {low_power_w:.0f}; hours at low power: {low_power_h:.1f}), or plan a shorter shift. Charge where someone can see it; check local rules."
source    = "battery pages of county emergency groups (12 h baseline); discharge after Peukert and Ohm"
applies_to = "kits that hold a radio and something that can feed it; the others have no_battery_of_its_own or no_complete_station"

[remedy]
kind = "battery_lifepo4"
capacity_wh = "short_wh"

[shared]
battery_wh = "runs_out_before_the_shift_ends"
pack_wh = "runs_out_before_the_shift_ends"
*/
select
    r.kit_id                                                as subject,
    r.runtime_h, r.runtime_low_h, r.runtime_high_h, r.need_h, r.load_w, r.energy_wh, r.limited_by, r.low_power_w, r.low_power_h,
    r.how, r.lines,
    ceil(greatest(r.need_h - r.runtime_h, 0) * r.load_w)    as short_wh,
    sag_first(r.limited_by, r.runtime_h, r.load_w, r.energy_wh) as first,
    case when not h.has_mobile then 'handheld_pack' else 'battery_lifepo4' end as mending_kind,
    case when not h.has_mobile then $pack_wh else $battery_wh end as each_wh,
    case when not h.has_mobile then '' else ', each with a fuse of its own' end as with_fuse,
    cast(ceil(short_wh / each_wh) as integer)               as batteries_wanted,
    r.runtime_h >= r.need_h                                 as ok
from kit_runtime as r
left join holding as h using (kit_id)
left join station as s using (kit_id)
where r.has_battery or r.has_apart and s.stations_high > 0
