/*
title      = "Kept too cold or too hot"
subject    = "item"
severity   = "advice"
why        = "A shed in frost or a car in the sun ages a battery faster than use does."
not_met    = "{subject}: kept at {stored_min_c:.0f} to {stored_max_c:.0f} °C; its chemistry wants {store_min_c:.0f} to {store_max_c:.0f} °C."
not_known  = "{subject}: how cold and how hot it gets where the kit is kept is not written down."
fix        = "Keep it indoors between events (costs nothing), and write stored_min_c and stored_max_c. Let a cold one warm up before you charge it; never charge LiFePO4 below 0 °C."
source     = "LiFePO4 pack data sheets: storage at 0 to 40 °C"
applies_to = "batteries that work and whose chemistry has a storage range in data/reference/chemistries.csv; no source was found for the others"
*/
select
    b.item_id                   as subject,
    kit.stored_min_c, kit.stored_max_c, c.store_min_c, c.store_max_c, b.chemistry_is_assumed,
    case when kit.stored_min_c < c.store_min_c or kit.stored_max_c > c.store_max_c then false
         when kit.stored_min_c >= c.store_min_c and kit.stored_max_c <= c.store_max_c then true end as ok
from battery as b
join kit on kit.kit_id = b.kit_id
join chemistry as c on c.chemistry = b.chemistry
where c.store_min_c is not null
