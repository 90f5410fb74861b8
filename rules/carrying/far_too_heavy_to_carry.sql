/*
title      = "Far too heavy to carry there"
subject    = "post_kit"
severity   = "blocks"
why        = "A load far above one's limit ends as a hurt back or a kit left beside the path."
not_met    = "{subject}: {carrier} carries {carried_kg:.2f} kg or more there with {kit} (kits in all: {carried_kits}); the limit for the walk in is {carry_limit_kg:.2f} kg."
fix        = "Leave modules behind, take a smaller or lighter battery (LiFePO4 about 60 to 260 USD), or share the load between two people: assign both with this kit for the same hours. Do not lift it anyway."
source     = "hiking guides: a tenth of the body's weight for a day and a fifth overnight, which for 150 lb is 15 and 30 lb; the factor is common practice"
applies_to = "kits carried on foot under a limit that the member or the post has set, whose weight is known, or usual of the kinds, or too much already; the others have heavier_than_the_limit. What several carry together is taken to be parted as they like"

[param.blocks_above]
value  = 1.25
unit   = "1"
why    = "a quarter above the limit is no longer a matter of effort"
source = "common practice"
*/
select
    pk.post_kit_id              as subject,
    pk.weighed_kg               as carried_kg,
    case when pk.carriers > 1 then concat(m.member, ' with ', pk.carriers - 1, ' more') else m.member end as carrier,
    pk.carried_kits, pk.carry_limit_kg,
    case when pk.is_weight_assumed or coalesce(m.carry_limit_kg, p.carry_limit_kg) is null then 'assumed' else 'told' end as how,
    kit.lines                   as lines,
    case when pk.weighed_kg > $blocks_above * pk.carry_limit_kg then false when pk.carried_kg is not null then true end as ok
from post_kit as pk
join post as p using (post_id)
join kit on kit.kit_id = pk.kit_id
join member as m on m.member_id = pk.carrier_id
where pk.carry_limit_kg is not null
    and coalesce(m.carry_limit_kg, p.carry_limit_kg) is not null
    and (pk.carried_kg is not null or pk.weighed_kg > $blocks_above * pk.carry_limit_kg)
