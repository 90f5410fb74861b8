/*
title     = "No way to recharge"
subject   = "post_kit"
severity  = "limits"
why       = "A post of a day or more outlasts most batteries that people carry."
not_met   = "{subject}: {member}'s {kit} is there for {need_h:.0f} h, cannot carry that with margin, and has no way to charge there."
not_known = "{subject}: {member}'s {kit} has a charger, and whether the post has mains is not written down."
told_by   = "coordinator"
fix       = "Bring a second battery (20 Ah LiFePO4 about 90 to 260 USD), a 100 W panel with its controller (about 115 to 480 USD), or plan a charge at the overnight stop. Charge where someone can see it; do not charge LiFePO4 below freezing; check local rules."
source    = "common practice: solar and backup-power talks of clubs; recharge wanted beyond one day"
applies_to = "kits with a radio that are there for a day or more"

[param.from_h]
value  = 24
unit   = "h"
why    = "one day on the air"
source = "common practice"

[param.margin]
value  = 1.25
unit   = "1"
why    = "assignments run on; with this margin no recharge is needed"
source = "common practice"

[remedy]
kind = "solar_panel"
*/
with held as (
    select kit_id,
        bool_or(role = 'solar') and bool_or(kind like 'charge_controller%') as has_sun,
        bool_or(role = 'charger' and kind not like 'charge_controller%') as has_charger,
        bool_or(kind = 'generator') as has_generator,
        list(line order by line) filter (role in ('solar', 'charger', 'source')) as lines
    from item where is_usable group by kit_id
)
select
    pk.post_kit_id                          as subject,
    r.runtime_h, pk.need_h,
    coalesce(h.lines, r.lines)              as lines,
    case when r.is_on_mains or h.has_sun or (h.has_charger and h.has_generator) or coalesce(r.runtime_h >= pk.need_h * $margin, false) then true
         when not h.has_charger then false
         else p.has_mains end               as ok
from post_kit as pk
join post as p using (post_id)
join runtime as r using (post_kit_id)
join held as h on h.kit_id = pk.kit_id
where pk.need_h >= $from_h
