/*
title    = "No backup net control"
subject  = "event"
severity = "blocks"
why      = "When net control goes silent, somebody elsewhere must take the net without being asked."
not_met  = "{subject}: backup net-control posts: {backups}, of those at another place: {elsewhere}; for some of the time that net control is open nobody is at one of these, first from {first_gap}."
not_known = "{subject}: {net_open}"
told_by  = "coordinator"
fix      = "Write down the post from which the net is run, as net_control, and a backup at another place with its own power, the roster and the channel plan, and the site of both (costs nothing; a 20 Ah LiFePO4 battery is about 90 to 260 USD)."
source   = "net-control training slides; bike-tour guides: named alternate net control elsewhere"
applies_to = "events with a net-control post, and those with two or more posts and none"
*/
with net as (
    select event_id, list(lower(site)) filter (site is not null) as sites, bool_or(site is null) as is_open
    from post where post_type = 'net_control' group by event_id
), backup as (
    select event_id, p.post_id, case when list_contains(n.sites, lower(p.site)) then false
        when p.site is not null and not n.is_open then true end as is_elsewhere
    from post as p join net as n using (event_id) where p.post_type = 'backup_net_control'
), held as (
    select b.event_id, b.is_elsewhere, a.starts, a.ends from backup as b join assignment as a using (post_id)
), moment as (   -- nobody is missing before net control opens, nor begins to be but where somebody leaves
    select distinct m.event_id, m.instant
    from (select event_id, opens as instant from post where post_type = 'net_control' union select event_id, ends from held) as m
    join post as p on p.event_id = m.event_id and p.post_type = 'net_control' and p.opens <= m.instant and p.closes > m.instant
), there as (
    select m.event_id, m.instant, coalesce(bool_or(h.is_elsewhere), false) as is_sure,
        bool_or(h.event_id is not null and h.is_elsewhere is distinct from false) as may_be
    from moment as m left join held as h on h.event_id = m.event_id and h.starts <= m.instant and h.ends > m.instant
    group by m.event_id, m.instant
), counted as (
    select event_id, count(b.event_id) as backups, count(*) filter (b.is_elsewhere) as elsewhere
    from net left join backup as b using (event_id) group by event_id
    union all
    select event_id, count(*) filter (post_type = 'backup_net_control'), null from post
    group by event_id having count(*) > 1 and count(*) filter (post_type = 'net_control') = 0
)
select
    event_id                                                        as subject,
    any_value(c.backups)                                            as backups,
    any_value(c.elsewhere)                                          as elsewhere,
    strftime(min(t.instant) filter (not t.may_be), '%a %H:%M')      as first_gap,
    if(event_id in (select event_id from net), 'whether its backup stands at another place than net control is not written down.',
        'no net-control post is written down; who runs the net?')   as net_open,
    case when bool_and(t.is_sure) then true when not bool_and(t.may_be) then false end as ok
from counted as c left join there as t using (event_id)
group by event_id
