/*
title      = "Went back for something"
subject    = "kit"
severity   = "advice"
why        = "What was forgotten in the park is forgotten at the post, where nobody drives home for it."
not_met    = "{subject}: trips back for something at the last rehearsal: {trips_back}; missing: {missing}."
not_known  = "{subject}: nobody wrote down whether the last rehearsal sent somebody back for something."
fix        = "Put the missing thing in the bag and on the list in the lid (costs nothing), then try the kit again."
source     = "common practice: what failed becomes a changed line of the list"
applies_to = "kits that were tried"
*/
select
    p.kit_id                    as subject,
    p.trips_back,
    (select arg_max(r.missing, r.date) from rehearsal as r where r.kit_id = p.kit_id and r.date = p.last_rehearsed) as missing,
    p.trips_back = 0            as ok
from practice as p
where p.ladder > 0
