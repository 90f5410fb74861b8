/*
title     = "The club's things were not counted this year"
subject   = "club"
severity  = "limits"
why       = "What nobody has seen for a year may be in somebody's garage, or gone."
not_met   = "{subject}: of the club's own things ({things}), last counted more than {within_days:.0f} days ago: {old_counts}; never: {never_counted}."
not_known = "{subject}: of the club's own things ({things}), no day of a count is written down for {never_counted}."
fix       = "Count all of it before the season (costs nothing), sign the sheet, and write the date in “counted”."
source    = "annual property inventory of a civil air patrol: all of it, once a year"

[param.within_days]
value  = 365
unit   = "d"
why    = "once a year"
source = "annual property inventory of a civil air patrol"
*/
select
    0                                                                   as subject,
    count(*)                                                            as things,
    count(*) filter (date_diff('day', counted, $today) > $within_days)  as old_counts,
    count(*) filter (counted is null)                                   as never_counted,
    case when old_counts > 0 then false when never_counted = 0 then true end as ok
from item
where owner = 'club' and condition <> 'removed'
