/*
title      = "Modem without a computer"
subject    = "post_kit"
severity   = "limits"
why        = "A modem turns messages into tones; without a computer, and the cable to it, there are no messages. Nor does a radio with a modem of its own write any."
not_met    = "{subject}: {member}'s {kit} does {modes}, and no kit that is there with it all the time has {outfit_lacking}."
not_known  = "{subject}: {member}'s {kit} does {modes}; nobody knows whether {outfit_lacking} there works."
fix        = "Pack a laptop or tablet (about 300 to 1000 USD) with its charger, and the data cable that fits modem and computer (about 10 to 50 USD); try both with that modem before the day."
source     = "common practice: data radio, interface, cable and laptop power are one outfit"
applies_to = "kits at posts that work by data, where the radio does so with a modem alone; where it does packet or HF messages by itself it is asked for the computer, and not for the cable, which comes with it or has its plug"

[remedy]
kind = "laptop"
*/
with told as (
    select post_id, unnest(string_split(modes, ' ')) as mode from post where modes is not null
), does as (   -- by post, kit and mode of data: its modems, and the radios that do it by themselves
    select pk.post_kit_id, t.mode, i.line, i.role = 'radio' as is_radio, bool_or(is_radio) over (partition by pk.post_kit_id, t.mode) as is_own
    from told as t
    join post_kit as pk on pk.post_id = t.post_id
    join item as i on i.kit_id = pk.kit_id and i.is_usable and (i.kind = 'modem' or i.role = 'radio')
        and list_contains(string_split(i.modes, ' '), t.mode)
    where t.mode in ('packet', 'hf_message', 'position', 'rtty', 'psk31', 'ft8')
), outfit as (   -- that wants a computer, and of modems the cable to it
    select post_kit_id, string_agg(distinct mode, ' ' order by mode) as modes, list(distinct line order by line) as lines,
        bool_or(not is_own) as wants_cable
    from does where is_radio = is_own and (not is_own or mode in ('packet', 'hf_message'))
    group by post_kit_id
), moment as (   -- from each on the company of the outfit is the same; of a kit that is not sent there is one, without a time
    select distinct m.post_kit_id, m.wants_cable, pk.kit_id, t.post_id, t.instant
    from outfit as m join post_kit as pk using (post_kit_id)
    left join present as t on t.post_id = pk.post_id and t.kit_id = pk.kit_id and pk.is_assigned
), there as (   -- in the kit itself, and in those that are there then
    select m.post_kit_id, m.instant, i.kind, i.condition = 'ok' as is_sure
    from moment as m
    left join present as o on o.post_id = m.post_id and o.instant = m.instant
    join item as i on i.kit_id = coalesce(o.kit_id, m.kit_id) and i.kind in ('laptop', 'data_cable') and i.is_usable
), needed as (
    select m.post_kit_id, m.instant, k.said,
        case when bool_or(t.is_sure) then true when count(t.kind) = 0 then false end as has_one
    from moment as m
    join (values ('laptop', 'a laptop or tablet'), ('data_cable', 'a data cable')) as k(kind, said)
        on k.kind = 'laptop' or m.wants_cable
    left join there as t on t.post_kit_id = m.post_kit_id and t.instant is not distinct from m.instant and t.kind = k.kind
    group by m.post_kit_id, m.instant, k.said
)
select
    post_kit_id                                                                     as subject,
    any_value(m.modes)                                                              as modes,
    coalesce(string_agg(distinct said, ' or ' order by said) filter (has_one = false),
        string_agg(distinct said, ' or ' order by said) filter (has_one is null))   as outfit_lacking,
    any_value(m.lines)                                                              as lines,
    case when bool_or(has_one = false) then false when bool_and(has_one is not null) then true end as ok
from needed join outfit as m using (post_kit_id)
group by post_kit_id
