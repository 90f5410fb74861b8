/*
title      = "Training short of what the event asks"
subject    = "post_kit"
severity   = "blocks"
why        = "An agency that asks for courses turns people away at the door."
not_met    = "{subject}: the organiser asks for {training_asked}; {member} {training_gap}."
not_known  = "{subject}: the organiser asks for {training_asked}; no courses of {member} are written down."
told_by    = "coordinator"
fix        = "Take the missing courses before the event (the introductory ones are on-line, cost nothing and take about three hours each), or renew what ends and tell the coordinator its last day (training_expires), or send somebody who has them."
source     = "national emergency-communications plan and task book; yearly requirements of city and county groups"
lines_of   = "members"
applies_to = "events that ask for courses; what the club asks of everybody is training_not_complete"
*/
select
    pk.post_kit_id                          as subject,
    e.training_asked,
    array_to_string(list_sort(list_filter(string_split(e.training_asked, ' '),
        lambda c: not list_contains(string_split(m.training, ' '), c))), ', ')
                                            as missing_training,
    m.training_expires < cast(w.ends as date) as is_over,
    concat_ws('; ', case when missing_training <> '' then 'has not passed ' || missing_training end,
        case when is_over then 'has courses that end on ' || m.training_expires end) as training_gap,
    [m.line]                                as lines,
    list_has_all(string_split(m.training, ' '), string_split(e.training_asked, ' ')) and is_over is not true as ok
from post_kit as pk
join watch as w using (post_kit_id)
join post as p using (post_id)
join event as e on e.event_id = p.event_id
join member as m on m.member_id = pk.member_id
where e.training_asked is not null
