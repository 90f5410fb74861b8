/*
title      = "Everything in one bag"
subject    = "kit"
severity   = "advice"
why        = "A kit in modules lends its antenna to the next post, and half of it can stay in the car."
not_met    = "{subject}: {weight_kg:.1f} kg in a single bag."
fix        = "Sort it into bags for power, antenna, radio, papers and safety (sub-bags are about 5 to 20 USD each) and write the module of each thing."
source     = "kit lists by tiers of a southern emergency group (everyday waist bag under 5 lb, shoulder bag, duffel); modules by function are common practice"
applies_to = "kits heavier than a waist bag; a thing that tells no weight counts with the usual one of its kind"

[param.light_kg]
value  = 2.3
unit   = "kg"
why    = "5 lb, an everyday waist bag"
source = "kit lists by tiers of a southern emergency group"
*/
select
    kit_id          as subject,
    weight_kg,
    modules,
    case when is_weight_assumed then 'assumed' else 'told' end as how,
    modules > 1     as ok
from holding
where weight_kg > $light_kg and modules > 0
