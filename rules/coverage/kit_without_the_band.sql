/*
title     = "Kit without the post's band"
subject   = "post_kit"
severity  = "blocks"
why       = "A radio that does not reach the post's band cannot hear the net."
not_met   = "{subject}: the post works on {bands}; no radio of {member}'s {kit}{or_several} reaches all of it with what feeds it and with an antenna for it, nor does a kit beside it all the while."
not_known = "{subject}: whether {member}'s {kit} reaches the post's bands is not known: {band_open}."
fix       = "Swap kits with a post where this one fits, or bring an antenna for it (a roll-up J-pole is about 25 to 60 USD, a dipole 40 to 140), a radio that reaches it (a handheld is about 30 to 350 USD, a VHF and UHF mobile 180 to 600) or the club's. Where the post names no band, have the coordinator write it in “bands”."
source    = "common practice: kit and person can do the post's band and mode; marathon radio requirements"
applies_to = "kits at posts; who is there without one is left out"
*/
select
    pk.post_kit_id                              as subject,
    coalesce(p.bands, 'any band')               as bands,
    case when p.bands like '% %' then ', nor several at once,' else '' end as or_several,
    case when p.bands is null then 'nobody wrote down on which bands the post works'
         else 'it works on ' || p.bands || ', and the bands of a radio or an antenna of the kit or of one beside it, or a plug on the way to it, are not written down, or nobody knows whether a thing works' || case when p.bands like '% %' then ', or several radios of one would have to share a battery or an antenna' else '' end
    end                                         as band_open,
    h.radio_lines                               as lines,
    case when p.bands is not null or not is_reached then is_reached end as ok
from post_kit as pk
join post as p using (post_id)
join holding as h on h.kit_id = pk.kit_id
left join beside as b on b.post_kit_id = pk.post_kit_id,
    lateral (select pk.has_band or (b.post_kit_id is not null and b.has_band_beside) as is_reached)
