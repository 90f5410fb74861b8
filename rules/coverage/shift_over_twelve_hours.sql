/*
title    = "Shift over twelve hours"
subject  = "post"
severity = "blocks"
why      = "Past twelve hours people mishear, misjudge and fall asleep on the drive home."
not_met  = "{subject}: somebody is on for {longest_shift_h:.1f} h within 24 without a rest; {most_h:.0f} h is the most."
fix      = "Split the shift and name a relief who overlaps by ten minutes; plan the drive home or a bed nearby (0 to 150 USD)."
source   = "county credentialing page: 8 to 12 h assignments; trail-race plans: two per site for 24 h"
applies_to = "posts that somebody is sent to; the others have hours_without_anyone"

[param.most_h]
value  = 12
unit   = "h"
why    = "one operational period"
source = "county credentialing page; trail-race plans"
*/
select
    post_id                         as subject,
    max(shift_h)                    as longest_shift_h,
    max(shift_h) <= $most_h         as ok
from shift
group by post_id
