/*
title    = "Hangs on one small part"
subject  = "kit"
severity = "advice"
why      = "A lead, adapter or fuse of a few dollars silences the whole kit when it breaks or stays at home."
not_met  = "{subject}: it is silent without each of these: {small_parts}."
not_known = "{subject}: small parts without a second that fits for certain: {small_parts}; plugs or values of others are not written down, or nobody knows whether they work."
fix      = "Double the cheapest of them first (leads, pigtails and adapters are about 5 to 30 USD each)."
source   = "a national report on the 2017 hurricane season: coax joints, connectors and short coax were missing most"
applies_to = "kits that make a complete station at best; the others have no_complete_station"
*/
with weak as (
    select kit_id, doubtful_lines, unnest(list_distinct(weak_lines)) as line from station
), small as (
    select kit_id, i.item, line, list_contains(w.doubtful_lines, line) as is_doubtful
    from weak as w join item as i using (kit_id, line)
    where i.role not in ('radio', 'antenna', 'source', 'pack')
), told as (
    -- parts that have no second for certain; where there is none, those that may have one
    select kit_id, bool_and(is_doubtful) as is_doubtful, string_agg(item, ', ' order by line) as small_parts,
        list(line order by line) as lines
    from (from small qualify is_doubtful = bool_and(is_doubtful) over (partition by kit_id))
    group by kit_id
)
select
    s.kit_id                        as subject,
    t.small_parts,
    coalesce(t.lines, s.weak_lines) as lines,
    -- without a certain station the weak parts are those of the best case, otherwise those of the worst
    case when t.kit_id is null and s.stations_low >= 1 then true when not t.is_doubtful then false end as ok
from station as s
left join told as t using (kit_id)
where s.stations_high >= 1
