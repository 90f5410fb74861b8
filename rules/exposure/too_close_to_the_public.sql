/*
title     = "Antenna too close to the public"
subject   = "post_kit"
severity  = "blocks"
why       = "Bystanders must stay below the limit for radio-frequency exposure, whatever the day brings."
not_met   = "{subject}: people can come within {public_m:.1f} m; with {rf_watts:.0f} W on {band}{others_there} {member}'s {kit} asks for {public_safe_m:.1f} m."
not_known = "{subject}: people can come within {public_m:.1f} m; the power of {member}'s radio, or whether these are the public, is not written down, or so near the antenna the distance cannot be worked out."
fix       = "Raise the antenna, tape the place off (about 8 to 60 USD), or turn the power down until the distance fits. Check the rules of your country and ask a licensed person."
source    = "47 CFR 1.1310 Table 1; FCC OET Bulletin 65 eq. 3 to 7 with ground reflection; what is on the air at once adds up"
applies_to = "kits that reach the post's bands, at posts that tell how near people come, but of events without public; the others have little_room_from_the_antenna"
caution   = "The limit for the public, averaged over its worst 30 minutes, in the main beam. It is a guide, not an evaluation on file."
*/
select
    x.post_kit_id                               as subject,
    p.public_m, x.public_safe_m, x.rf_watts, x.band, x.gain_dbi, x.loss_db, x.how,
    case x.others when 0 then '' when 1 then ', with another transmitter there,'
        else ', with ' || cast(x.others as varchar) || ' other transmitters there,' end as others_there,
    x.lines,
    case when p.public_m < x.public_safe_m then case when e.is_public then false end when p.public_m >= x.near_m then p.public_m >= x.public_safe_m end as ok
from exposure as x
join post_kit as pk using (post_kit_id)
join post as p using (post_id)
join event as e using (event_id)
where coalesce(e.is_public, true) and p.public_m is not null
