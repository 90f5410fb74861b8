/*
title     = "Not ready before the action starts"
subject   = "event"
severity  = "limits"
why       = "Cars are briefed, shadows find whom they follow and the net is called while nothing moves yet; afterwards there is no time."
not_met   = "{subject}: the action starts at {action_starts}; wanted earlier: {late_posts}."
not_known = "{subject}: when the action itself starts is not written down; net control, SAG and shadow posts are wanted before it."
told_by   = "coordinator"
fix       = "Write the time of the gun or of the first float in action_starts (costs nothing); open net control {net_open_min:.0f} min before it with people there {net_there_min:.0f} min before it, and have SAG and shadow posts ready {cars_min:.0f} min before it."
source    = "bike-tour guides: SAG and shadows ready an hour before the start, net control an hour to an hour and a half; a marathon guide: net opened half an hour before"
applies_to = "events with net control, SAG or shadow posts where somebody is sent; how long before a post opens is nobody_there_before_it_opens"

[param.net_there_min]
value  = 60
unit   = "min"
why    = "stations are set up and tried before the net opens"
source = "bike-tour guides: 1 to 1.5 h"

[param.net_open_min]
value  = 30
unit   = "min"
why    = "every post is called once before the start"
source = "a marathon guide"

[param.cars_min]
value  = 60
unit   = "min"
why    = "cars are briefed and placed before roads close, and shadows find whom they follow"
source = "bike-tour guides"
*/
with first as (
    select event_id, post, opens, post_type = 'net_control' as is_net, min(a.comes) as there, min(a.starts) as there_utc
    from post as p join assignment_utc as a using (post_id, event_id)
    where post_type in ('net_control', 'sag', 'shadow')
    group by event_id, post_id, post, opens, post_type
), wanted as (
    select f.*, e.action_starts, clock_min, clocks_change, clock_after_min,
        utc_of(opens, clock_min, clocks_change, clock_after_min) as opens_utc,
        utc_of(action_starts, clock_min, clocks_change, clock_after_min) - to_minutes(cast($net_open_min as integer)) as open_by,
        utc_of(action_starts, clock_min, clocks_change,
            clock_after_min) - to_minutes(cast(case when is_net then $net_there_min
                else $cars_min end as integer)) as there_by
    from first as f join event as e using (event_id)
), judged as (
    select event_id, post, action_starts, there_utc > there_by as is_late, is_net and opens_utc > open_by as opens_late,
        strftime(there, '%a %H:%M') || ', wanted ' || strftime(local_of(there_by, clock_min, clocks_change,
            clock_after_min), '%a %H:%M') as there_words,
        strftime(opens, '%a %H:%M') || ', wanted ' || strftime(local_of(open_by, clock_min, clocks_change,
            clock_after_min), '%a %H:%M') as opens_words
    from wanted
)
select
    event_id                                as subject,
    strftime(action_starts, '%Y-%m-%d %H:%M') as action_starts,
    string_agg(concat_ws(', ', case when is_late then post || ' (there ' || there_words || ')' end,
        case when opens_late then post || ' (opens ' || opens_words || ')' end),
        ', ' order by post) filter (is_late or opens_late) as late_posts,
    not bool_or(is_late or opens_late)      as ok
from judged
group by event_id, judged.action_starts
