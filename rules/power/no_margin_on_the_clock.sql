/*
title     = "No margin on the clock"
subject   = "post_kit"
severity  = "limits"
why       = "Assignments run on; a battery planned to the minute ends before the sweep comes in."
not_met   = "{subject}: {member}'s {kit} lasts {least_h:.1f} h for {need_h:.1f} h{same_charge}{at_worst}; plan for {margin:.2f} times the hours."
not_known = "{subject}: whether {member}'s {kit} lasts {margin:.2f} times its {need_h:.1f} h{same_charge} is not known: {untold}."
fix       = "Bring about {short_wh:.0f} Wh more ({mending_kind}: {batteries_wanted}, about {each_wh:.0f} Wh each{with_fuse}; a 20 Ah LiFePO4 battery is about 90 to 260 USD, a pack 20 to 80), transmit at low power where the path allows it (watts at low power: {low_power_w:.0f}; hours at low power: {low_power_h:.1f}), or name a relief."
source    = "common practice: club event checklists plan for overrun; 12 h baseline of county emergency groups; about a tenth from a panel in rain, solar talks of clubs"
applies_to = "kits that last at least as long as their shift, unless others sent to the post have at every hour a station that suits it as well and lasts longer; a kit is judged by its best station, a second way that ends too early is told by post_without_a_second_way; of a charge that two posts share mains at the other alone are taken to put anything back, and only where no hour of the event is too cold or too warm for it"

[param.margin]
value  = 1.25
unit   = "1"
why    = "assignments run on"
source = "common practice"

[remedy]
kind = "battery_lifepo4"
capacity_wh = "short_wh"

[shared]
battery_wh = "runs_out_before_the_shift_ends"
pack_wh = "runs_out_before_the_shift_ends"
*/
select
    r.post_kit_id                               as subject,
    r.runtime_h, r.runtime_low_h, r.runtime_high_h, r.need_h, r.limited_by, r.low_power_w, r.low_power_h, r.how, r.lines,
    case when r.elsewhere_h > 0 then concat(' (other posts on the same charge take as much as ',
        hours_asked(r.elsewhere_h), ' at this load)') else '' end as same_charge,
    case when r.runtime_h >= r.need_h * $margin and r.runtime_low_h < r.need_h then r.runtime_low_h else r.runtime_h end as least_h,
    case when least_h < r.runtime_h then concat(' at worst, as that rests on ', r.rests_on) else '' end as at_worst,
    lacking.wh                                  as short_wh,
    case when i.kind = 'handheld' then 'handheld_pack' else 'battery_lifepo4' end as mending_kind,
    case when i.kind = 'handheld' then $pack_wh else $battery_wh end as each_wh,
    case when i.kind = 'handheld' then '' else ', each with a fuse of its own' end as with_fuse,
    cast(ceil(lacking.wh / each_wh) as integer) as batteries_wanted,
    r.untold,
    case when r.is_on_mains or r.runtime_h >= r.need_h * $margin and r.runtime_low_h >= r.need_h then true
         when r.untold is null or r.hoped_h < r.need_h * $margin then false end as ok
from post_kit as pk
join runtime as r using (post_kit_id)
left join item as i on i.item_id = r.radio_item_id,
    lateral (select ceil(greatest(r.need_h * $margin - r.runtime_h, r.need_h - r.runtime_low_h,
        0) * r.load_w / r.given_share) as wh) as lacking
where not r.is_second and (r.is_on_mains or r.runtime_h >= r.need_h)
