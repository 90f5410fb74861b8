/*
title     = "Faulty, but still in the kit"
subject   = "item"
severity  = "advice"
why       = "In the dark a faulty thing is taken for a good one."
not_met   = "{subject}: marked faulty and still in the kit; it counts for nothing."
not_known = "{subject}: nobody is sure whether it works."
fix       = "Try it, and write ok or faulty in “condition”. Take out what is faulty, tag it, repair or replace it (a lead or adapter is about 5 to 40 USD, a handheld 30 to 350, a mobile 180 to 600)."
source    = "common practice"
applies_to = "items that have not been taken out of the kit; batteries and packs that are faulty have faulty_battery_in_the_kit"

[remedy]
kind = "item_kind"
*/
select
    item_id       as subject,
    condition,
    kind as item_kind,
    case condition when 'ok' then true when 'faulty' then false end as ok
from item
where condition <> 'removed' and not (
    condition = 'faulty' and role in ('source', 'pack', 'other') and coalesce(chemistry <> 'alkaline', kind = 'battery', false))
