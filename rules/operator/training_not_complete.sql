/*
title     = "Training not complete"
subject   = "member"
severity  = "advice"
why       = "An agency that asks for courses turns people away at the door."
not_met   = "{subject}: {training_gap}."
not_known = "{subject}: no courses are written down."
told_by   = "coordinator"
fix       = "Take the missing courses; the introductory ones are on-line, cost nothing and take about three hours each. Have the coordinator write what was passed in “training”. Renew what has a last day before the event that it is needed for."
source    = "national emergency-communications plan and task book; yearly requirements of city and county groups"

[param.courses]
value  = "is100 is200 is700"
unit   = "course"
why    = "what agencies ask for most often"
source = "yearly requirements of city and county groups"
*/
with needed as (
    select member_id, cast(max(ends) as date) as last_day from assignment where ends >= $today group by member_id
)
select
    m.member_id                 as subject,
    array_to_string(list_sort(list_filter(string_split($courses, ' '),
        lambda c: not list_contains(string_split(training, ' '), c))), ', ')
                                as missing_training,
    training_expires,
    training_expires < coalesce(n.last_day, $today) as is_over,
    concat_ws('; ', case when missing_training <> '' then 'missing courses: ' || missing_training end,
        case when is_over then 'what was passed ends on ' || training_expires end) as training_gap,
    list_has_all(string_split(training, ' '), string_split($courses, ' ')) and is_over is not true as ok
from member as m
left join needed as n using (member_id)
