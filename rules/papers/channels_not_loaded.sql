/*
title      = "This year's channels not loaded"
subject    = "item"
severity   = "limits"
why        = "A channel that moved in the spring must be in the radio, not only on the list."
not_met    = "{subject}: loaded on {programmed}, {programmed_days:.0f} days ago; channels loaded on {asked_since} or later are asked for."
not_known  = "{subject}: the day on which the club's channels were loaded is not written down."
fix        = "Load this year's channels at programming night (costs nothing), try those of the next event on the air, and write the day in “programmed”."
source     = "district forms page: event channels loaded and checked; common practice: the list carries the club's current year"
applies_to = "handhelds, VHF/UHF mobiles and nodes that work; those that cannot be set by hand have channels_not_loaded_nor_set_by_hand"

[param.within_days]
value  = 400
unit   = "d"
why    = "a year and a month, so that last season's channels show"
source = "common practice"

[param.plan_from]
value  = ""
unit   = "date"
why    = "the day on which the club's plan of channels came into force; what was loaded or printed before it is old from that day on. Empty where none is set"
source = "common practice: the list carries the club's current year"
*/
select
    item_id                                     as subject,
    programmed,
    date_diff('day', programmed, $today)        as programmed_days,
    channels_asked_since($today, $within_days, $plan_from) as asked_since,
    programmed >= asked_since                   as ok
from item
where kind in ('handheld', 'mobile_vhf_uhf', 'mobile_data', 'crossband_node') and is_usable and is_set_by_hand is not false
