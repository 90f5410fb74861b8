/*
title    = "Hours without anyone"
subject  = "post"
severity = "blocks"
why      = "An open post with nobody at it is a stretch of the course that nobody watches."
not_met  = "{subject}: nobody is there for {uncovered_h:.1f} of {shift_h:.1f} h, from {first_gap} on."
fix      = "Ask for one more volunteer, stretch a shift, or close or merge the post with the organiser's consent (costs nothing)."
source   = "common practice: every post staffed for every hour it is open; marathon and bike-tour guides"
*/
select
    post_id                             as subject,
    p.shift_h, c.uncovered_h,
    strftime(c.first_gap, '%a %H:%M')   as first_gap,
    coalesce(c.uncovered_h, p.shift_h) = 0 as ok
from post as p
left join coverage as c using (post_id)
