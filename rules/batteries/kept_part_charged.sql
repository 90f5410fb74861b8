/*
title      = "Kept part charged"
subject    = "item"
severity   = "advice"
why        = "A lead-acid battery that lies part charged hardens inside and loses capacity for good."
not_met    = "{subject}: kept at {stored_charge_share:.0%}; its chemistry wants {store_charge_share:.0%} in store."
fix        = "Charge it full after every use and again every {charge_limit_days:.0f} days (costs nothing; a charger is about 30 to 100 USD), and write stored_charge_pct. Charge it in an aired place, away from sparks, with the charger for its chemistry."
source     = "battery-maker storage pages and a battery maintenance manual: lead-acid is stored full"
applies_to = "lead-acid batteries that work and whose charge in store is told"

[param.least_share]
value  = 0.8
unit   = "1"
why    = "a full one that is charged again every three months falls no lower"
source = "data sheet of a 12 V 40 Ah sealed lead-acid battery: 81 % left after three months at 20 °C"
*/
select
    b.item_id                               as subject,
    b.stored_charge_share, c.store_charge_share, b.charge_limit_days, b.chemistry_is_assumed,
    b.stored_charge_share >= $least_share   as ok
from battery as b
join chemistry as c on c.chemistry = b.chemistry
where c.store_charge_share = 1 and b.stored_charge_share is not null
