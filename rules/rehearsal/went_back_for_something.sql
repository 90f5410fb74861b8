/*
title      = "Went back for something"
subject    = "kit"
severity   = "advice"
why        = "What was forgotten in the park is forgotten at the post, where nobody drives home for it."
not_met    = "{subject}: trips back for something at the last rehearsal: {trips_back}; missing: {missing}."
not_known  = "{subject}: nobody wrote down whether the last rehearsal sent somebody back for something."
fix        = "Put the missing thing in the bag and on the list in the lid (costs nothing) and write the day in “restocked”; if somebody had to go back, try the kit again."
source     = "common practice: what failed becomes a changed line of the list"
applies_to = "kits that were tried; where nobody had to go back, what was missing counts until the kit is restocked"
*/
with missed as (
    select r.kit_id, string_agg(distinct r.missing, '; ' order by r.missing) as missing
    from rehearsal as r join practice as p on p.kit_id = r.kit_id and p.last_rehearsed = r.date
    where r.missing is not null group by r.kit_id
)
select
    p.kit_id                    as subject,
    p.trips_back,
    m.missing,
    case when m.missing is not null and coalesce(k.restocked < p.last_rehearsed, true) then false else p.trips_back = 0 end as ok
from practice as p
join kit as k on k.kit_id = p.kit_id
left join missed as m on m.kit_id = p.kit_id
where p.ladder > 0
