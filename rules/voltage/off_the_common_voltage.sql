/*
title     = "Not on the common 12 V"
subject   = "item"
severity  = "advice"
why       = "One voltage lets any battery at the post run any load at the post."
not_met   = "{subject}: runs on {volts_min:g} to {volts_max:g} V, outside the common {common_v:.1f} V, and the kit holds no converter that gives as much."
not_known = "{subject}: its voltage, or what a converter of the kit gives, is not written down."
fix       = "Add a converter (buck, boost or USB-C; about 15 to 180 USD) or keep a 12 V lead for it in the bag."
source    = "common practice: one 12 V bus, with a converter for each exception"
applies_to = "radios and computers that work; handhelds run on their packs"

[param.common_v]
value  = 13.2
unit   = "V"
why    = "the middle of a 12 V battery under charge and load"
source = "common practice"

[remedy]
kind = "buck_converter"
*/
with load as (
    select i.item_id, i.kit_id, i.volts_min, i.volts_max, $common_v between i.volts_min and i.volts_max as is_common,
        case when i.volts_min = k.volts_min and i.volts_max = k.volts_max then 'usual of its kind'
             when i.volts_min = k.volts_min or i.volts_max = k.volts_max then 'told, or usual of its kind' else 'told' end as how
    from item as i left join kind as k on k.kind = i.kind::varchar
    where i.is_usable and i.kind <> 'handheld' and i.role in ('radio', 'other_radio', 'computer')
), converted as (
    select l.item_id, bool_or(is_near and c.condition = 'ok') as is_fit,
        bool_or(is_near is null or is_near and c.condition <> 'ok') as is_open
    from load as l join item as c on c.kit_id = l.kit_id and c.is_usable and c.role = 'converter',
        lateral (select c.volts_max >= l.volts_min and c.volts_min <= l.volts_max as is_near)
    where not l.is_common
    group by l.item_id
)
select
    l.item_id           as subject,
    l.volts_min, l.volts_max, l.how,
    case when l.is_common or c.is_fit then true when not l.is_common and c.is_open is not true then false end as ok
from load as l
left join converted as c using (item_id)
