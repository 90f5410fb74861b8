/*
title      = "First-aid kit not looked through"
subject    = "item"
severity   = "advice"
why        = "Whoever took the last dressing in spring meant to tell somebody."
not_met    = "{subject}: last looked through {checked_days:.0f} days ago; once every {within_days:.0f} days is asked."
not_known  = "{subject}: no day on which it was looked through is written down."
fix        = "Go through it by its list, replace what is used up or past its date (about 10 to 30 USD), and write the day in “tested”."
source     = "USDI and Army Corps safety manuals on ANSI Z308.1 kits: checked before use and every three months"
applies_to = "first-aid kits and trauma packs that work"

[param.within_days]
value  = 92
unit   = "d"
why    = "three months"
source = "USDI and Army Corps safety manuals on ANSI Z308.1 kits"
*/
select
    item_id                                                     as subject,
    date_diff('day', greatest(tested, counted, serviced), $today) as checked_days,   -- the latest that is told
    checked_days <= $within_days                                as ok
from item
where is_usable and kind in ('first_aid', 'trauma_pack')
