/*
title      = "Tall mast and nobody to help raise it"
subject    = "post"
severity   = "advice"
why        = "One person holds the mast or the guys, not both; a mast that goes over while it rises falls where it likes."
not_met    = "{subject}: a mast of {mast_m:.1f} m is planned, and at no time are two people there."
fix        = "Send somebody along for setting up and taking down, or put up a mast of {tall_m:.0f} m or less (costs nothing). Guy it before the antenna goes up, look up for power lines first, and keep people out of where it could fall."
source     = "field-day safety checklist and a county group's field antenna page: helpers and guys for a mast of 20 ft and more; common practice"
applies_to = "posts that plan a mast taller than that, with somebody assigned"
caution    = "Never raise a mast alone or in wind, nor near a power line."

[param.tall_m]
value  = 6
unit   = "m"
why    = "20 ft, from where masts want guys"
source = "a county group's field antenna page"
*/
with there as (
    select post_id, count(distinct member_id) as people_there from present group by post_id, instant
)
select
    p.post_id                   as subject,
    p.mast_m,
    max(t.people_there)         as people_there,
    max(t.people_there) > 1     as ok
from post as p
join there as t using (post_id)
where p.mast_m > $tall_m
group by p.post_id, p.mast_m
