/*
title    = "Shadow post without a handheld"
subject  = "post_kit"
severity = "limits"
why      = "A shadow goes wherever the one they follow goes; a mobile stays with its battery and its antenna."
not_met  = "{subject}: {member}'s {kit} has no handheld that is fed and heard on a band of the post."
not_known = "{subject}: whether {member}'s {kit} has a handheld that is fed and heard on a band of the post is not written down."
fix      = "Bring a handheld (about 30 to 350 USD) with its packs (about 20 to 80 USD each), or borrow the club's."
source   = "shadow training slides: one handheld, its packs and a comfortable load"
applies_to = "kits with a radio that is not a handheld, at shadow posts; one with handhelds alone has no_complete_station and kit_without_the_band"

[remedy]
kind = "handheld"
*/
select
    pk.post_kit_id      as subject,
    h.radios, h.handhelds,
    h.radio_lines       as lines,
    if(r.kit_id is null, false, r.has_handheld) as ok
from post as p
join post_kit as pk on pk.post_id = p.post_id
join holding as h on h.kit_id = pk.kit_id
join want as w on w.post_id = p.post_id
left join (
    select s.want_id, s.kit_id, any_works(case when s.is_tuned then 'ok' when s.is_tuned is null then 'unknown' end) as has_handheld
    from suit as s join item as i using (item_id) where i.kind = 'handheld' group by s.want_id, s.kit_id
) as r on r.want_id = w.want_id and r.kit_id = pk.kit_id
where p.post_type = 'shadow' and h.has_mobile
