/*
title      = "Date ends soon"
subject    = "item"
severity   = "advice"
why        = "What ends between two looks through the kit is missed until it is needed."
not_met    = "{subject}: good until {good_until}, days left: {days_left}; what ends within {ahead_days} days is replaced beforehand."
fix        = "Put its replacement on the list now (first-aid contents about 10 to 30 USD), or renew it, and write the new date in “expires”."
source     = "USDI and Army Corps safety manuals on ANSI Z308.1 kits: looked through every three months; common practice"
applies_to = "things that carry a date and are not past it; those have past_its_expiry"

[param.ahead_days]
value  = 90
unit   = "d"
why    = "until the kit is looked through again, and most clubs hold an event meanwhile"
source = "USDI and Army Corps safety manuals on ANSI Z308.1 kits: every three months"
*/
select
    item_id                                     as subject,
    expires                                     as good_until,
    date_diff('day', $today, expires)           as days_left,
    days_left >= $ahead_days                    as ok
from item
where expires >= $today and condition <> 'removed'
