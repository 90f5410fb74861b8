/*
title     = "Faulty battery still in the kit"
subject   = "item"
severity  = "limits"
why       = "A battery that is swollen, leaks or was dropped can burn hours later, in a bag, in a car, among people."
not_met   = "{subject}: marked faulty and still in the kit; it counts for nothing, and damaged it can burn."
fix       = "Take it out of the bag and write removed in “condition” (costs nothing). If it is swollen, leaks or grows hot, charge it no more; bring it to a collection point, check local rules."
source    = "battery care notes of clubs and of two-way radio makers: swollen or leaking is out of service at once"
caution   = "A damaged battery can catch fire hours later: keep it outdoors, away from people and from anything that burns, its terminals covered with tape."
applies_to = "batteries, packs and power banks that can be charged, where it is told whether they work; one that is only dead is marked faulty too, so this limits; everything else has faulty_but_in_the_kit"
*/
select
    item_id             as subject,
    condition,
    condition = 'ok'    as ok
from item
where role in ('source', 'pack', 'other') and condition in ('ok', 'faulty') and coalesce(chemistry <> 'alkaline', kind = 'battery', false)
