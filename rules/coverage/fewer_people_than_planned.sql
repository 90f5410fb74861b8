/*
title    = "Fewer people than planned"
subject  = "post"
severity = "limits"
why      = "A second person writes, fetches, and takes over when one is worn out."
not_met  = "{subject}: people planned: {operators}; for {short_h:.1f} h fewer are there, at the thinnest hour {least_people}."
fix      = "Add a person for those hours (costs nothing); somebody without a kit or a licence can keep the log."
source   = "net-control training slides; marathon and bike-tour guides: people per post"
applies_to = "posts that somebody is sent to; the others have hours_without_anyone"
*/
select
    post_id             as subject,
    p.operators, c.least_people, c.short_h,
    c.short_h = 0       as ok
from post as p
join coverage as c using (post_id)
where c.people > 0
