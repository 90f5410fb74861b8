/*
title    = "No way out of a poor place"
subject  = "post_kit"
severity = "blocks"
why      = "Where coverage is poor a call for help does not arrive, whoever sends it."
not_met  = "{subject}: coverage is poor; nobody brings a kit to a relay post, or {member}'s {kit} has no antenna apart from the radio to reach one, and no HF radio on a whole station."
not_known = "{subject}: how good coverage is, or whether {member}'s {kit} makes a whole HF station, is not written down, and from a poor place no relay is there to be reached."
told_by  = "coordinator"
fix      = "Set up a relay (about 400 to 3000 USD, or the club's), move the post, or send an HF kit with someone licensed for it. Try it from the place before the event, and have the coordinator write how good coverage is (rf_grade)."
source   = "common practice: relay or HF where coverage is poor; event instructions ask operators to try their place beforehand"
applies_to = "kits with a radio, at posts with poor coverage or where nobody said how good it is; a relay post counts while nobody is sent anywhere at the event"
*/
with far as (
    select kit_id, nullif(bool_or(is_certain), false) as is_far from far_radio group by kit_id
), sent as (
    select event_id, post_id from assignment where kit_id is not null
), relayed as (
    select event_id from post where post_type = 'relay' and (post_id in (select post_id from sent) or event_id not in (select event_id from sent))
)
select
    pk.post_kit_id                                          as subject,
    h.antennas_apart,
    list_concat(h.radio_lines, h.antenna_lines)             as lines,
    case when h.antennas_apart > 0 and p.event_id in (select event_id from relayed) then true
         when f.is_far then true
         when p.rf_grade = 'poor' and f.kit_id is null then false end as ok
from post_kit as pk
join post as p using (post_id)
join holding as h on h.kit_id = pk.kit_id
left join far as f on f.kit_id = pk.kit_id
where coalesce(p.rf_grade, 'poor') = 'poor' and h.radios > 0
