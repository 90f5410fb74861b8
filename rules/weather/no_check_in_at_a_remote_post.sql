/*
title      = "No check-in agreed at a remote post"
subject    = "post"
severity   = "blocks"
why        = "Who cannot call is missed only if somebody waits for their call."
not_met    = "{subject}: a check-in is agreed every {check_in_min:.0f} min; at a post like this {most_min:.0f} min is the longest."
not_known  = "{subject}: not written down: {check_in_open}."
told_by    = "coordinator"
fix        = "Agree a check-in at least every {most_min:.0f} min and what follows a missed one (who is called, who goes, after how long), tell the post and net control (costs nothing), and write check_in_min and missed_check_in."
source     = "trail-race plans and search-and-rescue ready-pack outlines: an agreed check-in interval and missed-check action; the interval is common practice"
applies_to = "posts that are carried to, remote, or without cell cover; where nobody said whether there is, those that no ordinary car reaches"

[param.most_min]
value  = 60
unit   = "min"
why    = "longer than an hour nobody knows whether a silent post is a quiet one"
source = "common practice"
*/
select
    post_id                     as subject,
    check_in_min,
    concat_ws(' and ', case when check_in_min is null then 'how often the post checks in' end,
        case when missed_check_in is null then 'what follows a missed check-in' end,
        case when not is_remote and has_cell_cover is null then 'whether a cell phone works there' end) as check_in_open,
    case when check_in_min > $most_min and (is_remote or not has_cell_cover) then false
         when check_in_min <= $most_min and missed_check_in is not null then true end as ok
from post
where is_remote or coalesce(not has_cell_cover, access in ('walk', '4x4') or is_on_foot)
