/*
title      = "No light for the dark hours"
subject    = "post_kit"
severity   = "limits"
why        = "A log cannot be written, nor a plug found, with a phone between the teeth."
not_met    = "{subject}: {dark_h:.1f} h of darkness and no headlamp or lantern in {member}'s {kit}."
not_known  = "{subject}: no light in {member}'s {kit} is known to work, and whether one does, or, from the event's place and time zone, whether it gets dark, is not written down."
told_by    = "coordinator"
fix        = "Bring a headlamp with spare cells (about 15 to 60 USD)."
source     = "common practice: packing checklists; darkness from the end of civil twilight, sun position after NREL/TP-560-34302"
applies_to = "posts with dark hours, or whose dark hours are not known"

[param.least_dark_h]
value  = 0.25
unit   = "h"
why    = "shorter than a quarter of an hour is dusk"
source = "common practice"

[remedy]
kind = "headlamp"
*/
select
    pk.post_kit_id              as subject,
    w.kit_dark_h                as dark_h,
    any_value(kit.lines)        as lines,
    case when any_works(i.condition) then true when w.kit_dark_h is not null and count(i.item_id) = 0 then false end as ok
from post_kit as pk
join watch as w using (post_kit_id)
join kit on kit.kit_id = pk.kit_id
left join item as i on i.kit_id = pk.kit_id and i.is_usable and i.kind in ('headlamp', 'lantern')
    and is_in_date(i.expires, pk.ends)
where w.kit_dark_h > $least_dark_h or w.kit_dark_h is null
group by pk.post_kit_id, w.kit_dark_h
