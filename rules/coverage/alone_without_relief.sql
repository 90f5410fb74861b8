/*
title    = "Alone too long without relief"
subject  = "post"
severity = "limits"
why      = "One person has to eat, rest and step away; the radio does not wait."
not_met  = "{subject}: one person is alone there for {longest_alone_h:.1f} h; beyond {most_h:.0f} h a relief or a partner is wanted."
fix      = "Name a relief for the middle of the shift, or pair the post with a helper (costs nothing)."
source   = "common practice; an exercise manual: ten minutes of overlap at handover"
applies_to = "posts that somebody is sent to; the others have hours_without_anyone"

[param.most_h]
value  = 6
unit   = "h"
why    = "half a day without a break"
source = "common practice"
*/
select
    post_id                                     as subject,
    coalesce(longest_alone_h, 0)                as longest_alone_h,
    coalesce(longest_alone_h, 0) <= $most_h     as ok
from coverage
where people > 0
