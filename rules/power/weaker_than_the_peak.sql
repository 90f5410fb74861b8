/*
title     = "Part weaker than the transmit current"
subject   = "item"
severity  = "advice"
why       = "A part that is too weak for the transmit current fails in the middle of an over; before a booster more passes than the radio draws. A station counts only parts that carry it; this names the others."
not_met   = "{subject}: {borne_by} {amps_rated:.0f} A; {peak_a:.0f} A pass it while its kit's radio transmits."
not_known = "{subject}: its current rating is not written down, or the radio's transmit current is not (amperes that pass it: {peak_a:.0f}; amperes that its station counts on as usual of its size: {usual_a:.0f})."
fix       = "Use a direct battery lead with a fuse (about 15 to 40 USD), a larger supply (about 90 to 200 USD), a plug that carries it (about 3 to 8 USD) or lower power, or read its label and write amps_rated if it carries more. A vehicle socket does not carry a full-power mobile. Hot plugs can burn: disconnect first."
source    = "supply sizes of 50 W (10 to 15 A) and 100 W (20 to 22 A) radios, NCVEC T4A01 and club columns; vehicle sockets fused at 10 to 20 A, county group notes"
applies_to = "leads, adapters, blocks, converters, batteries and supplies in use beside a radio that is not a handheld, each with the hungriest radio to which its plugs lead; a lead that tells no rating carries what is usual, and no more than its plugs do; of a battery that tells none its station counts on the low end of what is usual of its size (LiFePO4 and AGM), and what its label says is asked for; a battery or supply that tells its one plug also by what that carries; fuses have fuse_smaller_than_the_load and fuse_blows_on_transmit"

[remedy]
kind = "item_kind"
amps_rated = "peak_a"
*/
select
    i.item_id               as subject,
    least(i.amps_rated, c.rating_a) as amps_rated, p.peak_a, b.usual_a, i.kind as item_kind,
    case when c.rating_a < coalesce(i.amps_rated, p.peak_a) then 'its plug carries' else 'rated' end as borne_by,
    case when i.amps_rated_is_assumed or h.is_peak_assumed then 'assumed'
         when i.amps_rated is not null or c.rating_a is not null then 'told' end as how,
    case when c.rating_a < p.peak_a then false else i.amps_rated >= p.peak_a end as ok
from item as i
join holding as h using (kit_id)
left join passing as r on r.item_id = i.item_id
left join battery as b on b.item_id = i.item_id
left join connector as c on i.role = 'source' and c.plug = i.dc_plug and not i.dc_plug_is_assumed and i.dc_plug_far is null,
    lateral (select h.peak_a * coalesce(r.gain, 1) as peak_a) as p
where i.is_usable and not i.is_spare and h.has_mobile and i.role in ('lead', 'source', 'converter')
    and i.kind not in ('generator', 'extension_cord') and (i.role <> 'converter' or i.kind = 'boost_converter')
