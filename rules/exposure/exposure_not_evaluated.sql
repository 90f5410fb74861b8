/*
title      = "Exposure not evaluated"
subject    = "kit"
severity   = "advice"
why        = "Whoever transmits must be able to show that nobody near the antenna gets too much of it."
not_met    = "{subject}: its exposure was evaluated on {rf_evaluated}; it holds a radio or an antenna that was bought on {gear_acquired}, and gives up to {strongest_w:.0f} W."
not_known  = "{subject}: no evaluation of its exposure is written down; its strongest radio gives up to {strongest_w:.0f} W."
fix        = "Work out the distances for its radios and antennas (the page of events and the event packet give those at posts), keep the sheet with the kit (costs nothing), and write the day in rf_evaluated."
source     = "85 FR 18131: evaluation or exemption, in force for amateurs since May 2023; one team's go-kit page: a sheet for any radio above 5 W"
applies_to = "kits with a radio of more than a handheld's usual power; below it none is asked"

[param.most_w]
value  = 5
unit   = "W"
why    = "a published note finds a handheld of 5 W acceptable without more"
source = "one team's go-kit page; a published emergency-use exposure note"
*/
select
    i.kit_id                                as subject,
    max(kit.rf_evaluated)                   as rf_evaluated,
    max(i.rf_watts) filter (i.role <> 'antenna') as strongest_w,
    case when bool_or(i.rf_watts_is_assumed) filter (i.role <> 'antenna') then 'assumed' else 'told' end as how,
    max(i.acquired)                         as gear_acquired,
    list(i.line order by i.line) filter (i.role <> 'antenna' or i.acquired > kit.rf_evaluated) as lines,
    case when max(i.acquired) > max(kit.rf_evaluated) then false when max(kit.rf_evaluated) <= $today then true end as ok
from item as i
join kit using (kit_id)
where i.is_usable and (i.role in ('radio', 'other_radio') and i.rf_watts > $most_w or i.role = 'antenna' and i.kind <> 'whip')
group by i.kit_id
having bool_or(i.role <> 'antenna')
