/*
title      = "Close to two of the member's limits"
subject    = "post_kit"
severity   = "blocks"
why        = "One thing near a limit is talked over; two at once are how people get hurt."
not_met    = "{subject}: {near_limits} things come close to or pass what {member} has set: {near}."
not_known  = "{subject}: {member} has set no limit for what the post asks: {unset_limits}."
told_by    = "coordinator"
fix        = "Swap, or change the post so that one of them is eased: a ride, a shorter shift, a partner. The coordinator asks for the limits that are not written, never for reasons."
source     = "aviation personal-minimums practice: one marginal factor is discussed, two are a no"
lines_of   = "members"
applies_to = "posts that ask for something hard: a long walk, cold, heat, dark hours or being alone"

[param.least]
value  = 2
unit   = "1"
why    = "two marginal factors are a no"
source = "aviation personal-minimums practice"

[param.near_share]
value  = 0.8
unit   = "1"
why    = "from four fifths of a limit it counts as near"
source = "common practice"

[param.near_c]
value  = 3
unit   = "C"
why    = "within 3 C of a limit it counts as near"
source = "common practice"

[param.least_dark_h]
value  = 0.25
unit   = "h"
why    = "a quarter of an hour at either end is the drive home"
source = "common practice"

[param.short_walk_km]
value  = 1
unit   = "km"
why    = "shorter walks are not asked about"
source = "common practice"

[param.cold_c]
value  = 0
unit   = "C"
why    = "frost"
source = "common practice"

[param.hot_c]
value  = 27
unit   = "C"
why    = "about 80 F, from where shade and water are planned"
source = "common practice"
*/
with asked as (
    select pk.post_kit_id, m.line, a.factor, a.is_asked, a.near
    from post_kit as pk
    join watch as w using (post_kit_id)
    join post as p using (post_id)
    join event as e on e.event_id = p.event_id
    join member as m on m.member_id = pk.member_id,
    lateral (
        select unnest(['walk', 'cold', 'heat', 'dark', 'alone']) as factor,
            unnest([p.walk_km > $short_walk_km, e.temp_min_c < $cold_c, e.temp_max_c > $hot_c, w.dark_h > $least_dark_h, w.is_alone]) as is_asked,
            unnest([p.walk_km > $near_share * m.walk_limit_km, e.temp_min_c < m.cold_limit_c + $near_c,
                e.temp_max_c > m.heat_limit_c - $near_c, not m.night_ok, not m.solo_ok]) as near
    ) as a
)
select
    post_kit_id                 as subject,
    count(*) filter (near)      as near_limits,
    string_agg(factor, ', ' order by factor) filter (near) as near,
    string_agg(factor, ', ' order by factor) filter (near is null) as unset_limits,
    [any_value(line)]           as lines,
    case when count(*) filter (near) >= $least then false
         when count(*) filter (near) + count(*) filter (near is null) < $least then true end as ok
from asked
where is_asked
group by post_kit_id
