/*
title     = "No spare pack for a handheld"
subject   = "kit"
severity  = "limits"
why       = "A handheld pack lasts a morning; the spare carries the afternoon."
not_met   = "{subject}: handhelds: {handhelds}, packs: {packs}, of these charged lately or a shell with spare cells of its size: {packs_ready}; each handheld wants its own and {spare} more."
not_known = "{subject}: handhelds: {handhelds}, packs: {packs}, known to be charged lately: {packs_ready}; the others have no date of their last charge, or nobody is sure whether they work, or fit a handheld that tells no family."
fix       = "Charge those that are there and write the day in “charged”, and “pack_family” of each handheld; packs to add: {short_packs} (about 20 to 80 USD each), or a shell for dry cells with two sets (about 15 to 45 USD). Charge where someone can see it and nothing can burn."
source    = "county club event checklist: spare pack, or dry-cell shell with a spare set of cells; two-way radio battery care notes: charged every two months"
applies_to = "kits with a handheld that works; those with no battery at all have no_battery_of_its_own; packs of which both they and the handhelds tell a family count for that alone, and those that tell one beside a handheld that tells none may not fit it"

[param.spare]
value  = 1
unit   = "1"
why    = "packs beside the one in the radio, for each handheld"
source = "county club event checklist"

[remedy]
kind = "handheld_pack"
*/
select
    h.kit_id                                        as subject,
    h.handhelds, h.packs - coalesce(p.packs_other, 0) as packs,
    coalesce(p.packs_ready, 0)                      as packs_ready,
    greatest(h.handhelds * (1 + $spare) - h.packs + coalesce(p.packs_other, 0), f.short_packs, 0) as short_packs,
    list_concat(h.radio_lines, h.pack_lines)        as lines,
    case when p.packs_ready >= h.handhelds * (1 + $spare) and f.has_each is distinct from false then true
         when coalesce(p.packs_ready + p.packs_open, 0) < h.handhelds * (1 + $spare) or f.is_one_short then false end as ok
from holding as h
left join pack_held as p on p.kit_id = h.kit_id
left join (
    select kit_id, bool_and(packs_ready >= handhelds * (1 + $spare)) as has_each,
        bool_or(packs_ready + packs_open < handhelds * (1 + $spare)) as is_one_short,
        sum(greatest(handhelds * (1 + $spare) - packs_ready - packs_open, 0)) as short_packs
    from pack_fit group by kit_id
) as f on f.kit_id = h.kit_id
where h.handhelds > 0 and (h.packs > 0 or h.batteries > 0)
