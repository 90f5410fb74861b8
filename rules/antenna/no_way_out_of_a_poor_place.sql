/*
title    = "No way out of a poor place"
subject  = "post_kit"
severity = "blocks"
why      = "Where coverage is poor a call for help does not arrive, whoever sends it."
not_met  = "{subject}: coverage is poor; for some of the time no kit is at a relay post on a band of this one, or {member}'s {kit} has no antenna for a band of it that can stand apart from the radio, and no HF radio on a whole station."
not_known = "{subject}: how good coverage is, whether a relay has a band of this post, or whether {member}'s {kit} has an antenna for one that can stand apart from the radio, or makes a whole HF station, is not written down, and from a poor place no relay is there for certain."
told_by  = "coordinator"
mended_by = "coordinator"
fix      = "Set up a relay (about 400 to 3000 USD, or the club's), move the post, or send an HF kit with someone licensed for it. Try it from the place before the event, and have the coordinator write how good coverage is (rf_grade)."
source   = "common practice: relay or HF where coverage is poor; event instructions ask operators to try their place beforehand"
applies_to = "kits with a radio, at posts with poor coverage or where nobody said how good it is; a relay post counts while nobody is sent anywhere at the event"
*/
with far as (
    select kit_id, nullif(bool_or(is_certain), false) as is_far from far_radio group by kit_id
), relay as (
    select p.event_id, p.post_id, p.bands, a.starts, a.ends
    from post as p join assignment as a using (post_id) where p.post_type = 'relay' and a.kit_id is not null
    union all
    select event_id, post_id, bands, opens, closes
    from post where post_type = 'relay' and event_id not in (select event_id from assignment where kit_id is not null)
), asked as (
    select pk.post_kit_id, pk.kit_id, pk.post_id, p.event_id, p.bands, p.rf_grade, pk.starts, pk.ends
    from post_kit as pk join post as p using (post_id) where coalesce(p.rf_grade, 'poor') = 'poor' and pk.kit_id is not null
), stint as (   -- the hours of a kit that is sent, be it on several days
    select q.post_kit_id, q.event_id, q.post_id, q.bands, coalesce(a.starts, q.starts) as starts, coalesce(a.ends, q.ends) as ends
    from asked as q left join assignment as a on a.post_id = q.post_id and a.kit_id = q.kit_id
), reached as (
    select distinct s.post_kit_id, r.starts, r.ends, list_has_any(string_split(s.bands, ' '), string_split(r.bands, ' ')) as is_heard
    from stint as s join relay as r on r.event_id = s.event_id and r.post_id <> s.post_id and r.starts < s.ends and r.ends > s.starts
), moment as (   -- a relay can only be missing from the beginning, or where one goes
    select post_kit_id, starts as instant from stint
    union select post_kit_id, r.ends from reached as r join stint as s using (post_kit_id) where r.ends > s.starts and r.ends < s.ends
), relayed as (
    select post_kit_id, bool_and(is_sure) as is_sure, bool_and(may_be) as may_be
    from (
        select m.post_kit_id, m.instant, coalesce(bool_or(r.is_heard), false) as is_sure,
            bool_or(r.post_kit_id is not null and r.is_heard is distinct from false) as may_be
        from moment as m left join reached as r on r.post_kit_id = m.post_kit_id and r.starts <= m.instant and r.ends > m.instant
        group by m.post_kit_id, m.instant
    ) group by post_kit_id
)
select
    a.post_kit_id                                           as subject,
    list_concat(h.radio_lines, h.antenna_lines)             as lines,
    case when f.is_far or o.has_apart and r.is_sure then true
         when a.rf_grade = 'poor' and f.kit_id is null and not (coalesce(o.has_apart, true) and r.may_be) then false end as ok
from asked as a
join holding as h on h.kit_id = a.kit_id
join want as w using (post_id)
join want_reach as o on o.want_id = w.want_id and o.kit_id = a.kit_id
left join relayed as r using (post_kit_id)
left join far as f on f.kit_id = a.kit_id
where h.radios > 0
