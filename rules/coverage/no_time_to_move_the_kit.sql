/*
title    = "No time to hand the kit over to the next post"
subject  = "kit"
severity = "limits"
why      = "A kit that changes hands is taken down, brought over and set up by somebody else before the next post is on the air."
not_met  = "{subject}: {gap_min} min between {places}, and other people bring it there; {wanted_min} min are wanted."
mended_by = "coordinator"
fix      = "Move one assignment, give the second post another kit, or have somebody else hold it until the kit is there (costs nothing)."
source   = "common practice: as for people who go on to another post"
applies_to = "kits that are sent to more than one post; the same time, and no minute between two places, is kit_promised_twice, which blocks; whoever goes on with the kit has no_time_to_travel"

[param.least_min]
value  = 30
unit   = "min"
why    = "pack up, hand over, move, set up and check in"
source = "common practice"

[param.same_site_min]
value  = 5
unit   = "min"
why    = "between posts of one site nobody travels; the kit is handed over and set up again"
source = "common practice"
*/
with next as (
    select a.kit_id, date_diff('minute', a.ends, b.starts) as gap_min, p.post || ' and ' || q.post as places,
        if(lower(p.site) = lower(q.site), $same_site_min, $least_min) as wanted_min,
        (gap_min - wanted_min, a.ends, b.starts, p.post_id, q.post_id) as nearest
    from assignment as a
    join assignment as b on b.kit_id = a.kit_id and b.post_id <> a.post_id and b.member_id <> a.member_id and b.starts >= a.ends
    join post as p on p.post_id = a.post_id
    join post as q on q.post_id = b.post_id
    where (b.starts > a.ends or lower(p.site) = lower(q.site))
        and not exists (   -- who is there with it too, and goes on with it
            from assignment as c where c.kit_id = a.kit_id and c.post_id = a.post_id and c.member_id = b.member_id and c.ends >= a.ends
        )
)
select
    kit_id                                          as subject,
    arg_min(gap_min, nearest)                       as gap_min,
    arg_min(wanted_min, nearest)                    as wanted_min,
    arg_min(places, nearest)                        as places,
    coalesce(bool_and(gap_min >= wanted_min), true) as ok
from (select kit_id from assignment where kit_id is not null group by kit_id having count(distinct post_id) > 1)
left join next using (kit_id)
group by kit_id
