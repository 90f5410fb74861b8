/*
title     = "Training not complete"
subject   = "member"
severity  = "advice"
why       = "An agency that asks for courses turns people away at the door."
not_met   = "{subject}: missing courses: {missing_training}."
not_known = "{subject}: no courses are written down."
told_by   = "coordinator"
fix       = "Take the missing courses; the introductory ones are free and on-line, about three hours each."
source    = "national emergency-communications plan and task book; yearly requirements of city and county groups"

[param.courses]
value  = "is100 is200 is700"
unit   = "course"
why    = "what agencies ask for most often"
source = "yearly requirements of city and county groups"
*/
select
    member_id                   as subject,
    array_to_string(list_sort(list_filter(string_split($courses, ' '), lambda c: not list_contains(string_split(training, ' '), c))), ', ')
                                as missing_training,
    list_has_all(string_split(training, ' '), string_split($courses, ' ')) as ok
from member
