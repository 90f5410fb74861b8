/*
title      = "Valuable and not labelled"
subject    = "item"
severity   = "advice"
why        = "At a post three black cases look alike; a thing without a name goes home with someone else."
not_met    = "{subject}: worth about {worth_usd:.0f} USD and carries no label."
not_known  = "{subject}: whether it is labelled is not written down."
fix        = "Label it with the call sign or a member number, never with a home address (label tape is about 5 to 15 USD), and write yes in “labelled”."
source     = "Canadian emergency group equipment section: label everything worth more than 25 USD, and every bag"
applies_to = "things in the kit worth more than {worth_usd:.0f} USD; one without a price of its own counts at the middle of its kind's price range"

[param.worth_usd]
value  = 25
unit   = "USD"
why    = "below this the label costs more trouble than the thing"
source = "Canadian emergency group equipment section"
*/
select
    i.item_id                   as subject,
    coalesce(i.cost_usd, (k.price_low_usd + k.price_high_usd) / 2) as worth_usd,
    i.is_labelled               as ok
from item as i
left join kind as k on cast(k.kind as kind_word) = i.kind
where worth_usd > $worth_usd and i.condition <> 'removed'
