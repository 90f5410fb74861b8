/*
title      = "Battery nearing its service age"
subject    = "item"
severity   = "advice"
why        = "A replacement that is in the budget comes before the season, not after the failure."
not_met    = "{subject}: {age_years:.1f} years old; from {flag_years:.0f} years on, put its replacement in the budget."
fix        = "Plan its replacement (packs about 20 to 80 USD, 12 V batteries about 20 to 450 USD) and measure its capacity this year."
source     = "two-way radio battery care notes (packs), backup-battery replacement guide (lead-acid 3 to 5 years); for volunteers' light use common practice"
applies_to = "batteries and packs whose age is told and below their service age; the others have past_its_service_age"

[remedy]
kind = "item_kind"
*/
select
    b.item_id                   as subject,
    b.age_years, c.flag_years as flag_years,
    b.chemistry_is_assumed,
    b.kind as item_kind,
    b.age_years < c.flag_years as ok
from battery as b
join chemistry as c on c.chemistry = b.chemistry
where b.age_years < c.life_years
