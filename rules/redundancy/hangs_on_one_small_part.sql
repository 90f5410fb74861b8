/*
title    = "Hangs on one small part"
subject  = "kit"
severity = "advice"
why      = "A lead, adapter, fuse or microphone of a few dollars silences the whole kit when it breaks or stays at home."
not_met  = "{subject}: it is silent without each of these: {small_parts}."
not_known = "{subject}: small parts without a second that fits for certain: {small_parts}; plugs or values of others are not written down, or nobody knows whether they work."
fix      = "Double the cheapest of them first (leads, pigtails and adapters are about 5 to 40 USD each, a microphone 25 to 90); a microphone or headset fits only its own radio family."
source   = "a national report on the 2017 hurricane season: coax joints, connectors and short coax were missing most"
applies_to = "kits that make a complete station at best; the others have no_complete_station"
*/
select
    s.kit_id                        as subject,
    coalesce(t.parts, if(s.stations_low >= 1, null, 'none that is known')) as small_parts,
    coalesce(t.lines, s.weak_lines) as lines,
    -- without a certain station the weak parts are those of the best case, otherwise those of the worst
    case when t.kit_id is null and s.stations_low >= 1 then true when not t.is_doubtful then false end as ok
from station as s
left join small_part as t using (kit_id)
where s.stations_high >= 1
