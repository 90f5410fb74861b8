/*
title     = "No reserve station"
subject   = "event"
severity  = "limits"
why       = "On the day somebody is ill, a car breaks down, or a post is added; who stands in must be heard by the net."
not_met   = "{subject}: free members with a licence and a complete kit for {bands}: {reserves_high}; wanted: {wanted} (posts: {posts})."
not_known = "{subject}: free members with a licence and a complete kit for {bands}: {reserves_low} to {reserves_high}; wanted: {wanted} (posts: {posts})."
fix       = "Ask one member with a complete kit to stand by, or borrow a station from a neighbouring club (costs nothing; a mobile with battery, lead and antenna is about 310 to 990 USD)."
source    = "common practice: one reserve station and operator for ten posts, at least one"
applies_to = "events with posts; the bands are those of most of them; free is who is sent nowhere at its hours"

[param.posts_each]
value  = 10
least  = 1
unit   = "1"
why    = "posts that one reserve station backs"
source = "common practice"

[shared]
without_term = "licence_is_over"
*/
with planned as (
    select event_id, count(*) as posts, cast(ceil(count(*) / cast($posts_each as double)) as integer) as wanted
    from post group by event_id
), asked as (
    select p.event_id, p.bands, count(*) as posts, min(w.want_id) as want_id
    from post as p left join want as w using (post_id) group by p.event_id, p.bands
), net as (
    select event_id, bands, want_id from asked qualify row_number() over (partition by event_id order by posts desc, want_id) = 1
), heard as (
    select want_id, kit_id, bool_or(is_band) as is_sure, bool_or(is_band is distinct from false) as may_be
    from suit where want_id in (select want_id from net) group by want_id, kit_id
), busy as (   -- there, or at another event at the same hours
    select e.event_id, a.member_id, a.kit_id
    from event as e join assignment_utc as a on a.event_id = e.event_id
        or a.starts < utc_of(e.ends, e.clock_min, e.clocks_change, e.clock_after_min)
            and a.ends > utc_of(e.starts, e.clock_min, e.clocks_change, e.clock_after_min)
), free as (
    select n.event_id, count(distinct k.member_id)
        filter (s.stations_low >= 1 and (n.bands is null or h.is_sure) and is_licensed) as reserves_low,
        count(distinct k.member_id) filter (s.stations_high >= 1 and (n.bands is null or h.may_be)) as reserves_high
    from net as n join event as e using (event_id) cross join kit as k
    join member as m on m.member_id = k.member_id and m.is_available
    join station as s on s.kit_id = k.kit_id
    left join heard as h on h.kit_id = k.kit_id and h.want_id = n.want_id,
        lateral (select m.licence_class <> 'none' and coalesce(m.licence_expires >= cast(e.ends as date),
            nullif(list_contains(string_split($without_term, ' '), m.licence_class), false)) as is_licensed)
    where is_licensed is distinct from false
        and not exists (from busy as b where b.event_id = n.event_id and b.member_id = k.member_id)
        and not exists (from busy as b where b.event_id = n.event_id and b.kit_id = k.kit_id)
    group by n.event_id
)
select
    p.event_id                          as subject,
    p.posts, p.wanted,
    coalesce(n.bands, 'any band')       as bands,
    coalesce(f.reserves_low, 0)         as reserves_low,
    coalesce(f.reserves_high, 0)        as reserves_high,
    case when coalesce(f.reserves_low, 0) >= p.wanted then true when coalesce(f.reserves_high, 0) < p.wanted then false end as ok
from planned as p
join net as n using (event_id)
left join free as f using (event_id)
