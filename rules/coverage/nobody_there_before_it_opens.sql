/*
title     = "Nobody there before it opens"
subject   = "event"
severity  = "limits"
why       = "Setting up takes longer than the plan says, and the net calls everybody when it opens. The post itself is staffed in time, so this limits and does not stop."
not_met   = "{subject}: posts where the first one comes less than {early_min:.0f} min before it opens: {late_posts}."
not_known = "{subject}: posts whose people are written down from the opening, not from when they come: {open_posts}; they are wanted {early_min:.0f} min before it."
told_by   = "coordinator"
fix       = "Call people in {early_min:.0f} min before the post opens (costs nothing), and write when they are to be there in “from”."
source    = "marathon and bike-tour guides: on station 15 min before net check-in"
applies_to = "events with posts where somebody is there when it opens; the other posts have hours_without_anyone"

[param.early_min]
value  = 15
unit   = "min"
why    = "set up, check in and look around"
source = "marathon guides"
*/
with first as (
    select p.event_id, p.post, utc_of(p.opens, e.clock_min, e.clocks_change, e.clock_after_min) as opens, min(a.starts) as there
    from post as p join assignment_utc as a using (post_id) left join event as e on e.event_id = p.event_id
    group by p.event_id, p.post_id, p.post, p.opens, e.clock_min, e.clocks_change, e.clock_after_min
    having min(a.comes) <= p.opens
), judged as (
    select *, case when there <= opens - to_minutes(cast($early_min as integer)) then true when there < opens then false end as is_early
    from first
)
select
    event_id                                                                as subject,
    string_agg(post, ', ' order by post) filter (not is_early)              as late_posts,
    count(*) filter (is_early is null)                                      as open_posts,
    case when bool_or(not is_early) then false when count(*) = count(is_early) then true end as ok
from judged
group by event_id
