/*
title      = "Heavier than the limit"
subject    = "post_kit"
severity   = "limits"
why        = "A tired operator is a slow one, and the walk back is after the shift."
not_met    = "{subject}: {carrier} carries {carried_kg:.2f} kg there with {kit} (kits in all: {carried_kits}); the limit for the walk in is {carry_limit_kg:.2f} kg."
not_known  = "{subject}: something that {carrier} carries there with {kit} (kits in all: {carried_kits}) has no weight written down; the rest weighs {carried_kg:.2f} kg of {carry_limit_kg:.2f} kg."
fix        = "Leave the module that this post does not ask for, take a lighter battery (LiFePO4 about 60 to 260 USD), or send two people with it, assigned for the same hours."
source     = "hiking guides: a tenth of the body's weight for a day and a fifth overnight, which for 150 lb is 15 and 30 lb; the factor is common practice"
applies_to = "kits that are carried on foot; a thing that tells no weight counts with the usual one of its kind. What several carry together is taken to be parted as they like"
*/
select
    pk.post_kit_id              as subject,
    pk.weighed_kg               as carried_kg,
    case when pk.carriers > 1 then concat(m.member, ' with ', pk.carriers - 1, ' more') else m.member end as carrier,
    pk.carried_kits, pk.carry_limit_kg,
    case when pk.is_weight_assumed or coalesce(m.carry_limit_kg, p.carry_limit_kg) is null then 'assumed' else 'told' end as how,
    kit.lines                   as lines,
    case when pk.weighed_kg > pk.carry_limit_kg then false when pk.carried_kg is not null then true end as ok
from post_kit as pk
join post as p using (post_id)
join kit on kit.kit_id = pk.kit_id
join member as m on m.member_id = pk.carrier_id
where pk.carry_limit_kg is not null
