/*
title    = "Mast unmarked among the public"
subject  = "post"
severity = "blocks"
why      = "Guys and coax at ankle height trip people, and a pulled guy brings the mast down on them."
not_met  = "{subject}: a mast of {mast_m:.1f} m is planned among the public, and for some of the time no kit there holds flags, cones or tape."
not_known = "{subject}: a mast is planned or brought (height in m: {mast_m:.1f}), and for some of the time no kit there holds flags, cones or tape that are known to be in order; whether some are, whether it goes up (mast_m, 0 for not at all), or whether the public comes there (public), is not written down."
told_by  = "coordinator"
fix      = "Bring cones and flagging tape (about 8 to 60 USD); flag guys, stakes and coax, and keep visitors out of the fall zone."
source   = "national field-day safety checklist and related club safety notes"
applies_to = "posts that plan a mast, or tell nothing of one while a kit that is sent there holds one; not of events without public"

[remedy]
kind = "cones_tape"
*/
with marked as (
    select t.post_id, t.instant, any_works(i.condition) as is_marked
    from present as t left join item as i on i.kit_id = t.kit_id and i.is_usable and i.kind in ('cones_tape', 'warning_signs')
    group by t.post_id, t.instant
), always as (
    select post_id, case when bool_or(not is_marked) then false when count(is_marked) = count(*) then true end as is_marked
    from marked group by post_id
)
select
    p.post_id   as subject,
    p.mast_m,
    if(m.post_id is null, false, m.is_marked) or case when e.is_public and p.mast_m > 0 then false end as ok
from post as p
join event as e using (event_id)
left join always as m using (post_id)
where coalesce(e.is_public, true) and (p.mast_m > 0 or p.mast_m is null and exists (
    from assignment as a join holding as h using (kit_id) where a.post_id = p.post_id and h.has_mast))
