/*
title    = "Critical posts hang on one member"
subject  = "event"
severity = "advice"
why      = "When that member is ill or moves away, several critical posts stand empty together."
not_met  = "{subject}: {member_name} brings {member_kits} of {critical_kits} kits at critical posts; up to {most_share:.0%} is good practice."
fix      = "Give one of these posts a kit of somebody else, or of the club (costs nothing)."
source   = "common practice"
applies_to = "events with three or more kits at critical posts; with fewer the share says nothing"

[param.most_share]
value  = 0.334
unit   = "1"
why    = "one third"
source = "common practice"
*/
with brought as (
    select p.event_id, a.member_id, count(distinct a.kit_id) as kits
    from assignment as a join post as p using (post_id)
    where p.is_critical and a.kit_id is not null
    group by p.event_id, a.member_id
)
select
    b.event_id                                          as subject,
    arg_max(m.member, b.kits)                           as member_name,
    max(b.kits)                                         as member_kits,
    cast(sum(b.kits) as integer)                        as critical_kits,
    max(b.kits) / sum(b.kits) <= $most_share            as ok
from brought as b
join member as m using (member_id)
group by b.event_id
having sum(b.kits) >= 3
