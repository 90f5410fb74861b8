/*
title     = "Fuse that blows on transmit"
subject   = "item"
severity  = "blocks"
why       = "A fuse far below the current of its radio opens in the first long over, and the post is silent."
not_met   = "{subject}: {fuse_a:g} A; {peak_a:.0f} A pass it while its kit's radio transmits, and at {times} times its rating it opens within minutes."
not_known = "{subject}: {peak_a:.0f} A pass while its kit's radio transmits, at which each fuse of the kit that tells its rating opens within minutes; the rating of another, or where each of them sits, is not written down."
fix       = "Fit the next fuse above what the load asks for (in amperes: {least_a:.1f}) that the wire allows (about 3 to 15 USD), or heavier wire with it; write yes in “spare” where it lies in the bag for something else. Disconnect the battery first; check local rules."
source    = "SAE J1284: a blade fuse carries 110 % of its rating for 100 h and opens at 135 % within 10 min, read in a primer on accessory outlets"
applies_to = "fuses in use whose rating is told, beside a radio that is not a handheld, as in fuse_smaller_than_the_load, which speaks of those too small that do not blow; only where a fuse of the kit or in its leads tells its rating and none that does holds; not known while another does not, or is one of several of which nobody tells where they sit, for that one may be before the radio"

[param.times]
value  = 1.35
unit   = "1"
why    = "at so many times its rating a blade fuse must open within ten minutes"
source = "SAE J1284"
least  = 1

[remedy]
kind = "fuse"
*/
select
    item_id             as subject,
    fuse_a, peak_a, least_a,
    known_by            as how,
    case when kit_times <= $times then true when are_told then false end as ok
from fuse_load
where kit_times is not null
