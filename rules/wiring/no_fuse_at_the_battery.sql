/*
title     = "No fuse at the battery"
subject   = "kit"
severity  = "blocks"
why       = "A pinched lead on an unfused battery glows within seconds; the fuse is there for the wire, and close to every battery."
not_met   = "{subject}: batteries in use: {batteries:.0f}; fuses, fuse holders and fused leads that can sit beside them: {fuses:.0f}."
not_known = "{subject}: batteries in use: {batteries:.0f}; fuses known to sit beside them: {fitted:.0f}. Whether others work, and where they sit, is not written down."
fix       = "Put an inline fuse holder into the positive lead beside each battery (about 5 to 12 USD), rated for the wire, and write how far from the battery it sits; on the line of a lead that has a fuse in it write that too. Disconnect the battery first; check local rules."
source    = "boat-wiring standard ABYC E-11 and a club technical note: a fuse as near the battery as possible"
applies_to = "kits with a battery that works and is in use, or is the spare of none beside a radio other than a handheld; power stations and handheld packs carry their own protection, a spare battery takes the place and the fuse of one in use"

[remedy]
kind = "fuse_holder"
pieces = "lacking"
*/
-- a fuse counts as fitted where it is a holder, tells its distance or both its plugs, or is the one loose
-- fuse of its kit, a lead where
-- it tells that distance, a clip lead on a battery that takes clips; a fuse, its holder and its lead may be one
with clipped as (
    select plug_a as plug from mating where mates and plug_b = 'clips' union select plug_b from mating where mates and plug_a = 'clips'
), thing as (
    select i.kit_id, i.line, i.role, i.kind, i.quantity, i.dc_plug, i.fuse_at_m, i.condition = 'ok' as is_sure, f.item_id is not null as is_set,
        not i.is_spare as is_used, i.role = 'source' and i.kind not in ('supply_30a', 'power_station', 'generator') as is_battery,
        i.role = 'lead' and i.kind <> 'clip_lead' and i.fuse_at_m is not null as is_fused_lead, c.plug is not null as takes_clips
    from item as i left join clipped as c on c.plug = i.dc_plug left join fitted_fuse as f on f.item_id = i.item_id
    where i.is_usable and i.role in ('source', 'fuse', 'lead')
), held as (
    select kit_id, list(line) as lines,
        coalesce(sum(quantity) filter (is_battery), 0) as all_batteries,
        coalesce(sum(quantity) filter (is_battery and is_used), 0) as used_batteries,
        coalesce(sum(quantity) filter (is_battery and takes_clips), 0) as clip_batteries,
        coalesce(sum(quantity) filter (is_battery and dc_plug is null), 0) as open_batteries,
        coalesce(sum(quantity) filter (is_used and kind = 'clip_lead'), 0) as clips,
        coalesce(sum(quantity) filter (is_used and kind = 'clip_lead' and is_sure), 0) as sure_clips,
        coalesce(sum(quantity) filter (is_used and (role = 'fuse' or kind = 'dc_block' or is_fused_lead)), 0) as others,
        coalesce(sum(quantity) filter (is_used and is_sure and kind = 'fuse_holder'), 0) as holders,
        coalesce(sum(quantity) filter (is_set and is_sure), 0) as set_fuses,
        coalesce(sum(quantity) filter (is_used and is_sure and is_fused_lead), 0) as fused_leads
    from thing group by kit_id
)
select
    kit_id                                                                                  as subject,
    cast(greatest(used_batteries, least(all_batteries, 1)) as integer)                      as batteries,
    cast(greatest(holders, set_fuses, fused_leads) + least(sure_clips, clip_batteries) as integer) as fitted,
    cast(others + least(clips, clip_batteries + open_batteries) as integer)                 as fuses,
    greatest(batteries - fitted, 0)                                                         as lacking,
    list_sort(lines)                                                                        as lines,
    case when fitted >= batteries then true when fuses < batteries then false end           as ok
from held
where used_batteries > 0 or all_batteries > 0 and kit_id in (select kit_id from holding where has_mobile)
