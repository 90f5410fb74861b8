/*
title      = "Close to two of the member's limits"
subject    = "post_kit"
severity   = "blocks"
why        = "One thing near a limit is talked over; two at once are how people get hurt, and a limit that is not written may be passed already."
not_met    = "{subject}: {near_limits} things come close to or pass what {member} has set: {near}."
not_known  = "{subject}: {member} has set no limit for what the post asks: {unset_limits}."
told_by    = "coordinator"
mended_by  = "coordinator"
fix        = "Swap, or change the post so that one of them is eased: a ride, a shorter shift, a partner (costs nothing). The coordinator asks for the limits that are not written, never for reasons."
source     = "aviation personal-minimums practice: one marginal factor is discussed, two are a no"
lines_of   = "members"
applies_to = "posts that ask for something hard: a long walk, cold, heat, dark hours or being alone, and less than that, or a load that is carried alone, where it is near a limit that the member has set"

[param.least]
value  = 2
unit   = "1"
why    = "two marginal factors are a no"
source = "aviation personal-minimums practice"
*/
select
    h.post_kit_id               as subject,
    h.near_limits, h.near, h.unset_limits,
    [m.line]                    as lines,
    case when h.near_limits >= $least then false when h.limits_unset = 0 then true end as ok
from hardship as h
join post_kit as pk using (post_kit_id)
join member as m on m.member_id = pk.member_id
