/*
title     = "Little room between antenna and public"
subject   = "post_kit"
severity  = "limits"
why       = "People lean over barriers; a distance without margin is soon used up."
not_met   = "{subject}: people can come within {public_m:.1f} m; {member}'s {kit}{others_there} asks for {public_safe_m:.1f} m, with margin {wanted_m:.1f} m."
not_known = "{subject}: {member}'s {kit} asks for {public_safe_m:.1f} m between antenna and people; whether the public comes to this event (public) is not written down."
told_by   = "coordinator"
fix       = "Place the antenna {wanted_m:.1f} m or more from people, above their heads or behind tape (about 8 to 60 USD), and have the coordinator write the distance in public_m."
source    = "47 CFR 1.1310 Table 1; FCC OET Bulletin 65 eq. 3 to 7 with ground reflection; what is on the air at once adds up; margin is common practice"
applies_to = "kits that reach the post's bands, at posts of events, but for those without public; where people come nearer than the distance itself, or nobody said how near, too_close_to_the_public speaks, which blocks"

[param.margin]
value  = 1.5
unit   = "1"
why    = "people lean over barriers"
source = "common practice"

[shared]
arm_m = "too_close_to_the_public"
*/
select
    x.post_kit_id                               as subject,
    p.public_m, x.public_safe_m, x.public_safe_m * $margin as wanted_m, x.rf_watts, x.band, x.how,
    coalesce(', with ' || x.others_of || ' on the air too,', '') as others_there,
    x.lines,
    (case when x.public_safe_m <= $arm_m then coalesce(p.public_m >= x.public_safe_m, true)
          else p.public_m >= x.public_safe_m * $margin end) or case when e.is_public then false end as ok
from exposure as x
join post_kit as pk using (post_kit_id)
join post as p using (post_id)
join event as e using (event_id)
where coalesce(e.is_public, true) and (p.public_m >= x.public_safe_m or p.public_m is null and x.public_safe_m <= $arm_m)
