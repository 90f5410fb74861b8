/*
title     = "Handheld packs of many families"
subject   = "club"
severity  = "advice"
why       = "A pack that fits only its owner's radio rescues nobody else."
not_met   = "{subject}: the two most common families hold {share_high:.0%} of the handheld packs at most; {least_share:.0%} is the aim."
not_known = "{subject}: the two most common families hold {share_low:.0%} to {share_high:.0%} of the handheld packs; the others do not tell theirs."
fix       = "Write pack_family for every handheld and pack; steer the next purchases to the two families that most hold (packs about 20 to 80 USD)."
source    = "common practice: two families that cover most of the club's handhelds"

[param.least_share]
value  = 0.7
unit   = "1"
why    = "then a neighbour's pack fits more often than not"
source = "common practice"
*/
with family as (
    select lower(trim(pack_family)) as family, sum(quantity) as packs
    from item where is_usable and kind = 'handheld_pack' group by all
), counted as (
    select coalesce(sum(packs), 0) as things, coalesce(sum(packs) filter (family is null), 0) as untold,
        coalesce(list_sum(list(packs order by packs desc) filter (family is not null)[:2]), 0) as common
    from family
)
select
    0                                           as subject,
    common / greatest(things, 1)                as share_low,
    (common + untold) / greatest(things, 1)     as share_high,
    case when things = 0 or share_low >= $least_share then true when share_high < $least_share then false end as ok
from counted
