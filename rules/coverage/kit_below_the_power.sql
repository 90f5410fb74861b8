/*
title     = "Kit below the post's power"
subject   = "post_kit"
severity  = "blocks"
why       = "A 5 W handheld does not do the work of a 50 W station."
not_met   = "{subject}: the post asks for {rf_watts_min:.0f} W; the strongest fitting radio of {member}'s {kit} that can be fed and heard has {rf_watts:g} W at {power_setting} power, and no kit beside it has more all the while."
not_known = "{subject}: the post asks for {rf_watts_min:.0f} W; the power of a radio of {member}'s {kit} or of a kit beside it, or a plug or value on its way to power and antenna, is not written down, or nobody knows whether a thing works."
fix       = "Swap kits, pair this one with a stronger station, give a strong radio of it the charged battery, lead or antenna that it lacks (leads are about 5 to 30 USD), have the coordinator write high in power_setting if it is low, or bring a 50 W set (about 180 to 600 USD) or the club's. Mind the distance to people when power goes up."
source    = "marathon radio requirements; club event checklist: no 5 W handheld for a 50 W job"
applies_to = "posts that ask for a power; kits without a fitting radio have kit_without_the_band or kit_without_the_mode"

[remedy]
kind = "mobile_vhf_uhf"
rf_watts = "rf_watts_min"
*/
with strongest as (   -- by post, kit and the most that a radio of it gives there: whether that is but what is usual
    select w.post_id, s.kit_id, s.rf_watts,
        bool_and(if(p.power_setting = 'low', i.is_low_assumed, i.rf_watts_is_assumed)) as is_assumed
    from want as w join post as p using (post_id) join suit as s using (want_id) join item as i using (item_id)
    where p.rf_watts_min is not null
    group by w.post_id, s.kit_id, s.rf_watts
)
select
    pk.post_kit_id                              as subject,
    p.rf_watts_min, p.power_setting, pk.rf_watts,
    case when s.is_assumed then 'assumed' when not s.is_assumed then 'told' end as how,
    h.radio_lines                               as lines,
    pk.has_watts or (b.post_kit_id is not null and b.has_watts_beside) as ok
from post_kit as pk
join post as p using (post_id)
join holding as h on h.kit_id = pk.kit_id
left join beside as b on b.post_kit_id = pk.post_kit_id
left join strongest as s on s.post_id = pk.post_id and s.kit_id = pk.kit_id and s.rf_watts = pk.rf_watts
where p.rf_watts_min is not null and pk.has_mode is distinct from false
