/*
title      = "Fewer hi-vis vests than people beside traffic"
subject    = "post"
severity   = "blocks"
why        = "A vest is worn by one; who comes along without a kit stands beside the same cars."
not_met    = "{subject}: people beside traffic at once: {people_there}; hi-vis vests in the kits there: {vests}."
not_known  = "{subject}: people there at once: {people_there}, hi-vis vests in the kits there: {vests}; whether the post stands beside traffic is not written down."
told_by    = "coordinator"
fix        = "Bring a class 2 vest for each (about 12 to 35 USD) and list all of them in a kit that goes there. Traffic: follow the road authority's rules and the marshals; never direct traffic."
source     = "23 CFR part 634 and ANSI/ISEA 107 class 2 for workers on foot beside traffic; USDA Forest Service tech tip on high-visibility clothing"
applies_to = "posts beside traffic, and posts walked to where nobody said, at which more people than kits are at once; the first vest of each kit is asked by no_hi_vis_beside_traffic"

[remedy]
kind = "hi_vis"
*/
with vest as (
    select kit_id, sum(quantity) as pieces from item where is_usable and kind = 'hi_vis' group by kit_id
), present as (   -- company and kits change where somebody comes or goes
    select distinct m.post_id, m.instant, a.member_id, a.kit_id
    from (select distinct post_id, unnest([starts, ends]) as instant from assignment) as m
    join assignment as a on a.post_id = m.post_id and a.starts <= m.instant and a.ends > m.instant
), brought as (   -- a kit without one is the other rule's
    select post_id, instant, count(*) as kits, sum(coalesce(pieces, 0)) as vests, sum(greatest(coalesce(pieces, 0), 1)) as asked
    from (select distinct post_id, instant, kit_id from present where kit_id is not null) left join vest using (kit_id)
    group by post_id, instant
), least as (
    select post_id, count(distinct p.member_id) as people_there, any_value(b.kits) as kits, any_value(b.vests) as vests,
        people_there - coalesce(any_value(b.asked), 0) as missing
    from present as p left join brought as b using (post_id, instant) group by post_id, instant
    qualify row_number() over (partition by post_id order by missing desc, people_there desc) = 1
)
select
    post_id                     as subject,
    l.people_there,
    coalesce(l.vests, 0)        as vests,
    case when l.missing <= 0 then true when p.is_beside_traffic then false end as ok
from least as l
join post as p using (post_id)
where (p.is_beside_traffic or p.is_beside_traffic is null and p.access = 'walk') and l.people_there > coalesce(l.kits, 0)
