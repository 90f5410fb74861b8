/*
title     = "Rigid adapter on a handheld"
subject   = "kit"
severity  = "advice"
why       = "A stiff stack of adapters is a lever: one knock breaks the small antenna socket of the radio."
not_met   = "{subject}: it has a stiff adapter for the handheld's antenna socket and no flexible pigtail."
not_known = "{subject}: it has an adapter whose plugs are not written down, and no flexible pigtail."
fix       = "Add a short flexible pigtail (about 8 to 20 USD) and leave the stack in the bag."
source    = "common practice; makers' notes on SMA sockets: no stack of rigid adapters"
applies_to = "kits with a handheld and RF adapters; an adapter kit is a tin for all radios and is not counted"

[remedy]
kind = "rf_pigtail"
*/
with fit as (
    select plug_a as plug, plug_b as other from mating where mates union select plug_b, plug_a from mating where mates
), socket as (   -- plugs that fit the handhelds of a kit
    select r.kit_id, list(f.other) as plugs
    from item as r join fit as f on f.plug = r.rf_plug
    where r.is_usable and r.kind = 'handheld'
    group by r.kit_id
)
select
    a.kit_id        as subject,
    any_value(h.handhelds) as handhelds, count(*) filter (a.kind <> 'rf_pigtail') as stiff_adapters,
    list(a.line order by a.line) filter (a.kind <> 'rf_pigtail') as lines,
    case when bool_or(a.kind = 'rf_pigtail') then true
         when bool_or(list_contains(s.plugs, a.rf_plug) or list_contains(s.plugs, a.rf_plug_far)) then false
         when bool_and(a.rf_plug is not null and a.rf_plug_far is not null) then true end as ok
from item as a
join holding as h using (kit_id)
left join socket as s using (kit_id)
where a.is_usable and a.role = 'rf_adapter' and a.kind in ('rf_adapter', 'barrel_connector', 'rf_pigtail') and h.handhelds > 0
group by a.kit_id
having bool_or(a.kind <> 'rf_pigtail')
