/*
title      = "Channel list is from an earlier year"
subject    = "item"
severity   = "limits"
why        = "A channel that moved in the spring is silence in the autumn."
not_met    = "{subject}: {paper_days:.0f} days old; one printed on {asked_since} or later is asked for."
not_known  = "{subject}: the day on which it was printed is not written down under “acquired”."
fix        = "Print this year's list, load the channels, and write the date under “acquired”. Paper and film are about 2 to 8 USD."
source     = "common practice: the list carries the club's current year"
applies_to = "channel lists"

[param.within_days]
value  = 400
unit   = "d"
why    = "a year and a month, so that last season's list shows"
source = "common practice"

[shared]
plan_from = "channels_not_loaded"

[remedy]
kind = "item_kind"
*/
select
    item_id                                     as subject,
    date_diff('day', acquired, $today)          as paper_days,
    kind as item_kind,
    channels_asked_since($today, $within_days, $plan_from) as asked_since,
    acquired >= asked_since                     as ok
from item
where kind = 'channel_list' and is_usable
