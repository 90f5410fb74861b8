/*
title    = "No time to get to the next post"
subject  = "post_kit"
severity = "limits"
why      = "Packing up, driving and setting up take longer than the plan says."
not_met  = "{subject}: {member} has {gap_min} min between {places}; {least_min} min are wanted."
mended_by = "coordinator"
fix      = "Move one assignment, or have somebody hold the second post until they arrive (costs nothing)."
source   = "common practice: early report times of marathon and bike-tour guides (on station 15 min before check-in)"
lines_of   = "assignments"
applies_to = "people who are sent to more than one post, at each of them by the ways from it and to it; no minute between two places, and less than the road alone takes, is in_two_places_at_once, which blocks"

[param.least_min]
value  = 30
unit   = "min"
why    = "pack up, move, set up and check in"
source = "common practice"
*/
with next as (
    select unnest([assignment_id, other_assignment_id]) as assignment_id, unnest([other_line, line]) as line,
        gap_min, post || ' and ' || other_post as places,
        (gap_min, ends, other_starts, post_id, other_id) as nearest
    from elsewhere
    where other_member_id = member_id and other_starts > ends and not is_one_site
        and coalesce(gap_min >= 60 * way_h, true)
)
select
    o.post_kit_id                                                           as subject,
    min(n.gap_min)                                                          as gap_min,
    arg_min(n.places, n.nearest)                                            as places,
    list_sort(list_distinct(list_append(list(a.line), arg_min(n.line, n.nearest)))) as lines,
    coalesce(min(n.gap_min) >= $least_min, true)                            as ok
from own_turn as o
join assignment as a using (assignment_id)
left join next as n using (assignment_id)
where a.member_id in (select member_id from assignment group by member_id having count(distinct post_id) > 1)
group by o.post_kit_id
