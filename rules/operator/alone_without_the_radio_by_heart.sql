/*
title      = "Alone with a radio not known by heart"
subject    = "post_kit"
severity   = "blocks"
why        = "A knob that was touched by mistake takes whoever does not know the radio off the air, and nobody is there who does."
not_met    = "{subject}: {member} would be alone there, and does not yet set the radio without its manual."
told_by    = "coordinator"
mended_by  = "coordinator"
fix        = "Send somebody along who knows that radio, or go through it first (costs nothing): frequency, band, offset, tone on and off and its value, locks, power, and changing the battery; then have the coordinator write yes in “radio_by_heart” of members.csv."
source     = "a county field guide: ten basic functions of the radio without the manual; common practice: nobody alone without them"
lines_of   = "members"
applies_to = "members who would be alone and of whom it is told; of the others radio_not_by_heart speaks"
*/
select
    pk.post_kit_id              as subject,
    [m.line]                    as lines,
    m.has_radio_by_heart        as ok
from post_kit as pk
join watch as w using (post_kit_id)
join member as m on m.member_id = pk.member_id
where w.is_alone and m.has_radio_by_heart is not null
