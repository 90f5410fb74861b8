/*
title      = "Colder than the member's limit"
subject    = "post_kit"
severity   = "blocks"
why        = "The limit is the member's own; cold hands and heat stroke do not wait for a relief."
not_met    = "{subject}: down to {temp_min_c:.0f} °C is expected; {member} has set {cold_limit_c:.0f} °C."
not_known  = "{subject}: the event's temperatures are not told; {member} has set {cold_limit_c:.0f} °C."
told_by    = "coordinator"
mended_by  = "coordinator"
fix        = "Give the post to someone with another limit, or {member} a post indoors (costs nothing). Never ask for a reason."
source     = "aviation personal-minimums practice: limits are the person's own and are not loosened for one trip"
lines_of   = "members"
applies_to = "members who have set a limit for cold; a limit not set is close_to_two_limits"
*/
select
    pk.post_kit_id              as subject,
    e.temp_min_c, m.cold_limit_c,
    [m.line]                    as lines,
    e.temp_min_c >= m.cold_limit_c as ok
from post_kit as pk
join post as p using (post_id)
join event as e on e.event_id = p.event_id
join member as m on m.member_id = pk.member_id
where m.cold_limit_c is not null
