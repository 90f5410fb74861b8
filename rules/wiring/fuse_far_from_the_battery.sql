/*
title     = "Fuse far from the battery"
subject   = "item"
severity  = "limits"
why       = "The wire between battery and fuse is protected by nothing."
not_met   = "{subject}: it sits {fuse_at_m:.2f} m from the battery; at most {most_m:.2f} m is asked."
not_known = "{subject}: how far from the battery it sits is not written down."
fix       = "Move it to within {most_m:.2f} m of the battery's positive terminal (a holder is about 5 to 12 USD). Disconnect the battery first; check local rules."
source    = "boat-wiring standard ABYC E-11: 7 in (18 cm) from the battery"
applies_to = "fuse holders in use, the fuse that is the only one of its kit or tells its plugs, and fuses and leads with a fuse that tell their distance (no_fuse_at_the_battery asks where loose ones sit); limits only, as a sheath allows {sheathed_m:.2f} m and nobody tells of it; of those beyond that metres_of_wire_without_a_fuse speaks, which blocks"

[param.most_m]
value  = 0.18
unit   = "m"
why    = "7 inches of wire that no fuse protects"
source = "ABYC E-11, read in summaries"

[shared]
sheathed_m = "metres_of_wire_without_a_fuse"
*/
select
    item_id                 as subject,
    fuse_at_m,
    fuse_at_m <= $most_m    as ok
from item
where is_usable and not is_spare and role in ('fuse', 'lead')
    and (kind = 'fuse_holder' or item_id in (select item_id from fitted_fuse) or fuse_at_m is not null)
    and (fuse_at_m is null or fuse_at_m <= $sheathed_m)
