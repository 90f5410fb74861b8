/*
title      = "Close to one of the member's limits"
subject    = "post_kit"
severity   = "limits"
why        = "One thing near a limit is talked over before anybody goes; the member may say no without a reason."
not_met    = "{subject}: {near} comes close to what {member} has set; talk it over."
not_known  = "{subject}: {member} has set no limit for what the post asks: {unset_limits}."
told_by    = "coordinator"
fix        = "Talk it over before anybody goes, ease it, or swap. The coordinator asks for the limit that is not written, never for reasons."
source     = "aviation personal-minimums practice: one marginal factor is discussed, two are a no"
lines_of   = "members"
applies_to = "posts that ask for something hard, but not past a limit, which a rule of its own blocks; two things near a limit, or several without one, are close_to_two_limits"

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
    select pk.post_kit_id, m.line, a.factor, a.is_asked, a.near, a.is_past
    from post_kit as pk
    join watch as w using (post_kit_id)
    join post as p using (post_id)
    join event as e on e.event_id = p.event_id
    join member as m on m.member_id = pk.member_id,
    lateral (
        select unnest(['walk', 'cold', 'heat', 'dark', 'alone']) as factor,
            unnest([p.walk_km > $short_walk_km, e.temp_min_c < $cold_c, e.temp_max_c > $hot_c, w.dark_h > $least_dark_h, w.is_alone]) as is_asked,
            unnest([p.walk_km > $near_share * m.walk_limit_km, e.temp_min_c < m.cold_limit_c + $near_c,
                e.temp_max_c > m.heat_limit_c - $near_c, not m.night_ok, not m.solo_ok]) as near,
            unnest([p.walk_km > m.walk_limit_km, e.temp_min_c < m.cold_limit_c, e.temp_max_c > m.heat_limit_c, not m.night_ok, not m.solo_ok]) as is_past
    ) as a
)
select
    post_kit_id                 as subject,
    string_agg(factor, ', ' order by factor) filter (near) as near,
    string_agg(factor, ', ' order by factor) filter (near is null) as unset_limits,
    [any_value(line)]           as lines,
    case when bool_or(near) then false when count(*) = count(near) then true end as ok
from asked
where is_asked
group by post_kit_id
having not coalesce(bool_or(is_past), false)
    and (count(*) filter (near) = 1 or count(*) filter (near) = 0 and count(*) filter (near is null) < 2)
