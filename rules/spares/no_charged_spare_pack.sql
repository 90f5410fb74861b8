/*
title     = "No spare pack for a handheld"
subject   = "kit"
severity  = "limits"
why       = "A handheld pack lasts a morning; the spare carries the afternoon."
not_met   = "{subject}: {packs} packs for {handhelds} handhelds; each wants its own and {spare} more."
fix       = "Bring {short_packs} more packs (about 20 to 80 USD each) or a shell for dry cells with two sets (about 15 to 45 USD)."
source    = "county club event checklist: spare pack, or dry-cell shell with a spare set of cells"
applies_to = "kits with a handheld that works"

[param.spare]
value  = 1
unit   = "1"
why    = "packs beside the one in the radio, for each handheld"
source = "county club event checklist"

[remedy]
kind = "handheld_pack"
*/
select
    kit_id                                       as subject,
    handhelds, packs,
    greatest(handhelds * (1 + $spare) - packs, 0) as short_packs,
    list_concat(radio_lines, pack_lines)         as lines,
    packs >= handhelds * (1 + $spare)            as ok
from holding
where handhelds > 0
