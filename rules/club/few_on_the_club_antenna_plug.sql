/*
title     = "Too few things on the club's antenna plug"
subject   = "club"
severity  = "advice"
why       = "With one antenna plug everybody's antenna fits everybody's radio."
not_met   = "{subject}: {share_high:.0%} of the radios and antennas take {club_family} plugs at most, with the adapters of their kits; {least_share:.0%} is the aim."
not_known = "{subject}: between {share_low:.0%} and {share_high:.0%} of the radios and antennas take {club_family} plugs, with the adapters of their kits; the others do not tell."
fix       = "Name one plug, and put an adapter to it into every kit that has another (an adapter kit is about 20 to 60 USD)."
source    = "common practice: name one standard and hold adapters for the rest"

[param.club_family]
value  = "uhf"
unit   = "connector family"
why    = "what most mobiles and antennas carry"
source = "common practice"

[param.least_share]
value  = 0.9
unit   = "1"
why    = "a few odd ones can be worked around"
source = "common practice"

[remedy]
kind = "rf_adapter_kit"
share = "antenna"
*/
with counted as (
    select count(*) filter (list_contains(families, $club_family)) as fitted, count(*) filter (families is null) as untold,
        count(*) as things
    from shared_plug where sort = 'antenna'
)
select
    0                                                   as subject,
    fitted / greatest(things, 1)                        as share_low,
    (fitted + untold) / greatest(things, 1)             as share_high,
    case when things = 0 or share_low >= $least_share then true when share_high < $least_share then false end as ok
from counted
