/*
title     = "Too few things on the club's antenna plug"
subject   = "club"
severity  = "advice"
why       = "With one antenna plug everybody's antenna fits everybody's radio."
not_met   = "{subject}: {share_high:.0%} of the radios and antennas have {club_family} plugs at most; {least_share:.0%} is the aim."
not_known = "{subject}: between {share_low:.0%} and {share_high:.0%} of the radios and antennas have {club_family} plugs; the others do not tell."
fix       = "Name one plug and hold adapters for the rest (an adapter kit is about 20 to 60 USD)."
source    = "common practice: name one standard and hold adapters for the rest"

[param.club_family]
value  = "uhf"
unit   = "connector family"
why    = "what most mobiles and antennas carry"
source = "common practice"

[param.least_share]
value  = 0.9
unit   = "1"
why    = "the rest is covered by adapters"
source = "common practice"

[remedy]
kind = "rf_adapter_kit"
*/
with counted as (
    select count(*) filter (c.family = $club_family) as fitted, count(*) filter (c.family is null) as untold, count(*) as things
    from item as i left join connector as c on c.plug = i.rf_plug
    where i.is_usable and (i.role = 'radio' and i.kind not in ('handheld', 'simple_frs', 'scanner') or i.role = 'antenna' and i.kind <> 'whip')
)
select
    0                                                   as subject,
    fitted / greatest(things, 1)                        as share_low,
    (fitted + untold) / greatest(things, 1)             as share_high,
    case when things = 0 or share_low >= $least_share then true when share_high < $least_share then false end as ok
from counted
