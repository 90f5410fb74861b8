/*
title      = "Charger for another chemistry"
subject    = "kit"
severity   = "blocks"
why        = "A charger for the wrong chemistry spoils the battery, and can set it on fire."
not_met    = "{subject}: the charger is for {charger_chemistry}, and nothing that it could be put on is; {uncharged_chemistry} has no charger of its own."
not_known  = "{subject}: the chemistry of a battery, or of what charges packs, is not written down, so whether the charger suits it is not known."
fix        = "Take the charger out and bring the one for the battery (about 25 to 160 USD). Charge where someone can see it and nothing can burn; check local rules."
source     = "battery care columns of clubs: the charger must match chemistry and size; fire risk"
applies_to = "kits with a battery and a mains charger for batteries, or with packs and one for packs, each looked at by itself; a power station has its own; one for loose cells charges those of other things too, so it suits a shell and spoils nothing"

[remedy]
kind = "charger_lifepo4"
*/
with sort as (   -- what charges packs cannot be put on a battery; a battery's chemistry is told by its kind, a pack's is not
    select kit_id, role, line, chemistry, charged_as(chemistry) as family, kind = 'charger_cells' as is_for_cells,
        role = 'pack' or kind in ('charger_handheld', 'charger_cells') as is_pack,
        is_pack and not is_for_cells and chemistry_is_assumed as is_open
    from item
    where is_usable and chemistry is distinct from 'alkaline' and (role in ('source', 'pack')
        and kind not in ('power_station', 'supply_30a', 'generator') or role = 'charger' and chemistry is not null)
), side as (
    select kit_id, is_pack, role = 'charger' as is_charger, list(family) filter (family is not null) as families,
        bool_or(is_open) as is_open
    from sort group by all
), matched as (   -- where there are both; NULL: a chemistry is not told
    select s.*, case when list_contains(o.families, s.family) or not s.is_open and not o.is_open
        then list_contains(o.families, s.family) end as is_matched
    from sort as s join side as o on o.kit_id = s.kit_id and o.is_pack = s.is_pack and o.is_charger <> (s.role = 'charger')
    where is_matched or not s.is_for_cells
), suited as (   -- of a kit its batteries, and its packs
    select kit_id, list(line) as lines,
        list(chemistry) filter (role = 'charger' and not is_matched) as chargers,
        list(chemistry) filter (role <> 'charger' and not is_matched) as uncharged,
        list(family) filter (role = 'source' and not is_matched) as batteries,
        case when not coalesce(bool_or(role = 'charger' and is_matched is distinct from true), false) then true
             when chargers is not null and uncharged is not null then false
             when not coalesce(bool_or(role <> 'charger' and is_matched is null), false) then true end as ok
    from matched group by kit_id, is_pack
)
select
    kit_id                          as subject,
    array_to_string(list_sort(list_distinct(flatten(list(chargers) filter (not ok)))), ' and ') as charger_chemistry,
    array_to_string(list_sort(list_distinct(flatten(list(uncharged) filter (not ok)))), ' and ') as uncharged_chemistry,
    -- a charger of the list serves lithium iron or lead-acid
    case when list_contains(flatten(list(batteries) filter (not ok)), 'lead') then 'charger_agm'
         when count(batteries) filter (not ok) > 0 then 'charger_lifepo4' else 'charger_handheld' end as mending_kind,
    list_sort(flatten(list(lines))) as lines,
    case when bool_or(not ok) then false when bool_and(ok is not null) then true end as ok
from suited
group by kit_id
