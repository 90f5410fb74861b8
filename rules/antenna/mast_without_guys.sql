/*
title    = "Mast without guys"
subject  = "kit"
severity = "limits"
why      = "A gust lays a mast without guys across people, tents or a road."
not_met  = "{subject}: masts: {masts}, guy kits: {guy_kits}, bases or canopies: {mast_bases}; each mast wants a guy kit, or, a thin fibreglass pole, a base or canopy to strap it to."
not_known = "{subject}: masts: {masts}, guy kits: {guy_kits}, bases or canopies: {mast_bases}; {guys_open}, is not written down."
fix      = "Add a guy kit (about 30 to 80 USD) and guy before you mount the antenna; a thin fibreglass pole may stand with a light antenna strapped to a weighted base, a tripod (about 40 to 150 USD) or the leg of a weighted canopy; mark a heavier antenna that stays in the bag a spare. Keep people out of the fall zone; ask someone qualified."
source   = "a county group's field antenna page; national field-day safety checklist"
applies_to = "kits with a mast; among the public a mast that is not marked blocks (mast_unmarked_among_the_public)"

[remedy]
kind = "guy_kit"
*/
with held as (
    select kit_id, list(line order by line) as lines,
        sum(quantity) filter (kind in ('mast_fibreglass', 'mast_metal')) as masts,
        coalesce(sum(quantity) filter (kind = 'mast_metal'), 0) as metal,
        coalesce(sum(quantity) filter (kind = 'guy_kit'), 0) as guy_kits,
        coalesce(sum(quantity) filter (kind in ('mast_base', 'shelter_set')), 0) as mast_bases,
        coalesce(sum(quantity) filter (kind = 'guy_kit' and condition = 'ok'), 0) as sure_guys,
        coalesce(sum(quantity) filter (kind in ('mast_base', 'shelter_set') and condition = 'ok'), 0) as sure_bases,
        coalesce(bool_or(kind in ('yagi', 'base_vertical') and not is_spare), false) as is_heavy
    from item
    where is_usable and kind in ('mast_fibreglass', 'mast_metal', 'guy_kit', 'mast_base', 'shelter_set', 'yagi', 'base_vertical')
    group by kit_id
)
select
    kit_id as subject, masts, guy_kits, mast_bases, lines,
    if(sure_guys >= metal and sure_guys + sure_bases >= masts, 'whether a pole without guys goes up with no more than a light antenna, as the kit holds a yagi or a base vertical',
        'whether enough of these work') as guys_open,
    case when sure_guys >= masts or not is_heavy and sure_guys >= metal and sure_guys + sure_bases >= masts then true
         when guy_kits < metal or guy_kits + mast_bases < masts then false end as ok
from held
where masts > 0
