/*
title     = "Post hangs on one small part"
subject   = "post_kit"
severity  = "limits"
why       = "Where silence can cost somebody's health, no lead, adapter, cable or microphone of a few dollars may be the only one."
not_met   = "{subject}: {member}'s {kit} is silent there without each of these: {small_parts}."
not_known = "{subject}: whether small parts of {member}'s {kit} have a second that fits hangs on plugs or values that are not written down, or on things that may not work."
fix       = "Double them before the event (leads, pigtails and adapters are about 5 to 40 USD each, a data cable 10 to 50, a microphone 25 to 90), or take along what another kit at the post has to spare."
source    = "a national report on the 2017 hurricane season: coax joints, connectors, headsets and short coax were missing most; common practice: nothing in the chain without a spare at posts that block"
applies_to = "posts of a type that needs two ways, and kits that make a complete station there at best; elsewhere hangs_on_one_small_part says it as advice"

[param.recharge_h]
value  = 24
unit   = "h"
why    = "a post of more than a day hangs on its only charger too"
source = "common practice"
*/
with beside as (
    select kit_id, bool_or(kind = 'modem') as has_modem, coalesce(sum(quantity) filter (kind = 'data_cable'), 0) as cables,
        coalesce(sum(quantity) filter (kind = 'data_cable' and condition = 'ok'), 0) as sure_cables,
        list(line order by line) filter (kind in ('modem', 'data_cable')) as cable_lines,
        sum(quantity) filter (role = 'charger') as chargers,
        sum(quantity) filter (role = 'charger' and condition = 'ok') as sure_chargers,
        list(line) filter (role = 'charger') as charger_lines
    from item where is_usable and (kind in ('modem', 'data_cable') or role = 'charger') group by kit_id
)
select
    pk.post_kit_id                              as subject,
    concat_ws(', ', case when not t.is_doubtful then t.parts end, case when is_one_cable then 'data cable' end,
        case when is_one_charger then 'charger' end) as small_parts,
    flatten([coalesce(t.lines, w.weak_lines), case when is_one_cable then b.cable_lines else [] end,
        case when is_one_charger then b.charger_lines else [] end]) as lines,
    case when small_parts <> '' then false
        when t.post_kit_id is null and w.stations_low >= 1 and is_open is not true then true end as ok
from post_kit as pk
join post as p using (post_id)
join way as w on w.post_kit_id = pk.post_kit_id
left join post_small_part as t on t.post_kit_id = pk.post_kit_id
left join beside as b on b.kit_id = pk.kit_id,
    lateral (select b.has_modem and list_has_any(string_split(p.modes, ' '),
        ['packet', 'hf_message', 'rtty', 'psk31', 'ft8']) as is_data,
        pk.need_h > $recharge_h as is_long) as asked,
    lateral (select is_data and b.cables < 2 as is_one_cable, b.chargers = 1 and is_long as is_one_charger,
        is_data and b.sure_cables < 2 or is_long and b.chargers > 1 and coalesce(b.sure_chargers, 0) < 2 as is_open)
where p.needs_two_ways and w.stations_high >= 1
