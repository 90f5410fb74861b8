/*
title      = "First-aid certificate expired"
subject    = "member"
severity   = "advice"
why        = "A lapsed certificate may void the cover of whoever helps by it."
not_met    = "{subject}: the first-aid certificate ended {expired_days:.0f} days ago."
fix        = "Take a refresher (about 30 to 100 USD) and tell the coordinator its last day (first_aid_expires), or have it taken off the list; radio volunteers give no medical advice either way."
source     = "common practice"
applies_to = "members who have written down a certificate; nobody has to hold one"
*/
select
    member_id                                       as subject,
    date_diff('day', first_aid_expires, $today)     as expired_days,
    expired_days <= 0                               as ok
from member
where first_aid_expires is not null
