/*
title    = "Mast without guys"
subject  = "kit"
severity = "limits"
why      = "A gust lays a mast without guys across people, tents or a road."
not_met  = "{subject}: masts: {masts}, guy kits: {guy_kits}, bases: {mast_bases}; each mast wants a guy kit, or, a thin fibreglass pole, a base to strap it to."
not_known = "{subject}: masts: {masts}, guy kits: {guy_kits}, bases: {mast_bases}; whether enough of these work is not written down."
fix      = "Add a guy kit (about 30 to 80 USD) and guy before you mount the antenna; a thin fibreglass pole may stand strapped to a weighted base or tripod (about 40 to 150 USD). Keep people out of the fall zone; ask someone qualified."
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
        coalesce(sum(quantity) filter (kind = 'mast_base'), 0) as mast_bases,
        coalesce(sum(quantity) filter (kind = 'guy_kit' and condition = 'ok'), 0) as sure_guys,
        coalesce(sum(quantity) filter (kind = 'mast_base' and condition = 'ok'), 0) as sure_bases
    from item
    where is_usable and kind in ('mast_fibreglass', 'mast_metal', 'guy_kit', 'mast_base')
    group by kit_id
)
select
    kit_id as subject, masts, guy_kits, mast_bases, lines,
    case when sure_guys >= metal and sure_guys + sure_bases >= masts then true
         when guy_kits < metal or guy_kits + mast_bases < masts then false end as ok
from held
where masts > 0
