/*
title      = "Generator or trailer not serviced"
subject    = "item"
severity   = "limits"
why        = "Old fuel gums the carburettor, and a tyre that stood since autumn is flat in spring."
not_met    = "{subject}: last serviced {serviced_days:.0f} days ago; once a quarter is asked."
not_known  = "{subject}: the day of its last service is not written down under “serviced”."
fix        = "Have it serviced by whoever keeps it (a generator run under load; of a trailer tyres, lights, hitch and what is built in; about 20 to 200 USD a year), and write the date in “serviced”. Run a generator outdoors only, away from windows: the exhaust kills. Let it cool before filling."
source     = "a draft trailer and generator policy of a civil air-patrol wing: quarterly service with a named custodian"
applies_to = "generators and trailers that work; who keeps them is the member in the list"

[param.within_days]
value  = 92
unit   = "d"
why    = "a quarter of a year"
source = "a draft trailer and generator policy of a civil air-patrol wing"
*/
select
    item_id                                     as subject,
    date_diff('day', serviced, $today)          as serviced_days,
    serviced_days <= $within_days               as ok
from item
where is_usable and kind in ('generator', 'trailer')
