/*
title      = "Not run for as long as the shift"
subject    = "post_kit"
severity   = "limits"
why        = "A battery that carried the afternoon in the park says nothing of the night at the post."
not_met    = "{subject}: {member}'s {kit} is on for {need_h:.1f} h; its longest run on battery of late was {longest_battery_h:.1f} h."
fix        = "Run it on its battery for the hours of the shift, with a meter in the lead (about 20 to 70 USD), and write the hours as a rehearsal (hours_on_battery). Stay near while it runs."
source     = "common practice: one run of the planned shift length on battery, with the amp-hours measured"
applies_to = "posts without mains, and kits with a battery that ran the hours that they say they are for and are on there for longer; of the others never_ran_its_hours speaks"

[shared]
usual_h = "never_ran_its_hours"
*/
select
    pk.post_kit_id                      as subject,
    pk.need_h, p.longest_battery_h,
    kit.lines                           as lines,
    p.longest_battery_h >= pk.need_h    as ok
from post_kit as pk
join post using (post_id)
join kit on kit.kit_id = pk.kit_id
join holding as h on h.kit_id = pk.kit_id
join practice as p on p.kit_id = pk.kit_id
left join kit_runtime as r on r.kit_id = pk.kit_id
where p.longest_battery_h >= coalesce(r.need_h, kit.hours, $usual_h) and h.batteries + h.packs > 0
    and post.has_mains is distinct from true
    and pk.need_h > coalesce(r.need_h, kit.hours, $usual_h)
