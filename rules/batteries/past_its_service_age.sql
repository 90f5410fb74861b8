/*
title      = "Battery past its service age"
subject    = "item"
severity   = "limits"
why        = "An old battery reads full and sags at the first long transmission."
not_met    = "{subject}: {age_years:.1f} years old; its chemistry serves about {life_years:.0f} years."
not_known  = "{subject}: when it was bought is not written down."
fix        = "Replace it before the season, or measure its capacity each year and plan on that (packs about 20 to 80 USD, 12 V batteries about 20 to 450 USD). Write when it was bought in “acquired”. Bring the old one to a collection point."
source     = "two-way radio battery care notes (packs), backup-battery replacement guide (lead-acid 3 to 5 years); for volunteers' light use common practice"
applies_to = "batteries and packs whose chemistry has a known life"

[remedy]
kind = "item_kind"
*/
select
    b.item_id                   as subject,
    b.age_years, c.life_years as life_years,
    b.chemistry_is_assumed,
    b.kind as item_kind,
    b.age_years < c.life_years as ok
from battery as b
join chemistry as c on c.chemistry = b.chemistry
where c.life_years is not null
