/*
title      = "One container is too heavy for one person"
subject    = "kit"
severity   = "limits"
why        = "A box that two must lift wants two at the car, both when it goes and when it comes."
not_met    = "{subject}: {heaviest_module} weighs {module_kg:.1f} kg; one person lifts {one_person_kg:.0f} kg at most. People to lift it: {people_to_lift}."
not_known  = "{subject}: something in it has no weight written down, so its heaviest container is not known."
fix        = "Split it into two containers (a tote is about 15 to 40 USD), or write on the lid how many people lift it."
source     = "Revised NIOSH lifting equation, DHHS (NIOSH) publication 94-110: load constant 51 lb (23 kg)"
applies_to = "kits with something in them; a thing that tells no weight counts with the usual one of its kind"

[param.one_person_kg]
value  = 23
least  = 1
unit   = "kg"
why    = "load for one person under the best lifting posture"
source = "DHHS (NIOSH) publication 94-110: 51 lb (23 kg)"
*/
with lifted as (
    select h.kit_id, list(i.line order by i.line) as lines
    from holding as h join item as i on i.kit_id = h.kit_id and i.module = h.heaviest_module and i.condition <> 'removed'
    where i.kit_id in (select kit_id from holding where module_kg > $one_person_kg)
    group by h.kit_id
)
select
    h.kit_id                                            as subject,
    h.heaviest_module, h.module_kg, l.lines,
    cast(ceil(h.module_kg / $one_person_kg) as integer) as people_to_lift,
    case when h.is_weight_assumed then 'assumed' else 'told' end as how,
    case when h.module_kg > $one_person_kg then false when h.is_weight_known then true end as ok
from holding as h
left join lifted as l using (kit_id)
where h.heaviest_module is not null
