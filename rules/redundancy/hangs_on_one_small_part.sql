/*
title    = "Hangs on one small part"
subject  = "kit"
severity = "advice"
why      = "A lead, adapter or fuse of a few dollars silences the whole kit when it breaks or stays at home."
not_met  = "{subject}: it is silent without each of these: {small_parts}."
not_known = "{subject}: small parts without a second that fits for certain: {small_parts}; plugs or values of others are not written down."
fix      = "Double the cheapest of them first (leads, pigtails and adapters are about 5 to 30 USD each)."
source   = "a national report on the 2017 hurricane season: coax joints, connectors and short coax were missing most"
applies_to = "kits that make a complete station at best; the others have no_complete_station"
*/
with small as (
    select kit_id, string_agg(i.item, ', ' order by i.line) as small_parts, list(i.line order by i.line) as lines
    from station as s join item as i using (kit_id)
    where list_contains(s.weak_lines, i.line) and i.role in ('lead', 'fuse', 'converter', 'coax', 'rf_adapter')
    group by kit_id
)
select
    s.kit_id                        as subject,
    m.small_parts,
    coalesce(m.lines, s.weak_lines) as lines,
    -- without a certain station the weak parts are those of the best case, otherwise those of the worst
    case when m.kit_id is null and s.stations_low >= 1 then true
         when m.kit_id is not null and (s.stations_low = 0 or s.stations_high = 1) then false end as ok
from station as s
left join small as m using (kit_id)
where s.stations_high >= 1
