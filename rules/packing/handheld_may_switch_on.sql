/*
title      = "Handheld that may switch on in the bag"
subject    = "kit"
severity   = "advice"
why        = "A knob that turns against other things in the bag empties the pack before the post, or holds the channel with its key down."
not_met    = "{subject}: handhelds: {handhelds}; packed so that one may switch on by itself."
not_known  = "{subject}: handhelds: {handhelds}; whether they are packed so that none can switch on by itself is not written down."
fix        = "Take the pack off the radio, its contacts covered, or fix a guard over knob and key (nothing to about 10 USD), and write yes in “locked_off” of kits.csv."
source     = "county club event checklist: handhelds packed so that they cannot switch on"
applies_to = "kits with a handheld"
*/
select
    kit_id          as subject,
    h.handhelds, h.radio_lines as lines,
    k.is_locked_off as ok
from kit as k
join holding as h using (kit_id)
where h.handhelds > 0
