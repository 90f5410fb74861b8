/*
title    = "No second antenna"
subject  = "kit"
severity = "limits"
why      = "A broken antenna looks whole; only another one shows the fault and carries on."
not_met  = "{subject}: antennas that work on a band of its main radio ({bands}): {antennas}, of which {antennas_apart} can stand away from the radio; {least} are wanted, one of them away from it."
not_known = "{subject}: antennas on a band of its main radio ({bands}): {antennas} for certain, of which {antennas_apart} can stand away from the radio; bands are not written down, or nobody is sure whether the others work."
fix      = "Add one for the main radio's band: a roll-up J-pole or a magnet mount (about 25 to 90 USD), a wire for HF (about 40 to 180 USD)."
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
with held as (
    select s.kit_id, s.bands, a.quantity, a.kind <> 'whip' as is_apart,
        case when a.bands = s.bands then true
            else list_has_any(string_split(a.bands, ' '), string_split(s.bands, ' ')) end as is_shared,
        case when not is_shared then false when is_shared and a.condition = 'ok' then true end as is_fit
    from supply as s
    left join item as a on a.kit_id = s.kit_id and a.role = 'antenna' and a.is_usable
    where s.is_main
), counted as (
    select kit_id, any_value(bands) as bands,
        coalesce(sum(quantity) filter (is_fit), 0) as antennas,
        coalesce(sum(quantity) filter (is_fit and is_apart), 0) as antennas_apart,
        coalesce(sum(quantity) filter (is_fit is not false), 0) as most,
        coalesce(sum(quantity) filter (is_fit is not false and is_apart), 0) as most_apart
    from held group by kit_id
)
select
    c.kit_id                                        as subject,
    c.bands, c.antennas, c.antennas_apart,
    list_concat(h.radio_lines, h.antenna_lines)     as lines,
    case when c.antennas >= $least and c.antennas_apart >= 1 then true
         when c.most < $least or c.most_apart < 1 then false end as ok
from counted as c
join holding as h using (kit_id)
