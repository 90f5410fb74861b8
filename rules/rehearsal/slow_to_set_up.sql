/*
title      = "Set-up slow, or never timed"
subject    = "kit"
severity   = "advice"
why        = "Who has set it up by the watch knows when to leave home; the net does not wait."
not_met    = "{subject}: the last set-up outdoors that was timed took {setup_min:.0f} min; {most_min:.0f} min are asked for."
not_known  = "{subject}: it was set up outdoors, and how many minutes that took is not written down."
fix        = "Set it up in a yard or park from the closed bag, with a watch (costs nothing), and write the minutes to the first call in “setup_min” of rehearsals.csv; what takes long, pack on top or leave joined. Look up for power lines first."
source     = "exercise steps: a park or yard with timed set-up, common practice; report on a county fire: a station on the air within 40 min"
applies_to = "kits with a radio other than a handheld that were tried outdoors of late, but for a box of the club's that nobody is sent with; the others have never_tried_outdoors"

[param.most_min]
value  = 40
unit   = "min"
why    = "in which three people with a box were on the air at a shelter"
source = "report on a county fire"
*/
select
    p.kit_id                    as subject,
    p.setup_min,
    p.setup_min <= $most_min    as ok
from practice as p
join holding as h using (kit_id)
where h.has_mobile and p.ladder >= 3 and p.kit_id not in (from pool_kit)
