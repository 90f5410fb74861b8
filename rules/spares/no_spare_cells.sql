/*
title      = "No spare cells"
subject    = "kit"
severity   = "advice"
why        = "A headlamp or a dry-cell shell is dead weight once its cells are flat."
not_met    = "{subject}: it has things that run on dry cells, and no spare cells for them that work (sizes without a spare set: {short_sizes})."
not_known  = "{subject}: the size of the cells that its things run on, or of those carried spare, is not written down."
fix        = "Pack one full set for each size in use (about 5 to 20 USD), and write the size in cell_size, of the cells and of what they go into. Keep cells away from metal, in their box."
source     = "common practice: county club event checklist; one full set of each cell size"
applies_to = "kits with a headlamp, a dry-cell shell, or another thing with its cell_size"

[remedy]
kind = "spare_cells"
*/
select
    kit_id      as subject,
    cell_users,
    short_sizes,
    lines,
    has_each    as ok
from cell_held
