/*
title      = "Fewer hi-vis vests than people beside traffic"
subject    = "post"
severity   = "blocks"
why        = "A vest is worn by one; who comes along without a kit stands beside the same cars."
not_met    = "{subject}: people beside traffic at once: {people_there}; hi-vis vests in the kits there: {vests}."
not_known  = "{subject}: people there at once: {people_there}, hi-vis vests in the kits there: {vests}; whether all are fit for use, or whether the post stands beside traffic, is not written down."
told_by    = "coordinator"
fix        = "Bring a class 2 vest for each (about 12 to 35 USD) and list all of them in a kit that goes there. Traffic: follow the road authority's rules and the marshals; never direct traffic."
source     = "23 CFR part 634 and ANSI/ISEA 107 class 2 for workers on foot beside traffic; USDA Forest Service tech tip on high-visibility clothing"
applies_to = "posts beside traffic, and those where nobody said, at which more people than kits are at once; the first vest of each kit is asked by no_hi_vis_beside_traffic"

[remedy]
kind = "hi_vis"
*/
with vest as (
    select kit_id, expires, sum(quantity) as pieces, sum(quantity) filter (condition = 'ok') as sure
    from item where is_usable and kind = 'hi_vis' group by kit_id, expires
), brought as (   -- a kit without one is the other rule's
    select post_id, instant, count(*) as kits, sum(pieces) as vests, sum(greatest(pieces, 1)) as asked, sum(greatest(sure, 1)) as sure
    from (
        select k.post_id, k.instant, k.kit_id, coalesce(sum(v.pieces), 0) as pieces, coalesce(sum(v.sure), 0) as sure
        from (select distinct post_id, instant, kit_id from present where kit_id is not null) as k
        left join vest as v on v.kit_id = k.kit_id and is_in_date(v.expires, k.instant)
        group by k.post_id, k.instant, k.kit_id
    ) group by post_id, instant
), least as (
    select post_id, count(distinct p.member_id) as people_there, any_value(b.kits) as kits, any_value(b.vests) as vests,
        people_there - coalesce(any_value(b.asked), 0) as missing, people_there - coalesce(any_value(b.sure), 0) as doubtful
    from present as p left join brought as b using (post_id, instant) group by post_id, instant
    qualify row_number() over (partition by post_id order by greatest(missing, 0) desc, doubtful desc, people_there desc) = 1
)
select
    post_id                     as subject,
    l.people_there,
    coalesce(l.vests, 0)        as vests,
    case when l.doubtful <= 0 then true when l.missing > 0 and p.is_beside_traffic then false end as ok
from least as l
join post as p using (post_id)
where coalesce(p.is_beside_traffic, true) and l.people_there > coalesce(l.kits, 0)
