/*
title     = "No fuse at the battery"
subject   = "kit"
severity  = "blocks"
why       = "A pinched lead on an unfused battery glows within seconds; the fuse is there for the wire."
not_met   = "{subject}: it holds a battery, and no fuse, fuse holder or fused lead that works is listed."
not_known = "{subject}: no fuse that works for certain is listed; whether one works, or sits in its leads, is not written down."
fix       = "Put an inline fuse holder into the positive lead beside the battery (about 5 to 12 USD), rated for the wire. Disconnect the battery first; check local rules."
source    = "boat-wiring standard ABYC E-11 and a club technical note: a fuse as near the battery as possible"
applies_to = "kits with a battery that works; handheld packs carry their own protection"

[remedy]
kind = "fuse_holder"
*/
with held as (
    select kit_id,
        count(*) filter (role = 'source' and chemistry is not null and kind <> 'power_station') as batteries,
        count(*) filter (role = 'fuse' and not is_spare or kind in ('clip_lead', 'dc_block')) as fuses,
        count(*) filter (condition = 'ok' and (role = 'fuse' and not is_spare or kind in ('clip_lead', 'dc_block'))) as sure_fuses,
        count(*) filter (kind in ('dc_lead', 'socket_lead') and amps_rated is not null and not amps_rated_is_assumed) as rated_leads,
        list(line) as lines
    from item where is_usable and role in ('source', 'fuse', 'lead') group by kit_id
)
select
    kit_id                          as subject,
    fuses, batteries, list_sort(lines) as lines,
    case when sure_fuses > 0 then true when fuses = 0 and rated_leads = 0 then false end as ok
from held
where batteries > 0
