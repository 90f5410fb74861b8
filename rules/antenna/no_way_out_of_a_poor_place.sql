/*
title    = "No way out of a poor place"
subject  = "post_kit"
severity = "blocks"
why      = "Where coverage is poor a call for help does not arrive, whoever sends it."
not_met  = "{subject}: coverage is poor; the event has no relay post, or {member}'s {kit} has no antenna apart from the radio to reach one, and no HF radio."
fix      = "Set up a relay (about 400 to 3000 USD, or the club's), move the post, or send an HF kit with someone licensed for it. Try it from the place before the event."
source   = "common practice: relay or HF where coverage is poor; event instructions ask operators to try their place beforehand"
applies_to = "kits with a radio, at posts with poor coverage"
*/
with far as (
    select distinct i.kit_id from item as i
    where i.role = 'radio' and i.is_usable
        and exists (from band as b where b.low_mhz < 30 and list_contains(string_split(i.bands, ' '), b.band))
)
select
    pk.post_kit_id                                          as subject,
    h.antennas_apart,
    list_concat(h.radio_lines, h.antenna_lines)             as lines,
    f.kit_id is not null or (h.antennas_apart > 0 and exists (
        from post as r where r.event_id = p.event_id and r.post_type = 'relay')) as ok
from post_kit as pk
join post as p using (post_id)
join holding as h on h.kit_id = pk.kit_id
left join far as f on f.kit_id = pk.kit_id
where p.rf_grade = 'poor' and h.radios > 0
