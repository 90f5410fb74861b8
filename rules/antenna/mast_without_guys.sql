/*
title    = "Mast without guys"
subject  = "kit"
severity = "limits"
why      = "A gust lays a mast without guys across people, tents or a road."
not_met  = "{subject}: its mast has neither a guy kit nor, for a thin fibreglass pole, a base to strap it to."
not_known = "{subject}: whether the guy kit or base of its mast can be used is not written down."
fix      = "Add a guy kit (about 30 to 80 USD) and guy before you mount the antenna; a thin fibreglass pole may stand strapped to a weighted base or tripod (about 40 to 150 USD). Keep people out of the fall zone; ask someone qualified."
source   = "a county group's field antenna page; national field-day safety checklist"
applies_to = "kits with a mast; among the public a mast that is not marked blocks (mast_unmarked_among_the_public)"

[remedy]
kind = "guy_kit"
*/
select
    kit_id                                                      as subject,
    sum(quantity) filter (kind in ('mast_fibreglass', 'mast_metal')) as masts,
    count(*) filter (kind = 'mast_base')                        as mast_bases,
    list(line order by line)                                    as lines,
    any_works(case when kind = 'guy_kit' then condition end)
        or any_works(case when kind = 'mast_base' then condition end) and not bool_or(kind = 'mast_metal') as ok
from item
where is_usable and kind in ('mast_fibreglass', 'mast_metal', 'guy_kit', 'mast_base')
group by kit_id
having bool_or(kind in ('mast_fibreglass', 'mast_metal'))
