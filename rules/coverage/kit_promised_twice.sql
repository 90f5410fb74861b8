/*
title    = "Kit promised twice"
subject  = "post_kit"
severity = "blocks"
why      = "A kit counted twice is missing at one of the posts on the day."
not_met  = "{subject}: {member}'s {kit} is promised to {places} as well at the same time, or with no minute between."
mended_by = "coordinator"
fix      = "Give one of the posts another kit (costs nothing)."
source   = "common practice: nothing and nobody counted twice, the way included"
applies_to = "kits that are assigned to a post; between posts of one site nobody travels"
*/
with twice as (
    select s.kit_id, s.post_id, string_agg(distinct o.event || '/' || o.post, ' and ' order by o.event || '/' || o.post) as places
    from sent_on as s
    join post as o on o.post_id = s.other_id
    where s.other_starts <= s.ends and s.other_ends >= s.starts
        and (s.other_starts < s.ends and s.other_ends > s.starts or not s.is_one_site)
    group by s.kit_id, s.post_id
)
select
    pk.post_kit_id      as subject,
    t.places,
    k.lines,
    t.kit_id is null    as ok
from post_kit as pk
join kit as k on k.kit_id = pk.kit_id
left join twice as t on t.kit_id = pk.kit_id and t.post_id = pk.post_id
where pk.is_assigned
