/*
title      = "Charger too strong for the battery"
subject    = "item"
severity   = "blocks"
why        = "More current than a battery takes heats it: it swells, vents or burns, mostly while nobody looks."
not_met    = "{subject}: {charger_a:.1f} A from the charger in its kit, {charge_most_a:.1f} A at most for {capacity_ah:.1f} Ah."
not_known  = "{subject}: {charger_a:.1f} A from the charger in its kit may be more than it takes; its capacity or the charger's current is only assumed."
fix        = "Take a smaller charger (about 30 to 110 USD), or a larger battery (about 20 to 700 USD), and read the label of the battery for the current that it may be charged with. Charge where someone can see it and nothing can burn; check local rules."
source     = "battery care columns of clubs: the charger must match chemistry and size; fire risk"
applies_to = "batteries whose capacity is written down, with a mains charger for their chemistry in the kit; packs of handhelds are charged in a stand of their own"

[param.times]
value  = 2
unit   = "1"
why    = "a maker may allow twice what the policy takes a chemistry to be charged with"
source = "common practice"
*/
with sort as (
    select *, charged_as(chemistry) as family
    from item
    where is_usable and (role = 'charger' and kind not in ('charger_handheld', 'charger_cells', 'charge_controller_mppt',
        'charge_controller_pwm') or role = 'source' and kind <> 'power_station')
        and chemistry is not null and chemistry <> 'alkaline'
), charger as (
    select kit_id, family, max(struct_pack(amps_rated, line)) as of_all,
        max(struct_pack(amps_rated, line)) filter (not amps_rated_is_assumed) as of_told
    from sort where role = 'charger' and amps_rated is not null group by kit_id, family
)
select
    s.item_id                                           as subject,
    s.capacity_ah, $times * c.charge_per_h * s.capacity_ah as charge_most_a,
    case when g.of_all.amps_rated <= charge_most_a then true
         when g.of_told.amps_rated > charge_most_a and not s.capacity_ah_is_assumed then false end as ok,
    if(not ok, g.of_told.amps_rated, g.of_all.amps_rated) as charger_a,
    [s.line, if(not ok, g.of_told.line, g.of_all.line)] as lines
from sort as s
join charger as g on g.kit_id = s.kit_id and g.family = s.family
join chemistry as c on c.chemistry = s.chemistry
where s.role = 'source' and s.capacity_ah is not null
