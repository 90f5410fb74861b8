/*
title     = "Battery runs out before the shift ends"
subject   = "post_kit"
severity  = "blocks"
why       = "A station that goes silent mid-shift leaves its post uncovered until someone drives there."
not_met   = "{subject}: {member}'s {kit} lasts {runtime_h:.1f} h of {need_h:.1f} h at {load_w:.0f} W on average{same_charge}; what ends it: {limited_by}."
not_known = "{subject}: the hours of {member}'s {kit} are not known: {limited_by}."
fix       = "{first}Bring about {short_wh:.0f} Wh more ({mending_kind}: {batteries_wanted}, about {each_wh:.0f} Wh each{with_fuse}; a 20 Ah LiFePO4 battery is about 90 to 260 USD, a pack 20 to 80), transmit at low power where the path allows it (watts at low power: {low_power_w:.0f}; hours at low power: {low_power_h:.1f}), or split the shift. Charge batteries where someone can see them; check local rules."
applies_to = "kits that hold a radio, unless others sent to the post have at every hour a station that suits it as well and lasts longer; a kit is judged by its best station, a second way that ends too early is told by post_without_a_second_way; it is taken to come charged and to be charged again in a night of the policy's home_h between two shifts, which nobody tells (no_way_to_recharge asks for a charger where the next shift begins within 12 h); of a charge that two posts share mains at the other alone are taken to put anything back, and only where no hour of the event is too cold or too warm for it; kits with nothing to feed the radio have no_complete_station"
source    = "common practice: battery power pages of county emergency groups (12 h baseline); discharge after Peukert and Ohm"

[param.battery_wh]
value  = 230
least  = 1
unit   = "Wh"
why    = "what a 20 Ah LiFePO4 battery gives"
source = "20 Ah at 12.8 V, nine tenths of it used; common practice"

[param.pack_wh]
value  = 12
least  = 1
unit   = "Wh"
why    = "what a handheld's pack of 1.8 Ah gives"
source = "1.8 Ah at 7.4 V, nine tenths of it used; common practice"

[remedy]
kind = "battery_lifepo4"
capacity_wh = "short_wh"
*/
select
    r.post_kit_id                                       as subject,
    r.runtime_h, r.runtime_low_h, r.runtime_high_h, r.need_h, r.load_w, r.energy_wh, r.low_power_w,
    r.low_power_h, r.how, r.lines,
    case when r.elsewhere_h > 0 then concat(' (other posts on the same charge take as much as ',
        hours_asked(r.elsewhere_h), ' at this load)') else '' end as same_charge,
    lacking.wh                                          as short_wh,
    sag_first(r.limited_by, r.runtime_h + r.elsewhere_h, r.load_w, r.energy_wh) as first,
    case when i.kind = 'handheld' then 'handheld_pack' else 'battery_lifepo4' end as mending_kind,
    case when i.kind = 'handheld' then $pack_wh else $battery_wh end as each_wh,
    case when i.kind = 'handheld' then '' else ', each with a fuse of its own' end as with_fuse,
    cast(ceil(lacking.wh / each_wh) as integer)         as batteries_wanted,
    case when r.hoped_h >= r.need_h and r.runtime_h < r.need_h
         then concat(r.untold, '; without, it lasts ', hours_given(r.runtime_h), ' of ', hours_asked(r.need_h))
         when r.runtime_high_h >= r.need_h and r.runtime_h < r.need_h
         then concat('they rest on ', r.rests_on, '; as is usual it lasts ', hours_given(r.runtime_h), ' of ',
             hours_asked(r.need_h), ', at worst ', hours_given(r.runtime_low_h))
         else r.limited_by end                          as limited_by,
    case when r.is_on_mains or r.runtime_h >= r.need_h then true
         when r.runtime_high_h >= r.need_h then null
         when r.runtime_h < r.need_h then false end     as ok
from post_kit as pk
join runtime as r using (post_kit_id)
left join item as i on i.item_id = r.radio_item_id
left join station as s on s.kit_id = pk.kit_id,
    lateral (select ceil(r.short_wh / r.given_share) as wh) as lacking
where not r.is_second and (r.has_battery or r.is_on_mains or s.stations_high > 0)
