/*
title    = "Replacements cannot be foreseen"
subject  = "club"
severity = "advice"
why      = "A budget line or grant wants the year in which things come to their end."
not_met  = "{subject}: {dated_share:.0%} of {things} things that wear out or expire have a known end; {least_share:.0%} is the aim. Known for the next three years: {due_usd:.0f} USD."
fix      = "Ask for the year at inspection day and write it in acquired (costs nothing); a good guess is better than nothing."
source   = "a state emergency bulletin: every item has an end year, the next three years are totalled, once a year"

[param.least_share]
value  = 0.9
unit   = "1"
why    = "the rest does not change the sum"
source = "common practice"
*/
select
    0                                                       as subject,
    count(*)                                                as things,
    count(due) / greatest(count(*), 1)                 as dated_share,
    -- what is replaced falls due again after the life of its kind
    coalesce(sum(case when due <= cast($today as date) + interval 3 year then replace_usd * (1 + coalesce(floor(
        date_diff('day', greatest(due, cast($today as date)), cast(cast($today as date) + interval 3 year as date)) / life_days), 0)) end), 0) as due_usd,
    count(*) = 0 or dated_share >= $least_share             as ok
from replacement
