/*
title      = "Close to one of the member's limits"
subject    = "post_kit"
severity   = "limits"
why        = "One thing near a limit is talked over before anybody goes; the member may say no without a reason."
not_met    = "{subject}: {near} comes close to what {member} has set; talk it over."
fix        = "Talk it over before anybody goes, ease it, or swap (costs nothing). Never ask for reasons."
source     = "aviation personal-minimums practice: one marginal factor is discussed, two are a no"
lines_of   = "members"
applies_to = "posts that ask for something hard, or something near a limit that the member has set, but nothing past one, which has a rule of its own; two things near a limit, or one without any, are close_to_two_limits"
*/
select
    h.post_kit_id               as subject,
    h.near,
    [m.line]                    as lines,
    h.near_limits = 0           as ok
from hardship as h
join post_kit as pk using (post_kit_id)
join member as m on m.member_id = pk.member_id
where not h.is_past and (h.near_limits = 1 or h.near_limits = 0 and h.limits_unset = 0)
