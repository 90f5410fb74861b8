/*
title      = "Kits not inspected a month before the first event"
subject    = "event"
severity   = "limits"
why        = "What inspection day finds must still be bought, mended and tried before the day."
not_met    = "{subject}: first event to come, days left: {days_left}; kits inspected within {within_days:.0f} days before it and at least {before_days:.0f} days ahead: {inspected_kits} of {sent_kits}. Inspected earlier or later than that: {late_kits}."
not_known  = "{subject}: first event to come, days left: {days_left}; kits inspected within {within_days:.0f} days before it and at least {before_days:.0f} days ahead: {inspected_kits} of {sent_kits}. Of the others no inspection is written down."
fix        = "Hold inspection day at least {before_days} days before the event, twenty minutes a kit with the club's meter and watt meter (costs nothing), and have the members write the date in “inspected”. With fewer days left, hold it at once: that counts as late, but shows what must be borrowed or left at home."
source     = "preseason radio tests at least a month ahead in a lifesaving service; inspection of member-owned stations in an auxiliary service"
applies_to = "the first event to come to which kits are sent"

[param.within_days]
value  = 365
unit   = "d"
why    = "one inspection day a season"
source = "common practice"

[param.before_days]
value  = 30
unit   = "d"
why    = "time to buy, mend and try"
source = "preseason radio tests of a lifesaving service"
*/
with sent as (
    select distinct e.event_id, cast(e.starts as date) as day, k.kit_id, k.inspected
    from event as e join assignment as a using (event_id) join kit as k using (kit_id)
    where e.starts >= $today
), judged as (
    select *, inspected <= $today and date_diff('day', inspected, day) between $before_days and $within_days as is_in_time
    from sent where day = (select min(day) from sent)
)
select
    event_id                                        as subject,
    any_value(date_diff('day', $today, day))        as days_left,
    count(*)                                        as sent_kits,
    count(*) filter (is_in_time)                    as inspected_kits,
    count(*) filter (not is_in_time)                as late_kits,
    case when late_kits > 0 then false when inspected_kits = sent_kits then true end as ok
from judged
group by event_id
