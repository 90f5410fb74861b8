/*
title     = "No reserve station"
subject   = "event"
severity  = "limits"
why       = "On the day somebody is ill, a car breaks down, or a post is added."
not_met   = "{subject}: free members with a complete kit: {reserves_high}; wanted: {wanted} (posts: {posts})."
not_known = "{subject}: free members with a complete kit: {reserves_low} to {reserves_high}; wanted: {wanted} (posts: {posts})."
fix       = "Ask one member with a complete kit to stand by, or borrow a station from a neighbouring club (costs nothing; a mobile with battery, lead and antenna is about 310 to 990 USD)."
source    = "common practice: one reserve station and operator for ten posts, at least one"
applies_to = "events with posts"

[param.posts_each]
value  = 10
unit   = "1"
why    = "posts that one reserve station backs"
source = "common practice"
*/
with planned as (
    select event_id, count(*) as posts, cast(ceil(count(*) / cast($posts_each as double)) as integer) as wanted
    from post group by event_id
), free as (
    select p.event_id, count(distinct k.member_id) filter (s.stations_low >= 1) as reserves_low,
        count(distinct k.member_id) filter (s.stations_high >= 1) as reserves_high
    from planned as p cross join kit as k
    join member as m on m.member_id = k.member_id and m.is_available
    join station as s on s.kit_id = k.kit_id
    where not exists (from assignment as a where a.event_id = p.event_id and (a.member_id = k.member_id or a.kit_id = k.kit_id))
    group by p.event_id
)
select
    p.event_id                          as subject,
    p.posts, p.wanted,
    coalesce(f.reserves_low, 0)         as reserves_low,
    coalesce(f.reserves_high, 0)        as reserves_high,
    case when coalesce(f.reserves_low, 0) >= p.wanted then true when coalesce(f.reserves_high, 0) < p.wanted then false end as ok
from planned as p
left join free as f using (event_id)
