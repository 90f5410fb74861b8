/*
title      = "Not run for its hours on battery"
subject    = "kit"
severity   = "limits"
why        = "Only a run of the planned length shows what a kit really draws."
not_met    = "{subject}: longest run on battery of late {longest_battery_h:.1f} h; the kit is meant for {need_h:.1f} h."
not_known  = "{subject}: the hours that it ran on battery are not written down; it is meant for {need_h:.1f} h."
fix        = "Run it on its battery for the planned hours, or for the longest shift that it is sent to, with a meter in the lead (about 20 to 70 USD), and write the hours as a rehearsal (hours_on_battery). Stay near while it runs."
source     = "common practice: one run of the planned shift length on battery, with the amp-hours measured"
applies_to = "kits with a battery or pack of their own"

[param.usual_h]
value  = 12
unit   = "h"
why    = "for kits that name no hours"
source = "12 h baseline of county emergency groups"
*/
select
    p.kit_id                    as subject,
    case when p.ladder = 0 then 0 else p.longest_battery_h end as longest_battery_h,
    coalesce(r.need_h, kit.hours, $usual_h) as need_h,
    case when p.longest_battery_h >= coalesce(r.need_h, kit.hours, $usual_h) then true
         when p.longest_battery_h < coalesce(r.need_h, kit.hours, $usual_h) or p.ladder = 0
             and (select count(*) from rehearsal) > 0 then false end as ok
from practice as p
join kit using (kit_id)
join holding as h using (kit_id)
left join kit_runtime as r using (kit_id)
where h.batteries + h.packs > 0
