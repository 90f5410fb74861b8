/*
title    = "Net control alone"
subject  = "post"
severity = "blocks"
why      = "Running a net for two hours tires one person, and nobody listens while they write."
not_met  = "{subject}: people there at the thinnest hour: {least_people}; net control wants an operator and a logger."
fix      = "Name a second person for every hour (costs nothing) and have the two change seats."
source   = "net-control training slides; a net-control handbook: operator and assistant"
applies_to = "net-control posts that somebody is sent to; the others have hours_without_anyone"

[param.least]
value  = 2
unit   = "1"
why    = "an operator and a logger"
source = "net-control training slides"
*/
select
    post_id                     as subject,
    c.least_people,
    c.least_people >= $least    as ok
from post as p
join coverage as c using (post_id)
where p.post_type = 'net_control' and c.people > 0
