/*
title     = "Line weaker than two radios at once"
subject   = "post_kit"
severity  = "limits"
why       = "Where two nets are worked from one battery both radios may be on transmit at once, and the fuse that holds one of them blows for both."
not_met   = "{subject}: the post plans {radios_planned} radios, and two of {member}'s {kit} can only hang on one line: {peak_a:.0f} A pass it while both transmit. Too weak for that: {weak_parts}."
not_known = "{subject}: the post plans {radios_planned} radios, and two of {member}'s {kit} can only hang on one battery that tells no rating: {peak_a:.0f} A pass it while both transmit."
fix       = "Read the battery's label and write amps_rated if it carries both. Give each radio a lead and a fuse of its own from the battery (about 20 to 50 USD together), fit heavier ones where the wire allows, or transmit at low power. Disconnect the battery first; check local rules."
source    = "club fuse article: load x 1.25 <= fuse <= ampacity; boat-wiring standard ABYC E-11: 3 % of the volts for the circuit; separate radio for each net, marathon radio requirements"
applies_to = "kits that make a station for a post that plans two radios or more, are sent there and are the only kit for some of the time; in order where the plugs leave two radios another way to power than one battery or what stands between it and a block, and each radio by itself is judged with the thing"

[param.most_share]
value  = 0.03
unit   = "1"
why    = "share of 13.8 V that the line may drop on its way to the block"
source = "ABYC E-11, circuits that matter"
*/
with alone as (
    select distinct post_id, kit_id from (
        select t.post_id, min(t.kit_id) as kit_id from present as t join post as p using (post_id)
        where p.radios > 1 and t.kit_id is not null
        group by t.post_id, t.instant having min(t.kit_id) = max(t.kit_id)
    )
), busy as (
    select pk.post_kit_id, pk.kit_id, n.want_id, p.radios, w.weak_lines, w.doubtful_lines
    from alone as a
    join post_kit as pk on pk.post_id = a.post_id and pk.kit_id = a.kit_id and pk.is_assigned
    join post as p on p.post_id = a.post_id
    join way as w on w.post_kit_id = pk.post_kit_id and w.stations_low > 0
    join want as n on n.post_id = a.post_id
), radio as (
    select b.post_kit_id, i.kind = 'handheld' as is_handheld, i.amps_tx,
        row_number() over (partition by b.post_kit_id order by i.amps_tx) as place
    from busy as b join suit as s on s.want_id = b.want_id and s.kit_id = b.kit_id and s.is_tuned is distinct from false
    join item as i using (item_id) cross join unnest([1, 2]) as piece(number)
    where piece.number <= i.quantity
), pair as (   -- the two that draw least
    select post_kit_id, sum(amps_tx) filter (place < 3) as peak_a from radio
    group by post_kit_id having count(*) > 1 and not bool_or(is_handheld or amps_tx is null)
), bearer as (
    select b.post_kit_id, b.radios, a.peak_a, i.item_id, i.line, i.item, i.role, i.amps_rated, c.usual_a, s.step,
        max(s.step) filter (i.kind = 'dc_block') over (partition by b.post_kit_id) as block
    from busy as b
    join pair as a using (post_kit_id)
    join item as i on i.kit_id = b.kit_id and i.role in ('source', 'lead', 'fuse')
    join station_step as s on s.item_id = i.item_id
    left join battery as c on c.item_id = i.item_id
    where list_contains(b.weak_lines, i.line) and not list_contains(b.doubtful_lines, i.line)
), loaded as (
    select t.*, sum(l.drop_share * t.peak_a / l.peak_a) over (partition by t.post_kit_id) as dropped,
        coalesce(t.amps_rated >= t.peak_a * coalesce(f.least_a / f.peak_a, 1), t.role <> 'source' or nullif(t.usual_a >= t.peak_a, false))
            and (l.item_id is null or coalesce(dropped <= $most_share, true)) as is_strong
    from bearer as t
    left join lead as l using (item_id)
    left join fuse as f on f.item_id = t.item_id and f.is_fuse
    where t.role = 'source' or t.step <= t.block
)
select
    b.post_kit_id                                           as subject,
    any_value(b.radios)                                     as radios_planned,
    any_value(t.peak_a)                                     as peak_a,
    string_agg(t.item, ', ' order by t.step) filter (not t.is_strong) as weak_parts,
    coalesce(list_sort(list(t.line) filter (t.line is not null)), any_value(h.radio_lines)) as lines,
    case when not bool_and(t.is_strong) then false
         when not bool_or(t.item_id is not null and t.is_strong is null) then true end as ok
from busy as b
join holding as h using (kit_id)
left join loaded as t using (post_kit_id)
group by b.post_kit_id
