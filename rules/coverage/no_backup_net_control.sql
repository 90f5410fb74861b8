/*
title    = "No backup net control"
subject  = "event"
severity = "blocks"
why      = "When net control goes silent, somebody elsewhere must take the net without being asked."
not_met  = "{subject}: backup net-control posts: {backups}, staffed for the whole time: {staffed}."
fix      = "Name a backup at another place with its own power, the roster and the channel plan (costs nothing; a 20 Ah LiFePO4 battery is about 90 to 260 USD)."
source   = "net-control training slides; bike-tour guides: named alternate net control elsewhere"
applies_to = "events with a net-control post"
*/
select
    p.event_id                                                                  as subject,
    count(*) filter (p.post_type = 'backup_net_control')                        as backups,
    count(*) filter (p.post_type = 'backup_net_control' and c.uncovered_h = 0)  as staffed,
    count(*) filter (p.post_type = 'backup_net_control' and c.uncovered_h = 0) > 0 as ok
from post as p
left join coverage as c using (post_id)
group by p.event_id
having bool_or(p.post_type = 'net_control')
