/*
title      = "Fewer headlamps than people in the dark"
subject    = "post"
severity   = "limits"
why        = "A lantern lights the table; whoever walks to the road, or mends an antenna, needs both hands and a light of their own."
not_met    = "{subject}: people there in the dark at once: {people_there}; headlamps and torches in their kits: {headlamps}."
not_known  = "{subject}: people there at once: {people_there}, headlamps and torches in their kits: {headlamps}; whether all work, or, from the event's place and time zone, whether it gets dark, is not written down."
told_by    = "coordinator"
fix        = "Bring a headlamp with spare cells for each (about 15 to 60 USD) and list all of them in a kit that goes there."
source     = "common practice: packing checklists, a headlamp with spare cells for any dark hour; darkness from the end of civil twilight, sun position after NREL/TP-560-34302"
applies_to = "posts with people who are there in dark hours, or of whom that is not known, at which more of these than kits are at once; the first light of each kit is asked by no_light_for_the_dark"

[remedy]
kind = "headlamp"

[shared]
least_dark_h = "no_light_for_the_dark"
*/
with dark as (   -- who is there in the dark, and all the time that they are
    select a.post_id, a.member_id, a.kit_id, a.starts, a.ends, w.dark_h is not null as is_sure
    from assignment as a join own_turn as t using (assignment_id) join watch as w on w.post_kit_id = t.post_kit_id
    where w.dark_h > $least_dark_h or w.dark_h is null
), there as (
    select m.post_id, m.instant, d.member_id, d.kit_id, d.ends, d.is_sure
    from (select distinct post_id, unnest([starts, ends]) as instant from dark) as m
    join dark as d on d.post_id = m.post_id and d.starts <= m.instant and d.ends > m.instant
), held as (
    select t.post_id, t.instant, t.kit_id, coalesce(sum(i.quantity), 0) as pieces,
        coalesce(sum(i.quantity) filter (i.condition = 'ok'), 0) as sure
    from (select post_id, instant, kit_id, max(ends) as ends from there where kit_id is not null group by post_id, instant, kit_id) as t
    left join item as i on i.kit_id = t.kit_id and i.is_usable and i.kind = 'headlamp' and is_in_date(i.expires, t.ends)
    group by t.post_id, t.instant, t.kit_id
), brought as (
    select post_id, instant, count(*) as kits, sum(pieces) as pieces, sum(greatest(pieces, 1)) as asked, sum(greatest(sure, 1)) as sure
    from held group by post_id, instant
), people as (
    select post_id, instant, count(distinct member_id) as people_there, bool_and(is_sure) as is_dark from there group by post_id, instant
)
select
    p.post_id                           as subject,
    p.people_there,
    coalesce(b.pieces, 0)               as headlamps,
    case when p.people_there <= b.sure then true
         when p.is_dark and p.people_there > coalesce(b.asked, 0) then false end as ok
from people as p
left join brought as b on b.post_id = p.post_id and b.instant = p.instant
where p.people_there > coalesce(b.kits, 0)
qualify row_number() over (partition by p.post_id order by p.people_there - coalesce(b.asked, 0) desc,
    p.people_there - coalesce(b.sure, 0) desc, p.people_there desc, p.instant) = 1
