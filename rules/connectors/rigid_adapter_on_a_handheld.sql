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
with rigid as (
    select a.kit_id, list(a.line order by a.line) as lines,
        bool_or(a.rf_plug is null or a.rf_plug_far is null) as is_open,
        coalesce(bool_or(exists (from item as r join mating as m
            on (m.plug_a = r.rf_plug and m.plug_b in (a.rf_plug, a.rf_plug_far))
            or (m.plug_b = r.rf_plug and m.plug_a in (a.rf_plug, a.rf_plug_far))
            where r.kit_id = a.kit_id and r.kind = 'handheld' and r.is_usable and m.mates)), false) as has_stack
    from item as a where a.is_usable and a.kind in ('rf_adapter', 'barrel_connector') group by a.kit_id
), pigtail as (
    select distinct kit_id from item where is_usable and kind = 'rf_pigtail'
)
select
    r.kit_id        as subject,
    r.lines,
    case when p.kit_id is not null then true when r.has_stack then false when not r.is_open then true end as ok
from rigid as r
join holding as h using (kit_id)
left join pigtail as p using (kit_id)
where h.handhelds > 0
