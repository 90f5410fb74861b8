/*
title     = "Metres of wire without a fuse"
subject   = "item"
severity  = "blocks"
why       = "Whatever pinches the wire before the fuse makes a fire that only the battery's end ends."
not_met   = "{subject}: {fuse_at_m:.2f} m of wire between battery and fuse; in a sheath {sheathed_m:.2f} m is the most."
fix       = "Move it up to the battery's positive terminal (a holder is about 5 to 12 USD) before the kit goes out. Disconnect the battery first; check local rules."
source    = "boat-wiring standard ABYC E-11: 7 in (18 cm) from the battery, 40 in (1.02 m) where the wire is sheathed"
applies_to = "fuses, fuse holders and leads with a fuse, in use, whose distance is told; fuse_far_from_the_battery asks for that of the others and limits up to there, as nobody tells what is sheathed"

[param.sheathed_m]
value  = 1.02
unit   = "m"
why    = "40 inches of wire in a sheath"
source = "ABYC E-11, read in summaries"
*/
select
    item_id                     as subject,
    fuse_at_m,
    fuse_at_m <= $sheathed_m    as ok
from item
where is_usable and not is_spare and role in ('fuse', 'lead') and fuse_at_m is not null
