/*
title      = "No hi-vis vest beside traffic"
subject    = "post_kit"
severity   = "blocks"
why        = "A driver sees a vest at 300 m and a dark jacket when it is too late."
not_met    = "{subject}: stands beside traffic, and no hi-vis vest of class 2 that is fit for use is in {member}'s {kit}."
not_known  = "{subject}: hi-vis vests in {member}'s {kit}: {vests}; whether they are of class 2 and fit for use, or whether the post stands beside traffic, is not written down."
told_by    = "coordinator"
fix        = "Bring a class 2 vest, by its label (about 12 to 35 USD), and replace a faded one. Traffic: follow the road authority's rules and the marshals; never direct traffic."
source     = "23 CFR part 634 and ANSI/ISEA 107 class 2 for workers on foot beside traffic; USDA Forest Service tech tip on high-visibility clothing"
applies_to = "posts beside traffic, and those where nobody said, unless their type is off the road or no ordinary car reaches them; a sash, belt or vest below class 2 counts for nothing, and a vest whose class is not told may be one"

[remedy]
kind = "hi_vis"
*/
select
    pk.post_kit_id              as subject,
    coalesce(sum(i.quantity), 0) as vests,
    any_value(kit.lines)        as lines,
    case when any_works(if(i.kind = 'vest', 'unknown', i.condition)) then true when p.is_beside_traffic and count(i.item_id) = 0 then false end as ok
from post_kit as pk
join post as p using (post_id)
join kit on kit.kit_id = pk.kit_id
left join item as i on i.kit_id = pk.kit_id and i.is_usable and i.kind in ('hi_vis', 'vest')
    and is_in_date(i.expires, pk.ends)
where coalesce(p.is_beside_traffic, true)
group by pk.post_kit_id, p.is_beside_traffic
