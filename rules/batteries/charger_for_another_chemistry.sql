/*
title      = "Charger for another chemistry"
subject    = "kit"
severity   = "blocks"
why        = "A charger for the wrong chemistry spoils the battery, and can set it on fire."
not_met    = "{subject}: the charger is for {charger_chemistry}, which nothing in the kit is; {uncharged_chemistry} has no charger of its own."
not_known  = "{subject}: the chemistry of a battery is not written down, so whether the charger suits it is not known."
fix        = "Take the charger out and bring the one for the battery (about 30 to 110 USD). Charge where someone can see it and nothing can burn; check local rules."
source     = "battery care columns of clubs: the charger must match chemistry and size; fire risk"
applies_to = "kits with a battery and a mains charger; a power station has its own"

[remedy]
kind = "charger_lifepo4"
*/
with sort as (
    select kit_id, role, line, chemistry, charged_as(chemistry) as family
    from item
    where is_usable and (role in ('source', 'pack') and kind not in ('power_station', 'supply_30a', 'generator')
        -- what charges handhelds and loose cells cannot be put on a battery
        or role = 'charger' and chemistry is not null and kind not in ('charger_handheld', 'charger_cells'))
            and chemistry is distinct from 'alkaline'
), side as (
    select kit_id, role = 'charger' as is_charger, list(family) filter (family is not null) as families from sort group by all
), matched as (   -- in kits that have both; NULL: a chemistry is not told
    select s.*, list_contains(o.families, s.family) as is_matched
    from sort as s join side as o on o.kit_id = s.kit_id and o.is_charger <> (s.role = 'charger')
)
select
    kit_id                      as subject,
    array_to_string(list_sort(list_distinct(list(chemistry) filter (role = 'charger' and not is_matched))),
        ' and ') as charger_chemistry,
    array_to_string(list_sort(list_distinct(list(chemistry) filter (role = 'source' and not is_matched))),
        ' and ') as uncharged_chemistry,
    -- a charger of the list serves lithium iron or lead-acid
    if(list_contains(list(family) filter (role = 'source' and not is_matched), 'lead'), 'charger_agm',
        'charger_lifepo4') as mending_kind,
    list(line order by line)    as lines,
    case when not coalesce(bool_or(role = 'charger' and is_matched is distinct from true), false) then true
         when coalesce(bool_or(role = 'source' and is_matched = false), false)
             and coalesce(bool_or(role = 'charger' and is_matched = false), false) then false
         when not coalesce(bool_or(role <> 'charger' and is_matched is null), false) then true end as ok
from matched
group by kit_id
