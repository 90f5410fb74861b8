/*
title    = "In two places at once"
subject  = "post_kit"
severity = "blocks"
why      = "A person counted twice leaves one post empty on the day."
not_met  = "{subject}: {member} is sent to {places} as well at the same time, or with no minute between."
mended_by = "coordinator"
fix      = "Take one of the two assignments out and ask somebody else (costs nothing)."
source   = "common practice: nothing and nobody counted twice, the way included"
lines_of   = "assignments"
applies_to = "people who are sent to a post; between posts of one site nobody travels"
*/
with twice as (
    select a.assignment_id, b.line, q.event || '/' || q.post as place
    from assignment as a
    join assignment as b on b.member_id = a.member_id and b.post_id <> a.post_id and b.starts <= a.ends and b.ends >= a.starts
    join post as p on p.post_id = a.post_id
    join post as q on q.post_id = b.post_id
    where b.starts < a.ends and b.ends > a.starts or coalesce(lower(p.site) <> lower(q.site), true)
)
select
    o.post_kit_id                                                           as subject,
    string_agg(distinct t.place, ' and ' order by t.place)                  as places,
    list_sort(list_distinct(list_concat(list(a.line), list(t.line))))       as lines,
    count(t.place) = 0                                                      as ok
from own_turn as o
join assignment as a using (assignment_id)
left join twice as t using (assignment_id)
group by o.post_kit_id
