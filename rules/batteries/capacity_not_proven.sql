/*
title     = "Battery capacity not proven"
subject   = "item"
severity  = "limits"
why       = "A green charger light says that a battery is full, not how much that is."
not_met   = "{subject}: measured at {measured_share:.0%} of its rating; replace below {least_share:.0%}."
not_known = "{subject}: {age_years:.0f} years old and its capacity has not been measured within {within_years:.0f} years."
fix       = "Time a discharge through a meter at inspection day and write tested and tested_ah; replace it if it is weak (12 V batteries about 60 to 260 USD). Stay with the battery while it discharges."
source    = "battery-maker testing notes: replace below 80 % of rating, test yearly; a charger light does not prove capacity"
applies_to = "batteries, not handheld packs, that are two years old or were measured"

[param.least_share]
value  = 0.8
unit   = "1"
why    = "below this the rest goes fast"
source = "battery-maker testing notes"

[param.within_years]
value  = 2
unit   = "a"
why    = "after so long an old measurement says little"
source = "common practice"

[remedy]
kind = "item_kind"
*/
select
    b.item_id           as subject,
    b.measured_share, b.age_years,
    i.kind as item_kind,
    case when b.measured_share < $least_share then false
         when date_diff('day', i.tested, $today) <= 365.25 * $within_years and b.measured_share is not null then true end as ok
from battery as b
join item as i using (item_id)
where not b.is_pack and (b.age_years >= $within_years or b.measured_share is not null)
