/*
title      = "Over twelve hours in a day"
subject    = "post_kit"
severity   = "limits"
why        = "Two short shifts tire as much as a long one, also with a night between, and each event sees only its own."
not_met    = "{subject}: {member} is on duty for {worked_h:.1f} h within 24 h, a rest between, at {places}; {most_h:.0f} h is the most."
mended_by  = "coordinator"
fix        = "Give one of the shifts to somebody else, or move it to another day (costs nothing)."
source     = "common practice: activation plans name 12 h in 24 as the most"
lines_of   = "assignments"
applies_to = "people who are sent out again within 24 hours, after a rest, at each post of those hours; what one shift of turns without a rest holds blocks, by shift_over_twelve_hours"

[param.most_h]
value  = 12
unit   = "h"
why    = "most hours on duty in any 24"
source = "common practice of activation plans"
*/
with placed as (
    select a.assignment_id, a.member_id, a.line, a.starts, a.ends, s.shift_no, p.event || '/' || p.post as place
    from assignment_utc as a join post as p using (post_id) join shift as s using (assignment_id)
), turn as (   -- what lies within another row of the same person is not counted twice
    select *, greatest(starts, coalesce(max(ends) over (partition by member_id order by starts, ends
        rows between unbounded preceding and 1 preceding), starts)) as since
    from placed
), day as (   -- no 24 hours hold more than some that begin with a turn
    select list(b.assignment_id) as turns, list_sort(list(distinct b.line)) as lines,
        string_agg(distinct b.place, ' and ' order by b.place) as places,
        sum(greatest(0, date_diff('minute', b.since, least(b.ends, a.starts + interval 24 hours)))) / 60.0 as worked_h,
        (-worked_h, a.starts) as longest
    from (select distinct member_id, starts, shift_no from turn) as a
    join turn as b on b.member_id = a.member_id and b.starts >= a.starts and b.starts < a.starts + interval 24 hours
    group by a.member_id, a.starts
    having max(b.shift_no) > min(a.shift_no)
)
select
    o.post_kit_id                   as subject,
    max(worked_h)                   as worked_h,
    arg_min(places, longest)        as places,
    arg_min(lines, longest)         as lines,
    max(worked_h) <= $most_h        as ok
from (select unnest(turns) as assignment_id, * exclude (turns) from day)
join own_turn as o using (assignment_id)
group by o.post_kit_id
