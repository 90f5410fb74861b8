/*
title      = "Alone at a remote post"
subject    = "post"
severity   = "blocks"
why        = "Alone in the hills, or where no phone works, one turned ankle silences the post and starts a search."
not_met    = "{subject}: somebody is alone there for part of the time ({alone_shifts} of {shifts} shifts); two people are wanted."
fix        = "Send a second person for the whole time, or move the post to where a phone works (costs nothing)."
source     = "remote radio posts of trail races are staffed by two; search-and-rescue practice"
applies_to = "posts with somebody assigned that are carried to, remote, or without cell cover"
*/
select
    p.post_id                   as subject,
    count(*) filter (c.others = 0) as alone_shifts,
    count(*)                    as shifts,
    min(c.others) > 0           as ok
from post as p
join company as c using (post_id)
where p.is_remote or not p.has_cell_cover
group by p.post_id
