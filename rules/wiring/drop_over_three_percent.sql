/*
title     = "Lead drops too much voltage"
subject   = "item"
severity  = "limits"
why       = "Voltage lost in the lead is taken from the radio, which drops out while the battery is still half full."
not_met   = "{subject}: {drop_v:.2f} V ({drop_share:.1%} of {of_v:.1f} V) is lost at {peak_a:.0f} A over {length_m:.1f} m of {wire_mm2:.1f} mm² {joined}."
not_known = "{subject}: wire size, length or the radio's current is not written down."
fix       = "Shorten the lead or use heavier wire (12 AWG up to 3.3 m, 10 AWG up to 5 m for a 50 W mobile; about 15 to 40 USD)."
source    = "boat-wiring standard ABYC E-11: 3 % for circuits that matter, 10 % at most"
applies_to = "DC leads, clip leads and socket leads that work, in kits with a radio that is not a handheld; each with the hungriest radio to which its plugs lead, by itself, and those one after the other that the plugs leave no way around: where battery and radio join without a lead, of several that lie beside them one is taken"

[param.most_share]
value  = 0.03
unit   = "1"
why    = "radios at 13.8 V -15 % have little to spare on a battery"
source = "ABYC E-11, circuits that matter"

[remedy]
kind = "dc_lead"
*/
-- what the leads on the way from battery to radio drop together is said of the one that drops most, unless one drops too much
-- by itself; before a converter another current passes
with passed as (
    select l.item_id, l.kit_id, l.peak_a * coalesce(r.gain, 1) as peak_a, l.drop_v * coalesce(r.gain, 1) as drop_v,
        coalesce(r.nominal_v, 13.8) as of_v, l.drop_share * coalesce(r.gain, 1) * 13.8 / coalesce(r.nominal_v, 13.8) as drop_share, l.length_m, l.wire_mm2, l.how
    from lead as l left join passing as r on r.item_id = l.item_id
), way as (
    select arg_max(l.item_id, l.drop_share) as item_id, sum(l.drop_v) as drop_v, sum(l.drop_share) as drop_share,
        sum(l.length_m) as length_m, min(l.wire_mm2) as wire_mm2
    from station_step as s join passed as l using (item_id) group by s.kit_id
    having count(*) > 1 and max(l.drop_share) <= $most_share and sum(l.drop_share) > $most_share
)
select
    l.item_id                           as subject,
    coalesce(w.drop_v, l.drop_v)        as drop_v,
    coalesce(w.drop_share, l.drop_share) as drop_share,
    l.peak_a, l.of_v,
    coalesce(w.length_m, l.length_m)    as length_m,
    coalesce(w.wire_mm2, l.wire_mm2)    as wire_mm2,
    case when w.item_id is null then 'by itself' else 'with what it is joined to' end as joined,
    l.how,
    coalesce(w.drop_share, l.drop_share) <= $most_share as ok
from passed as l
join holding as h on h.kit_id = l.kit_id
left join way as w on w.item_id = l.item_id
where h.has_mobile
