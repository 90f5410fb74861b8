/*
title      = "Not set up for a year"
subject    = "kit"
severity   = "limits"
why        = "Cables go missing and settings change between two seasons."
not_met    = "{subject}: last set up {set_up_days:.0f} days ago; once every {within_days:.0f} days is asked."
fix        = "Check in to a net from the kit alone, or set it up at inspection day (costs nothing), and write the day as a rehearsal."
source     = "common practice: a full set-up every 12 months, which a bench is not; clubs encourage practice sessions in parks"
applies_to = "kits that were set up at least once, past the bench; the others have never_tried_outdoors"

[param.within_days]
value  = 365
unit   = "d"
why    = "one full set-up a season"
source = "common practice"
*/
select
    p.kit_id                                        as subject,
    date_diff('day', p.last_set_up, $today)         as set_up_days,
    set_up_days <= $within_days                     as ok
from practice as p
where p.last_set_up is not null
