/*
title      = "Radio not known by heart"
subject    = "post_kit"
severity   = "limits"
why        = "A knob that was touched by mistake takes whoever does not know the radio off the air, with the manual at home."
not_met    = "{subject}: {member} does not yet set the radio without its manual, so somebody beside them must."
not_known  = "{subject}: whether {member} sets the radio without its manual is not written down."
told_by    = "coordinator"
mended_by  = "coordinator"
fix        = "Go through it at a meeting (costs nothing): frequency, band, offset, tone on and off and its value, locks, power, and changing the battery; have the coordinator write yes in “radio_by_heart” of members.csv."
source     = "a county field guide: ten basic functions of the radio without the manual"
lines_of   = "members"
applies_to = "people sent to a post, without those who are alone and of whom it is told: of them alone_without_the_radio_by_heart speaks"
*/
select
    pk.post_kit_id              as subject,
    [m.line]                    as lines,
    m.has_radio_by_heart        as ok
from post_kit as pk
join watch as w using (post_kit_id)
join member as m on m.member_id = pk.member_id
where not (w.is_alone and m.has_radio_by_heart is not null)
