/*
title    = "No spare cells"
subject  = "kit"
severity = "advice"
why      = "A headlamp or a dry-cell shell is dead weight once its cells are flat."
not_met  = "{subject}: it has things that run on dry cells, and no spare cells that work."
fix      = "Pack one full set for each size in use (about 5 to 15 USD). Keep cells away from metal, in their box."
source   = "common practice: county club event checklist"
applies_to = "kits with a headlamp or a dry-cell shell"

[remedy]
kind = "spare_cells"
*/
select
    kit_id                                          as subject,
    sum(quantity) filter (kind <> 'spare_cells')    as cell_users,
    list(line order by line)                        as lines,
    bool_or(kind = 'spare_cells')                as ok
from item
where is_usable and kind in ('headlamp', 'dry_cell_shell', 'spare_cells')
group by kit_id
having bool_or(kind <> 'spare_cells')
