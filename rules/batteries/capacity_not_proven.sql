/*
title     = "Battery capacity not proven"
subject   = "item"
severity  = "limits"
why       = "A green charger light says that a battery is full, not how much that is."
not_met   = "{subject}: measured at {measured_share:.0%} of its rating (days ago: {tested_days:.0f}); measure it every {within_days:.0f} days and replace it below {least_share:.0%}."
not_known = "{subject}: no capacity measured, with its day, is written down; age in years: {age_years:.1f}."
fix       = "Time a discharge through a meter at inspection day and write “tested” and tested_ah; replace it if it is weak (12 V batteries about 20 to 450 USD, packs 20 to 80). Stay with the battery while it discharges."
source    = "battery-maker testing notes: replace below 80 % of rating, test yearly; a charger light does not prove capacity"
applies_to = "batteries that were measured, are older than the interval or of unknown age; handheld packs, which want an analyser, go by their age, and by what was measured where that and their rating are told, whatever the day"

[param.least_share]
value  = 0.8
unit   = "1"
why    = "below this the rest goes fast"
source = "battery-maker testing notes"

[param.within_days]
value  = 365
unit   = "d"
why    = "once a year, at inspection day; a new battery is taken at its rating for as long"
source = "battery-maker testing notes: yearly once below 90 % of rating; for all of them common practice"

[remedy]
kind = "item_kind"
*/
select
    item_id                             as subject,
    measured_share, age_years,
    date_diff('day', tested, $today)    as tested_days,
    kind as item_kind,
    case when measured_share < $least_share then false when is_pack then true
         when measured_share is not null then tested_days <= $within_days end as ok
from battery
where case when is_pack then item_id in (select item_id from item where role = 'pack' and tested_ah is not null and not capacity_ah_is_assumed)
    else coalesce(age_years > $within_days / 365.25, true) or measured_share is not null end
