/*
title     = "Antenna too close to the public"
subject   = "post_kit"
severity  = "blocks"
why       = "Bystanders must stay below the limit for radio-frequency exposure, whatever the day brings."
not_met   = "{subject}: people can come within {public_m:.1f} m; with {rf_watts:.0f} W on {band}{others_there} {member}'s {kit} asks for {public_safe_m:.1f} m."
not_known = "{subject}: how near people come (public_m), in m: {public_m:.1f}; distance that {member}'s {kit} asks for, in m: {public_safe_m:.1f}. One of these, or whether the public comes, is not written down, or so near the antenna the distance cannot be worked out."
told_by   = "coordinator"
fix       = "Raise the antenna, tape the place off (about 8 to 60 USD), or turn the power down until the distance fits. Have the coordinator write the distance in public_m. Check the rules of your country and ask a licensed person."
source    = "47 CFR 1.1310 Table 1; FCC OET Bulletin 65 eq. 3 to 7 with ground reflection; what is on the air at once adds up"
applies_to = "kits that reach the post's bands, at posts of events, but for those without public; handhelds where nobody said how near people come have little_room_from_the_antenna"
caution   = "The limit for the public, averaged over its worst 30 minutes, in the main beam. It is a guide, not an evaluation on file."

[param.arm_m]
value  = 0.6
unit   = "m"
why    = "nearer than arm's length people come only if the operator lets them, so that where it is enough nobody is asked, nor for a margin (little_room_from_the_antenna)"
source = "common practice"
*/
select
    x.post_kit_id                               as subject,
    p.public_m, x.public_safe_m, x.rf_watts, x.band, x.gain_dbi, x.loss_db, x.how,
    coalesce(', with ' || x.others_of || ' on the air too,', '') as others_there,
    x.lines,
    case when p.public_m < x.public_safe_m then case when e.is_public then false end
        when p.public_m >= x.near_m then p.public_m >= x.public_safe_m end as ok
from exposure as x
join post_kit as pk using (post_kit_id)
join post as p using (post_id)
join event as e using (event_id)
where coalesce(e.is_public, true) and (p.public_m is not null or coalesce(x.public_safe_m > $arm_m, true))
