/*
title    = "Kit promised twice"
subject  = "kit"
severity = "blocks"
why      = "A kit counted twice is missing at one of the posts on the day."
not_met  = "{subject}: promised to {places} at the same time, or with no minute between."
mended_by = "coordinator"
fix      = "Give one of the posts another kit (costs nothing)."
source   = "common practice: nothing and nobody counted twice, the way included"
applies_to = "kits that are assigned to a post; between posts of one site nobody travels"
*/
with twice as (
    select a.kit_id, string_agg(distinct p.event || '/' || p.post, ' and ' order by p.event || '/' || p.post) as places
    from assignment as a
    join assignment as b on b.kit_id = a.kit_id and b.post_id <> a.post_id and b.starts <= a.ends and b.ends >= a.starts
    join post as p on p.post_id = a.post_id
    join post as q on q.post_id = b.post_id
    where b.starts < a.ends and b.ends > a.starts or coalesce(lower(p.site) <> lower(q.site), true)
    group by a.kit_id
)
select
    kit_id              as subject,
    t.places,
    t.kit_id is null    as ok
from kit
left join twice as t using (kit_id)
where exists (from assignment as a where a.kit_id = kit.kit_id)
