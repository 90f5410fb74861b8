/*
title    = "In two places at once"
subject  = "post_kit"
severity = "blocks"
why      = "A person counted twice leaves one post empty on the day."
not_met  = "{subject}: {member} is sent to {clashes}."
mended_by = "coordinator"
fix      = "Take one of the two assignments out and ask somebody else (costs nothing)."
source   = "common practice: nothing and nobody counted twice, the way included"
lines_of   = "assignments"
applies_to = "people who are sent to a post; between posts of one site nobody travels; two others lie at least as far apart by road as their ways from home differ (travel_h)"
*/
with twice as (
    select assignment_id, other_line as line, other_place || ' as well ' ||
        if(gap_min > 0, concat('with ', gap_min, ' min between for at least ', floor(round(60 * way_h, 6))::integer, ' min of road'),
            'at the same time, or with no minute between') as clash
    from elsewhere
    where other_member_id = member_id and (gap_min < 0 or not is_one_site and (gap_min = 0 or gap_min < 60 * way_h))
)
select
    o.post_kit_id                                                           as subject,
    string_agg(distinct t.clash, ' and ' order by t.clash)                  as clashes,
    list_sort(list_distinct(list_concat(list(a.line), list(t.line))))       as lines,
    count(t.clash) = 0                                                      as ok
from own_turn as o
join assignment as a using (assignment_id)
left join twice as t using (assignment_id)
group by o.post_kit_id
