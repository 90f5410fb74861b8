/*
title      = "Fewer hi-vis vests than people beside traffic"
subject    = "post"
severity   = "blocks"
why        = "A vest is worn by one; who comes along without a kit stands beside the same cars."
not_met    = "{subject}: people beside traffic at once: {people_there}; hi-vis vests in the kits there: {vests}."
not_known  = "{subject}: people there at once: {people_there}, hi-vis vests in the kits there: {vests}; whether all are of class 2 and fit for use, or whether the post stands beside traffic, is not written down."
told_by    = "coordinator"
fix        = "Bring a class 2 vest for each, by its label (about 12 to 35 USD) and list all of them in a kit that goes there. Traffic: follow the road authority's rules and the marshals; never direct traffic."
source     = "23 CFR part 634 and ANSI/ISEA 107 class 2 for workers on foot beside traffic; USDA Forest Service tech tip on high-visibility clothing"
applies_to = "posts beside traffic, and those where nobody said, at which more people than kits are at once; the first vest of each kit is asked by no_hi_vis_beside_traffic"

[remedy]
kind = "hi_vis"
*/
select
    post_id                     as subject,
    n.people_there,
    n.pieces                    as vests,
    case when n.doubtful <= 0 then true when n.missing > 0 and p.is_beside_traffic then false end as ok
from one_each as n
join post as p using (post_id)
where n.kind = 'hi_vis' and coalesce(p.is_beside_traffic, true) and n.people_there > n.kits
