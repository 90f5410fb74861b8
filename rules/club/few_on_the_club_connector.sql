/*
title     = "Too few things on the club's power plug"
subject   = "club"
severity  = "advice"
why       = "With one power connector everybody's battery runs everybody's radio."
not_met   = "{subject}: {share_high:.0%} of the 12 V radios, batteries and supplies end in {club_family} plugs at most; {least_share:.0%} is the aim."
not_known = "{subject}: between {share_low:.0%} and {share_high:.0%} of the 12 V radios, batteries and supplies end in {club_family} plugs; the others do not tell."
fix       = "Hold a connector night: contacts and a crimper (about 40 to 110 USD), 3 to 8 USD for each lead. Disconnect batteries and check polarity before use."
source    = "state auxiliary-communications DC connector standard"

[param.club_family]
value  = "genderless"
unit   = "connector family"
why    = "the connector that the club has agreed on"
source = "state auxiliary-communications DC connector standard"

[param.least_share]
value  = 0.9
unit   = "1"
why    = "the rest is covered by adapters"
source = "common practice"

[remedy]
kind = "connector_kit"
share = "power"
*/
with counted as (
    select count(*) filter (list_contains(families, $club_family)) as fitted, count(*) filter (families is null) as untold,
        count(*) as things
    from shared_plug where sort = 'power'
)
select
    0                                                   as subject,
    fitted / greatest(things, 1)                        as share_low,
    (fitted + untold) / greatest(things, 1)             as share_high,
    case when things = 0 or share_low >= $least_share then true when share_high < $least_share then false end as ok
from counted
