/*
title      = "Net control without a change of seats"
subject    = "post"
severity   = "limits"
why        = "After two hours at the microphone even a good operator misses calls."
not_met    = "{subject}: somebody is on for {longest_shift_h:.1f} h and the seats change every {rotation_h:.1f} h; {most_h} h is the most."
not_known  = "{subject}: somebody is on for {longest_shift_h:.1f} h; when operator and logger change seats is not written down."
told_by    = "coordinator"
fix        = "Change seats every {most_h} h or sooner (costs nothing) and write it in rotation_h, or plan shorter shifts."
source     = "operator and logger training slides of an exercise manual: two hours can tire one operator; change every 2 to 4 h"
applies_to = "net-control posts that somebody is sent to; the others have hours_without_anyone"

[param.most_h]
value  = 4
unit   = "h"
why    = "longest time in one seat"
source = "operator and logger training slides of an exercise manual"
*/
select
    post_id                         as subject,
    c.longest_shift_h, p.rotation_h,
    c.longest_shift_h <= $most_h or p.rotation_h <= $most_h as ok
from post as p
join coverage as c using (post_id)
where p.post_type = 'net_control' and c.people > 0
