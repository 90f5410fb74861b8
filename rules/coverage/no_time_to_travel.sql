/*
title    = "No time to get to the next post"
subject  = "member"
severity = "limits"
why      = "Packing up, driving and setting up take longer than the plan says."
not_met  = "{subject}: {gap_min} min between {places}; {least_min} min are wanted."
mended_by = "coordinator"
fix      = "Move one assignment, or have somebody hold the second post until they arrive (costs nothing)."
source   = "common practice: early report times of marathon and bike-tour guides (on station 15 min before check-in)"
applies_to = "members who are sent to more than one post; no minute between two places is in_two_places_at_once, which blocks"

[param.least_min]
value  = 30
unit   = "min"
why    = "pack up, move, set up and check in"
source = "common practice"
*/
with next as (
    select a.member_id, date_diff('minute', a.ends, b.starts) as gap_min, p.post || ' and ' || q.post as places,
        (gap_min, a.ends, b.starts, p.post_id, q.post_id) as nearest
    from assignment as a
    join assignment as b on b.member_id = a.member_id and b.post_id <> a.post_id and b.starts > a.ends
    join post as p on p.post_id = a.post_id
    join post as q on q.post_id = b.post_id
    where coalesce(lower(p.site) <> lower(q.site), true)
)
select
    member_id                                                       as subject,
    min(gap_min)                                                    as gap_min,
    arg_min(places, nearest)                                        as places,
    coalesce(min(gap_min) >= $least_min, true)                      as ok
from (select member_id from assignment group by member_id having count(distinct post_id) > 1)
left join next using (member_id)
group by member_id
