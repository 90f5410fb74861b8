/*
title     = "Battery not charged lately"
subject   = "item"
severity  = "limits"
why       = "A shelf empties a battery; a pack one year on the shelf has failed its own trainer's check-in."
not_met   = "{subject}: charged {charged_days:.0f} days ago; its chemistry wants it every {charge_limit_days:.0f} days."
not_known = "{subject}: no date of its last charge is written down."
fix       = "Charge it now (costs nothing; a charger is about 25 to 160 USD), and again in the week before an event, with the charger for its chemistry, where someone can see it and nothing can burn, never below 0 °C for lithium; then write the day in “charged”. Check local rules."
source    = "battery-maker storage pages (lead-acid every 3 to 4 months, handheld packs every 2 months); LiFePO4 every 6 months, common practice"
applies_to = "batteries and packs that work, whose chemistry is known and that can be charged; of those in use that lay for twice as long, or for nobody knows how long, left_twice_too_long speaks, which blocks"
*/
select
    item_id               as subject,
    charged_days, charge_limit_days, chemistry_is_assumed,
    charged_days <= charge_limit_days as ok
from battery
where chemistry is distinct from 'alkaline' and (is_spare or charge_end_days is null or charged_days <= charge_end_days)
