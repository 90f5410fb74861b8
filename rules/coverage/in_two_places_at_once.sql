/*
title    = "In two places at once"
subject  = "member"
severity = "blocks"
why      = "A person counted twice leaves one post empty on the day."
not_met  = "{subject}: sent to {places} at the same time, or with no minute between."
mended_by = "coordinator"
fix      = "Take one of the two assignments out and ask somebody else (costs nothing)."
source   = "common practice: nothing and nobody counted twice, the way included"
applies_to = "members who are sent to a post; between posts of one site nobody travels"
*/
with twice as (
    select a.member_id, string_agg(distinct p.event || '/' || p.post, ' and ' order by p.event || '/' || p.post) as places
    from assignment as a
    join assignment as b on b.member_id = a.member_id and b.post_id <> a.post_id and b.starts <= a.ends and b.ends >= a.starts
    join post as p on p.post_id = a.post_id
    join post as q on q.post_id = b.post_id
    where b.starts < a.ends and b.ends > a.starts or coalesce(lower(p.site) <> lower(q.site), true)
    group by a.member_id
)
select distinct
    a.member_id         as subject,
    t.places,
    t.member_id is null as ok
from assignment as a
left join twice as t using (member_id)
