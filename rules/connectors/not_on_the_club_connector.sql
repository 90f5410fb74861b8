/*
title     = "Power plug is not the club's"
subject   = "item"
severity  = "limits"
why       = "With one power connector everybody's battery runs everybody's radio."
not_met   = "{subject}: its power plug is {dc_plug}, and no lead or adapter in the kit turns that into {club_family}."
not_known = "{subject}: its power plug is not written down."
fix       = "Fit a pigtail with the club's connector (contacts and crimper about 40 to 110 USD, 3 to 8 USD in parts for each), or write the plug down. Check polarity with a tester before connecting; disconnect the battery first."
source    = "state auxiliary-communications DC connector standard"
applies_to = "radios other than handhelds and 12 V sources, in use or spare; and computers, antenna tuners and solar panels that run on, or give, 12 V and tell such a plug"

[remedy]
kind = "connector_kit"

[shared]
club_family = "few_on_the_club_connector"
common_v = "off_the_common_voltage"
*/
with converted as (   -- families that a kit brings over to that of the club
    select kit_id, case when b.family = $club_family then a.family else b.family end as family, any_works(condition) as is_sure
    from item join connector as a on a.plug = dc_plug join connector as b on b.plug = dc_plug_far
    where is_usable and role in ('lead', 'converter') and a.family <> b.family and $club_family in (a.family, b.family)
    group by all
)
select
    i.item_id       as subject,
    i.dc_plug, i.dc_plug_is_assumed,
    case when c.family = $club_family or v.is_sure then true when c.family is not null and v.kit_id is null then false end as ok
from item as i
left join connector as c on c.plug = i.dc_plug
left join converted as v on v.kit_id = i.kit_id and v.family = c.family
where i.is_usable and (i.role in ('radio', 'other_radio', 'source') and i.kind not in ('handheld', 'generator')
    or i.role in ('computer', 'rf_adapter', 'solar') and c.domain = 'dc' and not i.dc_plug_is_assumed
        and $common_v between i.volts_min and i.volts_max)
