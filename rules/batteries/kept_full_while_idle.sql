/*
title      = "Kept full while idle"
subject    = "item"
severity   = "advice"
why        = "A lithium-ion pack that lies full for months loses capacity for good."
not_met    = "{subject}: kept at {stored_charge_share:.0%}, and its kit was last used {idle_days:.0f} days ago; its chemistry wants about {store_charge_share:.0%} in store."
not_known  = "{subject}: kept at {stored_charge_share:.0%}, and when its kit was last used is not written down."
fix        = "Keep full only what must go at once. Keep the rest at about {store_charge_share:.0%} between seasons (costs nothing), charge it full in the week before it is needed (until then it counts as not charged lately), and write stored_charge_pct and last_used. Charge it where someone can see it and nothing can burn, never below 0 °C; check local rules."
source     = "two-way radio battery care notes: lithium-ion that lies long is kept near 40 %"
applies_to = "lithium-ion batteries and packs that work and whose charge in store is told; what LiFePO4 wants its maker says"

[param.most_share]
value  = 0.7
unit   = "1"
why    = "a gauge of four steps cannot tell 40 % from more"
source = "common practice"

[param.within_days]
value  = 60
unit   = "d"
why    = "from two months on the care notes count a pack as stored"
source = "two-way radio battery care notes"
*/
select
    b.item_id                                                           as subject,
    b.stored_charge_share, c.store_charge_share, b.chemistry_is_assumed,
    date_diff('day', greatest(kit.last_used, p.last_rehearsed), $today) as idle_days,   -- since the later that is told
    b.stored_charge_share <= $most_share or idle_days <= $within_days   as ok
from battery as b
join kit on kit.kit_id = b.kit_id
left join practice as p on p.kit_id = b.kit_id
join chemistry as c on c.chemistry = b.chemistry
where c.store_charge_share < 1 and b.stored_charge_share is not null
