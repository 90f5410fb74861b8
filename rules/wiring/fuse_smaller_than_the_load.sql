/*
title     = "Fuse smaller than the load"
subject   = "item"
severity  = "limits"
why       = "A fuse worked to its rating blows in the middle of an over; before a booster more passes it than the radio draws, before a step down less."
not_met   = "{subject}: {fuse_a:g} A; {peak_a:.0f} A pass it while its kit's radio transmits, which want a fuse of {least_a:.1f} A at least."
not_known = "{subject}: its rating, or the radio's transmit current, is not written down."
fix       = "Fit the next fuse above what the load asks for (in amperes: {least_a:.1f}) that the wire allows (about 3 to 15 USD), or heavier wire with it. Disconnect the battery first; check local rules."
source    = "NFPA 70 210.20(A); club fuse article: load x 1.25 <= fuse <= ampacity, 15 A for a 50 W mobile, 25 to 30 A for 100 W HF"
applies_to = "fuses in use beside a radio that is not a handheld, each with the hungriest radio to which its plugs lead; beside a converter with what passes the battery; one too small beside one large enough is taken to sit before something else; those that blow at once have fuse_blows_on_transmit, which blocks"

[remedy]
kind = "fuse"

[shared]
times = "fuse_blows_on_transmit"
*/
select
    item_id             as subject,
    fuse_a, peak_a, least_a,
    known_by            as how,
    is_enough           as ok
from fuse_load
where coalesce(kit_times <= $times, true)
