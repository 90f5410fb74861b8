/*
title    = "Many RF adapters in a row"
subject  = "kit"
severity = "advice"
why      = "Every joint in the antenna line loses a little, lets water in and comes loose."
not_met  = "{subject}: adapters on its shortest way from radio to antenna: {adapters}; up to {most} is good practice."
not_known = "{subject}: the only station that it may make hangs on plugs or values that are not written down; adapters that it passes: {adapters}."
fix      = "Get one lead or pigtail with the right plug at each end (about 5 to 20 USD)."
source   = "common practice; a county group's coax page: as few connectors as can be"
applies_to = "kits that make a complete station at best"

[param.most]
value  = 2
unit   = "1"
why    = "each joint is a loss and a fault"
source = "common practice"
*/
select
    s.kit_id                                                as subject,
    count(*) filter (i.role = 'rf_adapter')                 as adapters,
    list(i.line order by i.line)                            as lines,
    case when bool_and(s.is_certain) then count(*) filter (i.role = 'rf_adapter') <= $most end as ok
from station_step as s
join item as i using (item_id)
group by s.kit_id
