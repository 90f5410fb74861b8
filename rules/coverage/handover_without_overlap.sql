/*
title    = "Handover without an overlap"
subject  = "post"
severity = "advice"
why      = "What was agreed in the last hour leaves with whoever leaves. Coming ten minutes early is all it takes, so this is advice."
not_met  = "{subject}: at {next_handover} whoever takes over comes less than {overlap_min:.0f} min before the last one leaves. Such handovers: {bare_handovers} of {handovers}."
fix      = "Have the relief come {overlap_min:.0f} min early (costs nothing), and write it in “from” (the coordinator does)."
source   = "an exercise manual: ten minutes of overlap at handover"
applies_to = "posts where one person takes over from another"

[param.overlap_min]
value  = 10
unit   = "min"
why    = "time to hand over the log, the people met and what is open"
source = "an exercise manual"
*/
with leaving as (
    select a.post_id, a.goes, bool_or(b.starts <= a.ends - to_minutes(cast($overlap_min as integer))) as is_met
    from assignment_utc as a
    join post as p using (post_id)
    join assignment_utc as b on b.post_id = a.post_id and b.member_id <> a.member_id and b.starts <= a.ends and b.ends > a.ends
    where a.goes < p.closes
        and not exists (from assignment as c where c.post_id = a.post_id and c.member_id = a.member_id
            and c.starts <= a.goes and c.ends > a.goes)
    group by a.post_id, a.goes
)
select
    post_id                                         as subject,
    count(*)                                        as handovers,
    count(*) filter (not is_met)                    as bare_handovers,
    strftime(min(goes) filter (not is_met), '%a %H:%M') as next_handover,
    bool_and(is_met)                                as ok
from leaving
group by post_id
