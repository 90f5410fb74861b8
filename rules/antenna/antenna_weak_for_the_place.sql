/*
title     = "Antenna weak for the place"
subject   = "post_kit"
severity  = "limits"
why       = "A short antenna on the radio works only where the repeater is easily reached."
not_met   = "{subject}: coverage is {rf_grade} and wants an antenna apart from the radio and, unless on foot, a mobile radio. {member}'s {kit} does not hold both."
not_known = "{subject}: coverage is {rf_grade}; where it is not good an antenna apart from the radio and, unless on foot, a mobile radio are wanted, and {member}'s {kit} does not hold both that work for certain."
told_by   = "coordinator"
fix       = "Bring a magnet mount, a J-pole or a mast (about 25 to 220 USD), or try the post with this kit beforehand and tell the coordinator how it came through (rf_grade). Mind power lines above."
source    = "marathon radio requirements: gain antenna at most course posts; club event checklist: no 5 W handheld for a 50 W job"
applies_to = "kits with a radio"

[remedy]
kind = "jpole"
*/
select
    pk.post_kit_id                          as subject,
    p.rf_grade, h.antennas, h.antennas_apart,
    h.has_mobile,
    list_concat(h.radio_lines, h.antenna_lines) as lines,
    p.rf_grade = 'good' or h.antennas_apart > 0 and w.has_apart and (h.has_mobile and w.has_mobile or p.is_on_foot) as ok
from post_kit as pk
join post as p using (post_id)
join holding as h on h.kit_id = pk.kit_id
join (
    select kit_id, any_works(case when role = 'radio' and kind <> 'handheld' then condition end) as has_mobile,
        any_works(case when role = 'antenna' and kind <> 'whip' then condition end) as has_apart
    from item where is_usable and role in ('radio', 'antenna') group by kit_id
) as w on w.kit_id = pk.kit_id
where h.radios > 0
