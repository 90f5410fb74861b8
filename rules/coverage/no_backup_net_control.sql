/*
title    = "No backup net control"
subject  = "event"
severity = "blocks"
why      = "When net control goes silent, somebody elsewhere must take the net without being asked."
not_met  = "{subject}: backup net-control posts: {backups}, staffed for the whole time: {staffed}, of those at another place: {elsewhere}."
not_known = "{subject}: whether its backup stands at another place than net control is not written down."
told_by  = "coordinator"
fix      = "Name a backup at another place with its own power, the roster and the channel plan, and write the site of both (costs nothing; a 20 Ah LiFePO4 battery is about 90 to 260 USD)."
source   = "net-control training slides; bike-tour guides: named alternate net control elsewhere"
applies_to = "events with a net-control post"
*/
with net as (
    select event_id, list(lower(site)) filter (site is not null) as sites, bool_or(site is null) as is_open
    from post where post_type = 'net_control' group by event_id
), backup as (
    select event_id, c.uncovered_h = 0 as is_staffed,
        case when list_contains(n.sites, lower(p.site)) then false when p.site is not null and not n.is_open then true end as is_elsewhere
    from post as p join net as n using (event_id) left join coverage as c using (post_id)
    where p.post_type = 'backup_net_control'
)
select
    event_id                                                        as subject,
    count(b.event_id)                                               as backups,
    count(*) filter (b.is_staffed)                                  as staffed,
    count(*) filter (b.is_staffed and b.is_elsewhere)               as elsewhere,
    case when elsewhere > 0 then true
         when count(*) filter (b.is_staffed and b.is_elsewhere is null) = 0 then false end as ok
from net left join backup as b using (event_id)
group by event_id
