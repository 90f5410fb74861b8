/*
title      = "Modem without a computer"
subject    = "post_kit"
severity   = "limits"
why        = "A modem turns messages into tones; without a computer and the cable to it there are no messages."
not_met    = "{subject}: {member}'s {kit} does {modes} with a modem, and no kit that is there with it all the time has {outfit_lacking}."
not_known  = "{subject}: {member}'s {kit} does {modes} with a modem; nobody knows whether {outfit_lacking} there works."
fix        = "Pack a laptop or tablet (about 300 to 1000 USD) with its charger, and the data cable that fits modem and computer (about 10 to 50 USD); try both with that modem before the day."
source     = "common practice: data radio, interface, cable and laptop power are one outfit"
applies_to = "kits at posts that work by data, where the radio does so with a modem alone"

[remedy]
kind = "laptop"
*/
with told as (
    select post_id, unnest(string_split(modes, ' ')) as mode from post where modes is not null
), modem as (
    select pk.post_kit_id, string_agg(distinct t.mode, ' ' order by t.mode) as modes, list(distinct i.line order by i.line) as lines
    from post_kit as pk
    join told as t on t.post_id = pk.post_id
    join item as i on i.kit_id = pk.kit_id and i.kind = 'modem' and i.is_usable
        and list_contains(string_split(i.modes, ' '), t.mode)
    left join item as r on r.kit_id = pk.kit_id and r.role = 'radio' and r.is_usable
        and list_contains(string_split(r.modes, ' '), t.mode)
    where r.item_id is null
    group by pk.post_kit_id
), moment as (   -- from each on the company of the modem is the same; of a kit that is not sent there is one, without a time
    select distinct m.post_kit_id, pk.kit_id, t.post_id, t.instant
    from modem as m join post_kit as pk using (post_kit_id)
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
    cross join (values ('laptop', 'a laptop or tablet'), ('data_cable', 'a data cable')) as k(kind, said)
    left join there as t on t.post_kit_id = m.post_kit_id and t.instant is not distinct from m.instant and t.kind = k.kind
    group by all
)
select
    post_kit_id                                                                     as subject,
    any_value(m.modes)                                                              as modes,
    coalesce(string_agg(distinct said, ' or ' order by said) filter (has_one = false),
        string_agg(distinct said, ' or ' order by said) filter (has_one is null))   as outfit_lacking,
    any_value(m.lines)                                                              as lines,
    case when bool_or(has_one = false) then false when bool_and(has_one is not null) then true end as ok
from needed join modem as m using (post_kit_id)
group by post_kit_id
