/*
title     = "Faulty, but still in the kit"
subject   = "item"
severity  = "advice"
why       = "In the dark a faulty thing is taken for a good one; a damaged lithium battery can burn."
not_met   = "{subject}: marked faulty and still in the kit; it counts for nothing."
not_known = "{subject}: nobody is sure whether it works."
fix       = "Try it, and write ok or faulty in “condition”. Take out what is faulty, tag it, repair or replace it (a lead or adapter is about 5 to 40 USD, a pack 20 to 80, a 12 V battery 20 to 450, a handheld 30 to 350, a mobile 180 to 600). Keep a swollen, leaking or hot battery outdoors, away from anything that burns, and bring it to a collection point; check local rules."
source    = "battery care notes: swollen or leaking is out of service; common practice"
applies_to = "items that have not been taken out of the kit"

[remedy]
kind = "item_kind"
*/
select
    item_id       as subject,
    condition,
    kind as item_kind,
    case condition when 'ok' then true when 'faulty' then false end as ok
from item
where condition <> 'removed'
