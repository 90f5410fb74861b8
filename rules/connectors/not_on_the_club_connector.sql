/*
title     = "Power plug is not the club's"
subject   = "item"
severity  = "limits"
why       = "With one power connector everybody's battery runs everybody's radio."
not_met   = "{subject}: its power plug is {dc_plug}, and no lead or adapter in the kit turns that into {club_family}."
not_known = "{subject}: its power plug is not written down."
fix       = "Fit a pigtail with the club's connector (contacts and crimper about 40 to 110 USD, 3 to 8 USD in parts for each), or write the plug down. Check polarity with a tester before connecting; disconnect the battery first."
source    = "state auxiliary-communications DC connector standard"
applies_to = "radios other than handhelds and 12 V sources, in use or spare"

[param.club_family]
value  = "genderless"
unit   = "connector family"
why    = "the connector that the club has agreed on"
source = "state auxiliary-communications DC connector standard"

[remedy]
kind = "connector_kit"
*/
with converted as (
    select kit_id, a.family as near_family, b.family as far_family
    from item join connector as a on a.plug = dc_plug join connector as b on b.plug = dc_plug_far
    where is_usable and role in ('lead', 'converter')
)
select
    i.item_id       as subject,
    i.dc_plug, i.dc_plug_is_assumed,
    case when c.family = $club_family then true
         when c.family is null then null
         else exists (from converted as v where v.kit_id = i.kit_id
              and ((v.near_family = c.family and v.far_family = $club_family)
                or (v.far_family = c.family and v.near_family = $club_family))) end as ok
from item as i
left join connector as c on c.plug = i.dc_plug
where i.is_usable and ((i.role = 'radio' and i.kind <> 'handheld') or (i.role = 'source' and i.kind not in ('generator')))
