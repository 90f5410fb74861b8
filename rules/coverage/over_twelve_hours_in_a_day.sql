/*
title      = "Over twelve hours in a day"
subject    = "member"
severity   = "limits"
why        = "Two short shifts tire as much as a long one, also with a night between, and each event sees only its own."
not_met    = "{subject}: {worked_h:.1f} h on duty within 24 h, a rest between, at {places}; {most_h:.0f} h is the most."
mended_by  = "coordinator"
fix        = "Give one of the shifts to somebody else, or move it to another day (costs nothing)."
source     = "common practice: activation plans name 12 h in 24 as the most"
applies_to = "members who are sent out again within 24 hours, after a rest; what one shift of turns without a rest holds blocks, by shift_over_twelve_hours"

[param.most_h]
value  = 12
unit   = "h"
why    = "most hours on duty in any 24"
source = "common practice of activation plans"
*/
with placed as (
    select a.member_id, a.starts, a.ends, s.shift_no, p.event || '/' || p.post as place
    from assignment as a join post as p using (post_id) join shift as s using (assignment_id)
), turn as (   -- what lies within another row of the same person is not counted twice
    select *, greatest(starts, coalesce(max(ends) over (partition by member_id order by starts, ends
        rows between unbounded preceding and 1 preceding), starts)) as since
    from placed
), day as (   -- no 24 hours hold more than some that begin with a turn
    select a.member_id, string_agg(distinct b.place, ' and ' order by b.place) as places,
        sum(greatest(0, date_diff('minute', b.since, least(b.ends, a.starts + interval 24 hours)))) / 60.0 as worked_h
    from (select distinct member_id, starts, shift_no from turn) as a
    join turn as b on b.member_id = a.member_id and b.starts >= a.starts and b.starts < a.starts + interval 24 hours
    group by a.member_id, a.starts
    having max(b.shift_no) > min(a.shift_no)
)
select
    member_id                       as subject,
    max(worked_h)                   as worked_h,
    arg_max(places, worked_h)       as places,
    max(worked_h) <= $most_h        as ok
from day
group by member_id
