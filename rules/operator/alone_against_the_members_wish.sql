/*
title      = "Alone against the member's wish"
subject    = "post_kit"
severity   = "blocks"
why        = "Whoever asks not to be alone has a reason and need not give it."
not_met    = "{subject}: {member} would be alone there and has asked not to be."
mended_by  = "coordinator"
fix        = "Send a second person for the whole shift, or swap with someone who is ready to work alone (costs nothing)."
source     = "aviation personal-minimums practice: limits are the person's own and are not loosened for one trip"
lines_of   = "members"
applies_to = "members who have said whether they work alone; the others have close_to_two_limits"
*/
select
    pk.post_kit_id              as subject,
    w.is_alone,
    [m.line]                    as lines,
    m.solo_ok or not w.is_alone as ok
from post_kit as pk
join watch as w using (post_kit_id)
join member as m on m.member_id = pk.member_id
where m.solo_ok is not null
