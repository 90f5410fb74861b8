/*
title     = "Antenna weak for the place"
subject   = "post_kit"
severity  = "limits"
why       = "A short antenna on the radio works only where the repeater is easily reached."
not_met   = "{subject}: coverage is {rf_grade} and wants an antenna for a band of the post that can stand apart from the radio and, unless on foot, a mobile radio on a whole station there. {member}'s {kit} does not hold both."
not_known = "{subject}: coverage is {rf_grade}; where it is not good an antenna for a band of the post that can stand apart from the radio and, unless on foot, a mobile radio on a whole station there are wanted, and {member}'s {kit} does not hold both for certain."
told_by   = "coordinator"
fix       = "Bring a magnet mount or a J-pole for its band with what joins it to the radio, or a mast (about 25 to 220 USD), or try the post with this kit beforehand and tell the coordinator how it came through (rf_grade). Mind power lines above."
source    = "marathon radio requirements: gain antenna at most course posts; club event checklist: no 5 W handheld for a 50 W job"
applies_to = "kits with a radio"

[remedy]
kind = "jpole"
*/
select
    pk.post_kit_id                          as subject,
    p.rf_grade,
    list_concat(h.radio_lines, h.antenna_lines) as lines,
    p.rf_grade = 'good' or r.has_apart and (r.has_mobile or p.is_on_foot) as ok
from post_kit as pk
join post as p using (post_id)
join holding as h on h.kit_id = pk.kit_id
join want as w using (post_id)
join want_reach as r on r.want_id = w.want_id and r.kit_id = pk.kit_id
where h.radios > 0
