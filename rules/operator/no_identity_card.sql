/*
title      = "No identity card that the organiser asks for"
subject    = "post_kit"
severity   = "blocks"
why        = "Who cannot show the card is turned away at the door, and the post stays empty."
not_met    = "{subject}: the organiser asks for an identity card; {member}'s ends on {id_expires}."
not_known  = "{subject}: the organiser asks for an identity card; no last day of {member}'s card is written down."
told_by    = "coordinator"
fix        = "Have it issued or renewed in time (0 to 20 USD) and tell the coordinator its last day (id_expires), or send somebody who holds one. The date only: never a number or a picture."
source     = "yearly requirements of city and county groups: identity card of the served agency"
lines_of   = "members"
applies_to = "events that ask for an identity card"
*/
select
    pk.post_kit_id                          as subject,
    m.id_expires,
    [m.line]                                as lines,
    m.id_expires >= cast(w.ends as date)    as ok
from post_kit as pk
join watch as w using (post_kit_id)
join post as p using (post_id)
join event as e on e.event_id = p.event_id
join member as m on m.member_id = pk.member_id
where e.is_id_asked
