/*
title     = "Handheld on dry cells alone"
subject   = "kit"
severity  = "limits"
why       = "Dry cells sag under a handheld's full power: a shell keeps it on the air at low power only."
not_met   = "{subject}: handhelds: {handhelds}; packs beside the shell for dry cells: {packs}. On dry cells a handheld has low power only."
not_known = "{subject}: handhelds: {handhelds}; packs beside the shell for dry cells: {packs}, of some of which nobody is sure whether they work."
fix       = "Bring a pack for each handheld (about 20 to 80 USD), and set it to low power while it runs on the shell."
source    = "county club event checklist and a deployment kit: a shell with spare cells stands in for the spare pack, never for the first; alkaline cells sag at transmit current (0.7 A against 1.6 A)"
applies_to = "kits with a handheld and a shell for dry cells"

[remedy]
kind = "handheld_pack"
*/
with held as (
    select kit_id, coalesce(sum(quantity) filter (kind <> 'dry_cell_shell'), 0) as packs,
        coalesce(sum(quantity) filter (kind <> 'dry_cell_shell' and condition = 'ok'), 0) as sure, list(line order by line) as lines
    from item where is_usable and role = 'pack' group by kit_id having bool_or(kind = 'dry_cell_shell')
)
select
    h.kit_id                                as subject,
    h.handhelds, p.packs,
    list_concat(h.radio_lines, p.lines)     as lines,
    case when p.sure >= h.handhelds then true when p.packs < h.handhelds then false end as ok
from held as p
join holding as h using (kit_id)
where h.handhelds > 0
