/*
title      = "In the dark against the member's wish"
subject    = "post_kit"
severity   = "blocks"
why        = "Whoever asks not to work in the dark has a reason and need not give it."
not_met    = "{subject}: {dark_h:.1f} h of darkness, and {member} has asked not to work in the dark."
not_known  = "{subject}: how dark it is cannot be worked out without the event's place and time zone, and {member} has asked not to work in the dark."
told_by    = "coordinator"
mended_by  = "coordinator"
fix        = "Give {member} the light hours, or swap with somebody who works at night (costs nothing)."
source     = "aviation personal-minimums practice: limits are the person's own and are not loosened for one trip"
lines_of   = "members"
applies_to = "members who have said whether they work in the dark; the others have close_to_two_limits"
*/
select
    pk.post_kit_id              as subject,
    w.dark_h,
    [m.line]                    as lines,
    m.night_ok or not w.is_dark as ok
from post_kit as pk
join watch as w using (post_kit_id)
join member as m on m.member_id = pk.member_id
where m.night_ok is not null
