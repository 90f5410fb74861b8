/*
title    = "Replacements cannot be foreseen"
subject  = "club"
severity = "advice"
why      = "A budget line or grant wants the year in which things come to their end."
not_met  = "{subject}: {dated_share:.0%} of {things} things that wear out or expire have a known end; {least_share:.0%} is the aim. Known for the next three years: about {due_low_usd:,.0f} to {due_high_usd:,.0f} USD."
fix      = "Ask for the year at inspection day and write it in “acquired” (costs nothing); a good guess is better than nothing."
source   = "a state emergency bulletin: every item has an end year, the next three years are totalled, once a year"

[param.least_share]
value  = 0.9
unit   = "1"
why    = "the rest does not change the sum"
source = "common practice"
*/
with turn as (   -- what is replaced falls due again after the life of its kind
    select due, replace_usd, low_usd, high_usd, cast($today as date) + interval 3 year as until,
        case when due <= until then 1 + coalesce(floor(
            date_diff('day', greatest(due, cast($today as date)), cast(until as date)) / life_days), 0) end as times
    from replacement
), added as (
    select count(*) as things, count(due) as dated, coalesce(sum(times * replace_usd), 0) as due_usd,
        coalesce(sum(times * low_usd), 0) as low_usd, coalesce(sum(times * high_usd), 0) as high_usd
    from turn
)
select
    0                                                       as subject,
    things, due_usd,
    dated / greatest(things, 1)                             as dated_share,
    -- to two figures, as the page of purchases says them
    round(low_usd, 1 - cast(floor(log10(greatest(low_usd, 1))) as integer))   as due_low_usd,
    round(high_usd, 1 - cast(floor(log10(greatest(high_usd, 1))) as integer)) as due_high_usd,
    things = 0 or dated_share >= $least_share               as ok
from added
