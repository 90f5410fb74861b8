/*
title    = "Shadow with too few spare packs"
subject  = "post_kit"
severity = "limits"
why      = "A shadow talks more than most and walks away from any charger; one spare leaves nothing for a shift that runs on."
not_met  = "{subject}: {member}'s {kit} is on foot for {need_h:.1f} h{same_charge} with packs: {packs}, charged lately: {packs_ready}; bring the one in the radio and {spare} more."
not_known = "{subject}: {member}'s {kit} is on foot for {need_h:.1f} h{same_charge} with packs: {packs}, known to be charged lately: {packs_ready}; the others have no date of their last charge, or nobody is sure whether they work."
fix      = "Charge those that are there and write the day in “charged”. Bring more charged packs (about 20 to 80 USD each) or a shell for dry cells with two sets (about 15 to 45 USD)."
source   = "shadow training slides; a county auxiliary-communications deployment kit: two spare packs"
applies_to = "kits with a handheld at shadow posts for up to {after_h} h, those without a night between taken together; beyond that shadow_short_of_packs blocks"

[remedy]
kind = "handheld_pack"

[shared]
spare = "shadow_short_of_packs"
after_h = "shadow_short_of_packs"
home_h = "no_way_to_recharge"
*/
select
    post_kit_id         as subject,
    packs, handhelds, need_h, same_charge, packs_ready, lines,
    case when packs_ready >= 1 + $spare then true when packs_may < 1 + $spare then false end as ok
from shadow_pack($home_h)
where need_h <= $after_h
