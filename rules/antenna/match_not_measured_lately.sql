/*
title    = "Match not measured lately"
subject  = "item"
severity = "limits"
why      = "Antennas age in the bag: wires fray, joints corrode, water gets in."
not_met  = "{subject}: its match was last measured on {swr_tested}, {tested_days} days ago; once a year is good practice."
fix      = "Measure it on inspection day with the club's analyser (costs nothing; one of your own is about 40 to 350 USD) and write the date in swr_tested."
source   = "common practice: kit inspection once a year"
applies_to = "antennas in use that tell when their match was measured; the others have poor_match"

[param.within_days]
value  = 365
unit   = "d"
why    = "once a season"
source = "common practice"
*/
select
    item_id                                 as subject,
    swr_tested,
    date_diff('day', swr_tested, $today)    as tested_days,
    date_diff('day', swr_tested, $today) <= $within_days as ok
from item
where is_usable and role = 'antenna' and kind <> 'whip' and swr_tested is not null
