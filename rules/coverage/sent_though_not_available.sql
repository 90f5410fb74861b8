/*
title      = "Sent though not available"
subject    = "post_kit"
severity   = "blocks"
why        = "Who has said no is not there on the day, and the post is one short that was counted as held."
not_met    = "{subject}: {member} is sent there, and is told as not available."
mended_by  = "coordinator"
fix        = "Send somebody else, or ask again and have the coordinator write available once they say yes (costs nothing). Never ask for a reason."
source     = "common practice: nobody is counted who has said no; limits are the person's own"
lines_of   = "members"
applies_to = "whoever is sent to a post; others may bring a kit that is not assigned"
*/
select
    pk.post_kit_id      as subject,
    [m.line]            as lines,
    m.is_available      as ok
from post_kit as pk
join member as m using (member_id)
where pk.is_assigned
