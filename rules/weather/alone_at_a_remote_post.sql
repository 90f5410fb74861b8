/*
title      = "Alone at a remote post"
subject    = "post"
severity   = "blocks"
why        = "Alone in the hills, or where no phone works, one turned ankle silences the post and starts a search."
not_met    = "{subject}: somebody is alone there for part of the time ({alone_shifts} of {shifts} shifts); two people are wanted."
not_known  = "{subject}: somebody is alone there for part of the time ({alone_shifts} of {shifts} shifts), and whether a cell phone works there is not written down."
told_by    = "coordinator"
fix        = "Send a second person for the whole time, or move the post to where a phone works (costs nothing)."
source     = "remote radio posts of trail races are staffed by two; search-and-rescue practice"
applies_to = "posts with somebody assigned that are carried to, remote, or without cell cover; where nobody said whether there is, those that no ordinary car reaches, and the others, without mains and not in a vehicle, of an event that does not tell that care is near"

[param.near_care_min]
value  = 30
unit   = "min"
why    = "where care comes within half an hour, others are near, and no phone is the exception; farther out it is asked"
source = "common practice"
*/
select
    p.post_id                   as subject,
    count(distinct (c.member_id, a.starts, a.ends)) filter (c.others = 0) as alone_shifts,
    count(distinct (c.member_id, a.starts, a.ends)) as shifts,
    case when min(c.others) > 0 then true when p.is_remote or not p.has_cell_cover then false end as ok
from post as p
join company as c using (post_id)
left join assignment as a on a.assignment_id = c.assignment_id
left join event as e on e.event_id = p.event_id
where p.is_remote or coalesce(not p.has_cell_cover, p.access in ('walk', '4x4') or p.is_on_foot
    or (e.minutes_to_care < $near_care_min or p.has_mains or p.is_vehicle) is not true)
group by p.post_id, p.is_remote, p.has_cell_cover
