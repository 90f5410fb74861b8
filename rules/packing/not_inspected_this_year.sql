/*
title     = "Not inspected for a year"
subject   = "kit"
severity  = "advice"
why       = "A second pair of eyes sees the worn lead that its owner stopped seeing."
not_met   = "{subject}: last looked over by another member {inspected_days:.0f} days ago; once every {within_days:.0f} days is asked."
not_known = "{subject}: no inspection by another member is written down."
fix       = "Bring it to inspection day (costs nothing); twenty minutes with a meter and a watt meter. Write the day in “inspected”."
source    = "preseason radio tests at least a month ahead in a lifesaving service; inspection of member-owned stations in an auxiliary service; the yearly interval is common practice"

[param.within_days]
value  = 365
unit   = "d"
why    = "one inspection day before the season"
source = "common practice"
*/
select
    kit_id                                          as subject,
    date_diff('day', inspected, $today)             as inspected_days,
    inspected_days <= $within_days                  as ok
from kit
