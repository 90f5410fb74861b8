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
    select kit_id, post_id, string_agg(distinct other_place, ' and ' order by other_place) as places
    from sent_on
    where other_starts <= ends and other_ends >= starts
        and (other_starts < ends and other_ends > starts or not is_one_site)
    group by kit_id, post_id
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
