/*
title     = "Nobody brings a station"
subject   = "post"
severity  = "blocks"
why       = "A post with people and no station that works there cannot be called."
not_met   = "{subject}: for some of the time nobody there has a complete station on its bands."
not_known = "{subject}: whether somebody always has a complete station there hangs on plugs or bands that are not written down, on things that may not work, or on radios for several bands that would have to share a battery or an antenna."
fix       = "Assign a kit that works on the post's bands to every shift, or lend one from the club's pool (costs nothing; a handheld with a pack and an outside antenna is about 75 to 490 USD, a mobile with battery, lead and antenna 310 to 990)."
source    = "common practice: equipment unit of an emergency-communications course"
applies_to = "posts that somebody is sent to; the others have hours_without_anyone"
*/
select
    post_id                 as subject,
    c.stations_low, c.stations_high,
    case when c.stations_low >= 1 then true when c.stations_high < 1 then false end as ok
from post
join coverage as c using (post_id)
where c.people > 0
