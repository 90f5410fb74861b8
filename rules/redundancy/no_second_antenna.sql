/*
title    = "No second antenna"
subject  = "kit"
severity = "limits"
why      = "A broken antenna looks whole; only another one shows the fault and carries on."
not_met  = "{subject}: antennas that work on a band of its main radio ({bands}) and can be joined to it: {antennas}, of which {antennas_apart} can stand away from the radio; {least} are wanted for one band, one of them away from it."
not_known = "{subject}: antennas on a band of its main radio ({bands}) that can be joined to it: {antennas} for certain, of which {antennas_apart} can stand away from the radio; bands or plugs are not written down, or nobody is sure whether the others work."
fix      = "Add one for the main radio's band, with the coax and adapter that join it to that radio (about 5 to 40 USD): a roll-up J-pole or a magnet mount (about 25 to 90 USD), a wire for HF (about 40 to 180 USD); or an adapter (about 4 to 15 USD) for one that is there and has another plug."
source   = "common practice; a district net told how an antenna fault went unseen until a second was tried"
applies_to = "kits with a radio that works"

[param.least]
value  = 2
unit   = "1"
why    = "one to use and one to fall back on"
source = "common practice"

[remedy]
kind = "jpole"
*/
with main as (   -- by band; where every station of the kit hangs on one antenna, no other can be joined to its radio
    select s.kit_id, s.bands, unnest(string_split(coalesce(s.bands, ''), ' ')) as band, t.weak_lines,
        t.stations_low >= 1 and list_has_any(t.weak_lines, h.antenna_lines)
            and list_has_all([r.line], list_intersect(t.weak_lines, h.radio_lines)) as is_alone,
        list_has_all(t.doubtful_lines, list_intersect(t.weak_lines, h.antenna_lines)) as is_doubtful
    from supply as s join item as r on r.item_id = s.radio_item_id join holding as h on h.kit_id = s.kit_id
    left join station as t on t.kit_id = s.kit_id
    where s.is_main
), held as (
    select m.kit_id, m.bands, m.band, a.quantity, a.kind <> 'whip' as is_apart,
        case when a.bands = m.bands then true when m.band <> '' then list_contains(string_split(a.bands, ' '), m.band) end
            and case when m.is_alone and not list_contains(m.weak_lines, a.line) then if(m.is_doubtful, null, false) else true end as is_joined,
        case when is_joined is distinct from true then is_joined when a.condition = 'ok' then true end as is_fit
    from main as m left join item as a on a.kit_id = m.kit_id and a.role = 'antenna' and a.is_usable
), counted as (
    select kit_id, band, any_value(bands) as bands,
        coalesce(sum(quantity) filter (is_fit), 0) as antennas,
        coalesce(sum(quantity) filter (is_fit and is_apart), 0) as antennas_apart,
        coalesce(sum(quantity) filter (is_fit is not false), 0) as most,
        coalesce(sum(quantity) filter (is_fit is not false and is_apart), 0) as most_apart,
        case when antennas >= $least and antennas_apart >= 1 then true when most < $least or most_apart < 1 then false end as ok
    from held group by kit_id, band
)
select
    kit_id                                          as subject,
    c.bands, c.antennas, c.antennas_apart,
    list_concat(h.radio_lines, h.antenna_lines)     as lines,
    c.ok
from counted as c
join holding as h using (kit_id)
qualify row_number() over (partition by kit_id order by c.ok is true desc, c.ok nulls first, c.antennas desc, c.band) = 1
