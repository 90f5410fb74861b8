/*
title     = "Kit without the post's mode"
subject   = "post_kit"
severity  = "blocks"
why       = "A voice radio on the right frequency reads no packet, and FM does not hear a single sideband."
not_met   = "{subject}: the post works in {modes}; no radio of {member}'s {kit} does all of that on {bands} with what feeds it and with an antenna, and no kit that does is there with it all the time."
not_known = "{subject}: whether {member}'s {kit} does the post's modes is not known: {mode_open}."
fix       = "Swap kits with a post where this one fits, or bring a radio that does it (500 to 800 USD for packet, 700 to 1,600 for HF), a modem (about 50 to 350 USD), or the club's. Write in modes all that a radio, or its modem, does; where the post names none, have the coordinator write them."
source    = "common practice: kit and person can do the post's band and mode"
applies_to = "posts that name modes or are for messages by data; kits without a radio for the band have kit_without_the_band"

[remedy]
kind = "modem"
*/
select
    pk.post_kit_id                              as subject,
    p.modes,
    case when p.modes is null then 'nobody wrote down in which modes the post works'
         else 'it works in ' || p.modes || ', and the modes of a radio of the kit or of one beside it, or a plug or value on its way to power and antenna, are not written down, or nobody knows whether a thing works'
    end                                         as mode_open,
    coalesce(p.bands, 'any band')               as bands,
    h.radio_lines                               as lines,
    case when p.modes is not null then pk.has_mode or (b.post_kit_id is not null and b.has_mode_beside) end as ok
from post_kit as pk
join post as p using (post_id)
join holding as h on h.kit_id = pk.kit_id
left join beside as b on b.post_kit_id = pk.post_kit_id
where (p.modes is not null or p.duty = 'digital') and (pk.has_band or pk.has_band is null and pk.has_mode is not null)
