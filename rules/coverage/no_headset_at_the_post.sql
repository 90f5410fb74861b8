/*
title      = "Nothing for the ear at a loud post"
subject    = "post"
severity   = "limits"
why        = "At net control, beside a generator or a finish line, a call from a loudspeaker is half heard, and everybody else hears it too."
not_met    = "{subject}: for some of the time no kit there holds a headset, headphones or an ear-piece that works."
not_known  = "{subject}: for some of the time no headset, headphones or ear-piece there works for certain, and whether one does is not written down."
fix        = "Bring an ear-piece (about 8 to 35 USD), headphones (about 15 to 120 USD) or a headset (about 40 to 220 USD) that fits a radio there."
source     = "emergency-communications course, equipment unit, and net-control training slides: a headset at net control; marathon radio requirements: an ear-piece at medical and at start and finish"
applies_to = "net control, medical, start and finish, with somebody assigned; a shadow has shadow_without_an_earpiece"

[remedy]
kind = "earpiece"
*/
select
    p.post_id                   as subject,
    h.pieces                    as headsets,
    case when h.is_sure then true when h.pieces = 0 then false end as ok
from at_hand as h
join post as p using (post_id)
where h.kind = 'headset' and p.post_type in ('net_control', 'medical', 'start_finish')
