/*
title      = "Past its date"
subject    = "item"
severity   = "advice"
why        = "Old plasters do not stick, and an extinguisher past its date may only click."
not_met    = "{subject}: past its date by {expired_days:.0f} days."
not_known  = "{subject}: the date until which it is good is not written down."
fix        = "Replace what is past its date (first-aid contents about 10 to 30 USD), renew the plan of a messenger, and write the new one; look through it every three months."
source     = "USDI and Army Corps safety manuals on ANSI Z308.1 kits: checked before use and every three months; common practice"
applies_to = "first-aid kits, trauma packs, fire extinguishers, satellite messengers and whatever else carries a date"

[remedy]
kind = "item_kind"
*/
select
    item_id                                     as subject,
    date_diff('day', expires, $today)           as expired_days,
    kind as item_kind,
    expired_days <= 0                           as ok
from item
where condition <> 'removed' and (expires is not null
    or kind in ('first_aid', 'trauma_pack', 'fire_extinguisher', 'satellite_messenger'))
