/*
title      = "Channels not loaded in a radio that cannot be set by hand"
subject    = "item"
severity   = "blocks"
why        = "In the field nobody adds a channel to a radio that wants a computer for it."
not_met    = "{subject}: loaded on {programmed}, {programmed_days:.0f} days ago; channels loaded on {asked_since} or later are asked for, and it cannot be set by hand."
not_known  = "{subject}: the day on which the club's channels were loaded is not written down, and it cannot be set by hand."
fix        = "Load this year's channels at programming night, try those of the next event on the air, and write the day in “programmed”. Bring a radio that can be set by hand (about 30 to 350 USD) where the plan may still change."
source     = "district forms page: event channels loaded and checked; common practice: the list carries the club's current year"
applies_to = "handhelds, VHF/UHF mobiles and nodes that work and are told not to be set by hand"

[shared]
within_days = "channels_not_loaded"
plan_from = "channels_not_loaded"
*/
select
    item_id                                     as subject,
    programmed,
    date_diff('day', programmed, $today)        as programmed_days,
    channels_asked_since($today, $within_days, $plan_from) as asked_since,
    programmed >= asked_since                   as ok
from item
where kind in ('handheld', 'mobile_vhf_uhf', 'mobile_data', 'crossband_node') and is_usable and not is_set_by_hand
