/*
title     = "Battery left twice too long"
subject   = "item"
severity  = "blocks"
why       = "After twice its interval nobody can say what is left in it; a pack one year on the shelf has failed its own trainer's check-in."
not_met   = "{subject}: charged {charged_days:.0f} days ago; its chemistry wants it every {charge_limit_days:.0f} days, and after {charge_end_days:.0f} it counts as empty."
not_known = "{subject}: no date of its last charge is written down; {charge_end_days:.0f} days after one it counts as empty."
fix       = "Look at it and measure it first: one that is swollen, leaking, frozen or far below its lowest voltage is not charged but taken out (another pack is about 20 to 80 USD, a 12 V battery 20 to 450). Charge it before the kit goes anywhere, with the charger for its chemistry, where someone can see it and nothing can burn, never below 0 °C for lithium; then write the day in “charged”. Check local rules."
source    = "battery-maker storage pages (lead-acid every 3 to 4 months, handheld packs every 2 months); LiFePO4 every 6 months and twice the interval as the end, common practice"
applies_to = "batteries and packs in use that can be charged and whose chemistry is known; spares that lay so long are no spares"
*/
select
    item_id               as subject,
    charged_days, charge_limit_days, charge_end_days, chemistry_is_assumed,
    -- one that was bought since cannot lie longer
    coalesce(charged_days <= charge_end_days, nullif(date_diff('day', acquired, $today) <= charge_end_days, false)) as ok
from battery
where not is_spare and charge_end_days is not null
