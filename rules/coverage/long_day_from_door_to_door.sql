/*
title      = "Long day from door to door"
subject    = "post_kit"
severity   = "limits"
why        = "The drive home after a long shift is the most dangerous part of the day."
not_met    = "{subject}: {member} is out for at least {day_h:.1f} h from getting up to being home, {on_duty_h:.1f} h of it at {places}; {most_h:.0f} h is the most."
not_known  = "{subject}: {member} is on duty for {on_duty_h:.1f} h at {places}; the hours on the way are not written down."
told_by    = "coordinator"
fix        = "Name a relief, have somebody else drive, or find a bed near the post (0 to 150 USD); have the coordinator write the hours on the way in travel_h."
source     = "common practice: no more than 16 h from waking to home, the drive included"
lines_of   = "assignments"
applies_to = "people who are sent out for ten hours or more in one go, or who tell how far they drive, at each post of that day"

[param.most_h]
value  = 16
unit   = "h"
why    = "from waking to home"
source = "common practice"

[param.ready_h]
value  = 1
unit   = "h"
why    = "getting up, eating and loading the car"
source = "common practice"

[param.rest_h]
value  = 6
unit   = "h"
why    = "after a shorter pause the day goes on"
source = "common practice"

[param.from_h]
value  = 10
unit   = "h"
why    = "a shorter shift leaves two and a half hours for each way"
source = "arithmetic from 16 h"
*/
with turn as (
    select a.* replace (coalesce(travel_h, max(travel_h) over (partition by a.member_id, a.post_id)) as travel_h), p.post, coalesce(date_diff('minute', max(a.ends) over (partition by a.member_id order by a.starts, a.ends
        rows between unbounded preceding and 1 preceding), a.starts) >= 60 * $rest_h, true) as is_new
    from assignment_utc as a join post as p using (post_id)
), numbered as (
    select *, count(*) filter (is_new) over (partition by member_id order by starts, ends) as day_no from turn
), day as (
    select list(assignment_id) as turns, list_sort(list(line)) as lines,
        date_diff('minute', min(starts), max(ends)) / 60.0 as on_duty_h,
        string_agg(distinct post, ', ' order by post) as places, min(starts) as begins,
        arg_min_null(travel_h, (starts, coalesce(-travel_h, 1))) as there_h, arg_max_null(travel_h, (ends, coalesce(travel_h, -1))) as home_h
    from numbered group by member_id, day_no
), judged as (
    select *, on_duty_h + $ready_h + coalesce(there_h, 0) + coalesce(home_h, 0) as day_h, (-day_h, begins) as longest,
        case when day_h > $most_h then false when there_h is not null and home_h is not null then true end as is_short
    from day where on_duty_h >= $from_h or there_h is not null or home_h is not null
)
select
    o.post_kit_id                   as subject,
    max(day_h)                      as day_h,
    arg_min(on_duty_h, longest)     as on_duty_h,
    arg_min(places, longest)        as places,
    arg_min(lines, longest)         as lines,
    case when bool_or(not is_short) then false when count(*) = count(is_short) then true end as ok
from (select unnest(turns) as assignment_id, * exclude (turns) from judged)
join own_turn as o using (assignment_id)
group by o.post_kit_id
