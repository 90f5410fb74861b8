/*
title    = "Shadow without an ear-piece"
subject  = "post_kit"
severity = "limits"
why      = "A shadow listens in a crowd beside somebody who is talking, with both hands full."
not_met  = "{subject}: {member}'s {kit} has no ear-piece, headphones or headset that works."
not_known = "{subject}: whether the ear-piece, headphones or headset of {member}'s {kit} works is not written down."
fix      = "Bring an ear-piece (about 8 to 35 USD) or a headset (about 40 to 220 USD); a speaker microphone takes a hand, and all around hear it."
source   = "shadow training slides; marathon radio requirements"
applies_to = "kits with a radio, at shadow posts"

[remedy]
kind = "earpiece"
*/
select
    pk.post_kit_id      as subject,
    p.post_type, h.radios,
    h.radio_lines       as lines,
    i.kit_id is not null and i.is_sure as ok
from post_kit as pk
join post as p using (post_id)
join holding as h on h.kit_id = pk.kit_id
left join (
    select kit_id, any_works(condition) as is_sure from item
    where is_usable and kind in ('earpiece', 'headset', 'headphones') group by kit_id
) as i on i.kit_id = pk.kit_id
where p.post_type = 'shadow' and h.radios > 0
