/*
title     = "Gear cannot be swapped at the post"
subject   = "post"
severity  = "limits"
why       = "When one battery or antenna fails, the neighbour's must fit without a search for adapters."
not_met   = "{subject}: swaps that work between the kits that meet there, with the leads and adapters at hand: {swaps_fit} of {swaps}."
not_known = "{subject}: swaps that work for certain between the kits that meet there: {swaps_fit} of {swaps}; {swaps_unsure}."
fix       = "Put an adapter at the post (about 4 to 20 USD), or assign kits with the club's plugs and handhelds of one pack family. Check polarity before you join power leads."
source    = "state auxiliary-communications DC connector standard: one connector so that power can be shared"
applies_to = "posts where two kits meet, at the same time or at a handover"
*/
with asked as (
    select post_id, unnest([
        {'is_asked': is_power_asked, 'is_fit': has_power_fit, 'doubt': power_doubt},
        {'is_asked': is_antenna_asked, 'is_fit': has_antenna_fit, 'doubt': antenna_doubt}]) as try
    from swap
)
select
    post_id                                     as subject,
    count(*)                                    as swaps,
    count(*) filter (try.is_fit)                as swaps_fit,
    concat_ws(', and ',
        case when bool_or(try.is_fit is null and try.doubt is null) then 'plugs or pack families are not written down' end,
        'nobody is sure whether these work: ' || string_agg(distinct k.member || '''s ' || i.item, ', '
            order by k.member || '''s ' || i.item)
    )                                           as swaps_unsure,
    case when bool_or(not try.is_fit) then false when count(*) = count(try.is_fit) then true end as ok
from asked
left join item as i on i.item_id = try.doubt
left join kit as k on k.kit_id = i.kit_id
where try.is_asked
group by post_id
