/*
title    = "Past its planning life"
subject  = "item"
severity = "advice"
why      = "Old things fail more often; a planned purchase is cheaper than a rushed one."
not_met  = "{subject}: {age_years:.1f} years old; its sort is planned for {life_years:.0f}. Another costs about {replace_usd:.0f} USD."
fix      = "Try it well before the season and put about {replace_usd:.0f} USD in the plan for next year."
source   = "planning lives are estimates; a state emergency bulletin asks for an end year for every item"
applies_to = "things that work and tell when they were bought; batteries and packs are judged by their capacity instead, papers and food by each event"

[remedy]
kind = "item_kind"
*/
select
    item_id                 as subject,
    date_diff('day', acquired, $today) / 365.25 as age_years, life_years, replace_usd,
    kind as item_kind,
    age_years <= life_years as ok
from replacement
where is_usable and acquired is not null and life_years is not null and role not in ('source', 'pack', 'personal', 'paper')
