/*
title     = "Not charged in the week before"
subject   = "post_kit"
severity  = "limits"
why       = "What was full a month ago is not full on the morning; an uncharged pack has failed its own trainer's check-in."
not_met   = "{subject}: batteries and packs of {member}'s {kit} that were not charged in the {within_days:.0f} days before, or were used since: {late} of {batteries}."
not_known = "{subject}: batteries and packs of {member}'s {kit} without a date of their last charge, or in a kit that was used since, nobody tells for how long: {undated} of {batteries}."
fix       = "Charge them in the week before (costs nothing; a charger is about 25 to 160 USD), each with the charger for its chemistry, where someone can see it and nothing can burn, never below 0 °C for lithium; then write the day in “charged”. Write what was on battery, and for how long, as a rehearsal. Check local rules."
source    = "battery-maker storage pages; a group's own trainer failed check-in with an uncharged pack; common practice"
applies_to = "assigned kits with a battery or pack that works and can be charged, at posts that are still to come; met until the week before begins; a use is one of batteries that are no spares, on a day after their charge"

[param.within_days]
value  = 7
unit   = "d"
why    = "late enough to be full, early enough to find a charger that failed"
source = "common practice"
*/
with coming as (
    select post_kit_id, kit_id, cast(starts as date) as day
    from post_kit where is_assigned and starts >= $today
), used as (
    select kit_id, max(date) filter (hours_on_battery > 0 or battery_left_share < 1) as drawn,
        max(date) filter (hours_on_battery is null and battery_left_share is null) as taken
    from rehearsal where date <= $today group by kit_id
), judged as (
    select c.post_kit_id, i.line, i.quantity, i.charged, c.day - $today <= $within_days as is_due,
        c.day - i.charged > $within_days or not i.is_spare and coalesce(u.drawn > i.charged, false) as is_late,
        i.charged is null or i.charged > $today or not i.is_spare
            and coalesce(greatest(u.taken, kit.last_used) > i.charged, false) as is_undated
    from coming as c
    join battery as b on b.kit_id = c.kit_id and b.chemistry <> 'alkaline'
    join item as i on i.item_id = b.item_id
    left join kit on kit.kit_id = c.kit_id
    left join used as u on u.kit_id = c.kit_id
)
select
    post_kit_id                                     as subject,
    sum(quantity)                                   as batteries,
    coalesce(sum(quantity) filter (is_due and charged <= $today and is_late), 0) as late,
    coalesce(sum(quantity) filter (is_due and is_undated and not coalesce(charged <= $today and is_late, false)), 0) as undated,
    coalesce(list(line order by line) filter (is_due
        and (coalesce(charged <= $today and is_late, false) or is_undated)), list(line order by line)) as lines,
    case when late > 0 then false when undated = 0 then true end as ok
from judged
group by post_kit_id
