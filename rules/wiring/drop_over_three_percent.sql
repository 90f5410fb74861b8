/*
title     = "Lead drops too much voltage"
subject   = "item"
severity  = "limits"
why       = "Voltage lost in the lead is taken from the radio, which drops out while the battery is still half full."
not_met   = "{subject}: {drop_v:.2f} V ({drop_share:.1%} of {of_v:.1f} V) is lost at {peak_a:.0f} A over {length_m:.1f} m of {wire_mm2:.1f} mm² {joined}."
not_known = "{subject}: wire size, length or the radio's current is not written down."
fix       = "Shorten the lead or use heavier wire (12 AWG up to 3.3 m, 10 AWG up to 5 m for a 50 W mobile; about 15 to 40 USD)."
source    = "boat-wiring standard ABYC E-11: 3 % for circuits that matter, 10 % at most"
applies_to = "DC leads and adapters, clip leads and socket leads that work, in kits with a radio that is not a handheld; each with the hungriest radio to which its plugs lead, by itself, and together with those one after the other on the shortest way from battery to a radio by their plugs, the worst of each sort: where one lead joins them, or none is needed, no two are added up"

[param.most_share]
value  = 0.03
unit   = "1"
why    = "radios at 13.8 V -15 % have little to spare on a battery"
source = "ABYC E-11, circuits that matter"

[remedy]
kind = "dc_lead"
*/
-- what the leads on the shortest way to a radio drop together, of several that fit the same place the worst, is said of the one
-- that drops most, unless one drops too much by itself; before a converter another current passes
with passed as (
    select l.item_id, l.kit_id, l.peak_a * coalesce(r.gain, 1) as peak_a, l.drop_v * coalesce(r.gain, 1) as drop_v,
        coalesce(r.nominal_v, 13.8) as of_v, l.drop_share * coalesce(r.gain, 1) * 13.8 / coalesce(r.nominal_v, 13.8) as drop_share,
        l.length_m, l.wire_mm2, l.how, r.nominal_v is not null as is_converted
    from lead as l left join passing as r on r.item_id = l.item_id
), linked as (
    select c.radio_item_id, l.item_id, l.length_m, l.wire_mm2, l.drop_share as own_share,
        case when l.is_converted then 1 else coalesce(c.amps_tx / nullif(l.peak_a, 0), 1) end as part,
        l.peak_a * part as peak_a, l.drop_v * part as drop_v, l.drop_share * part as drop_share
    from chain as c join passed as l using (item_id)
    where c.radio_item_id in (select radio_item_id from chain group by radio_item_id having max(rung) > min(rung))
    qualify row_number() over (partition by c.radio_item_id, c.rung order by l.drop_share desc nulls last, l.item_id) = 1
), way as (
    select radio_item_id, arg_min(item_id, (-drop_share, item_id)) as item_id, max(peak_a) as peak_a, sum(drop_v) as drop_v, sum(drop_share) as drop_share,
        sum(length_m) as length_m, min(wire_mm2) as wire_mm2
    from linked group by radio_item_id
    having count(*) > 1 and max(own_share) <= $most_share and sum(drop_share) > $most_share
), worst as (
    from way qualify row_number() over (partition by item_id order by drop_share desc, radio_item_id) = 1
)
select
    l.item_id                           as subject,
    coalesce(w.drop_v, l.drop_v)        as drop_v,
    coalesce(w.drop_share, l.drop_share) as drop_share,
    coalesce(w.peak_a, l.peak_a)        as peak_a,
    l.of_v,
    coalesce(w.length_m, l.length_m)    as length_m,
    coalesce(w.wire_mm2, l.wire_mm2)    as wire_mm2,
    case when w.item_id is null then 'by itself' else 'with what it is joined to' end as joined,
    case when h.is_peak_assumed then 'assumed' else l.how end as how,
    coalesce(w.drop_share, l.drop_share) <= $most_share as ok
from passed as l
join holding as h on h.kit_id = l.kit_id
left join worst as w on w.item_id = l.item_id
where h.has_mobile
