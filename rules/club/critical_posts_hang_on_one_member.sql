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
    select p.event_id, a.member_id, a.kit_id
    from assignment as a join post as p using (post_id)
    where p.is_critical and a.kit_id is not null
), there as (   -- a kit that several bring in turn is one
    select event_id, cast(count(distinct kit_id) as integer) as critical_kits from brought group by event_id
), share as (
    select event_id, member_id, count(distinct kit_id) as kits from brought group by event_id, member_id
)
select
    s.event_id                                          as subject,
    arg_min(m.member, (-s.kits, m.member))              as member_name,
    max(s.kits)                                         as member_kits,
    any_value(t.critical_kits)                          as critical_kits,
    max(s.kits) / any_value(t.critical_kits) <= $most_share as ok
from share as s
join there as t using (event_id)
join member as m using (member_id)
where t.critical_kits >= 3
group by s.event_id
