/*
title     = "Licence does not cover the band"
subject   = "post_kit"
severity  = "blocks"
why       = "A post on HF needs somebody there who may use it, for every hour that it is open."
not_met   = "{subject}: {member}'s licence class ({licence_class}) does not cover {bands} (modes: {modes}), and nobody who covers it is there the whole time."
not_known = "{subject}: the licence class of {member} is not written down."
told_by   = "coordinator"
mended_by = "coordinator"
fix       = "Swap with somebody whose class covers it, or pair them with a control operator for the whole shift (costs nothing)."
source    = "47 CFR 97.301, 97.305 and 97.307(f); Ofcom amateur licence terms; ISED RBR-4"
lines_of  = "members"
*/
select
    pk.post_kit_id              as subject,
    coalesce(m.licence_class, 'not told') as licence_class,
    coalesce(p.bands, '2m')     as bands, p.modes,
    [m.line]                    as lines,
    w.has_licence               as ok
from post_kit as pk
join watch as w using (post_kit_id)
join post as p using (post_id)
join member as m on m.member_id = pk.member_id
