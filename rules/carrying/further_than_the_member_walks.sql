/*
title      = "Further than the member walks"
subject    = "post_kit"
severity   = "blocks"
why        = "The limit is the member's own; nobody argues it away for a post."
not_met    = "{subject}: {walk_km:.1f} km on foot; {member} walks {walk_limit_km:.1f} km."
not_known  = "{subject}: how far one walks is not told; {member} walks {walk_limit_km:.1f} km."
told_by    = "coordinator"
mended_by  = "coordinator"
fix        = "Give the post to someone who walks that far, or find a track for a car (costs nothing). The coordinator writes how far it is in walk_km. Never ask for a reason."
source     = "aviation personal-minimums practice: limits are the person's own and are not loosened for one trip"
lines_of   = "members"
applies_to = "posts whose walk is told or that are reached or held on foot, for members who have set a limit; a limit not set is close_to_two_limits"
*/
select
    pk.post_kit_id              as subject,
    p.walk_km, m.walk_limit_km,
    [m.line]                    as lines,
    p.walk_km <= m.walk_limit_km as ok
from post_kit as pk
join post as p using (post_id)
join member as m on m.member_id = pk.member_id
where (p.walk_km is not null or p.access in ('walk', 'carry') or p.is_on_foot) and m.walk_limit_km is not null
