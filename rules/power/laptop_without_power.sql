/*
title     = "Laptop without power"
subject   = "post_kit"
severity  = "limits"
why       = "A laptop draws as much as a radio; by noon its own battery is empty, and with it the post's messages."
not_met   = "{subject}: the post has no mains, and {member}'s {kit} has a laptop for {need_h:.1f} h, and neither it nor a kit sent there has a converter, an inverter or a power station to run it."
not_known = "{subject}: the post has no mains, and {member}'s {kit} has a laptop for {need_h:.1f} h; nobody knows whether the converter, inverter or power station there works, and gives the volts that it wants."
fix       = "Bring a 12 V to USB-C converter (about 15 to 60 USD) or an inverter (about 30 to 90 USD) and a battery that carries the laptop as well."
source    = "common practice: laptop power is in the outfit of a data post; a planning guide takes a laptop at 70 W"
applies_to = "kits with a laptop or tablet that works and does not run on 12 V, at posts for messages by data of which it is told that they have no mains, for more than {own_h:.0f} h; off_the_common_voltage says it of the laptop anywhere, as advice"

[param.own_h]
value  = 4
unit   = "h"
why    = "what a laptop works on its own battery"
source = "common practice"

[shared]
common_v = "off_the_common_voltage"

[remedy]
kind = "usb_pd_converter"
*/
with asked as (
    select pk.post_kit_id, pk.post_id, pk.kit_id, pk.need_h, l.line, l.volts_min, l.volts_max
    from post as p
    join post_kit as pk on pk.post_id = p.post_id
    join item as l on l.kit_id = pk.kit_id and l.kind = 'laptop' and l.is_usable
        and coalesce($common_v not between l.volts_min and l.volts_max, true)
    where not p.has_mains and pk.need_h > $own_h
        and (p.duty = 'digital' or list_has_any(string_split(p.modes, ' '), ['packet', 'hf_message']))
), there as (   -- the kit itself and those that are sent there
    select *, kit_id as with_kit_id from asked
    union select a.*, o.kit_id from asked as a join post_kit as o on o.post_id = a.post_id and o.is_assigned
), run as (   -- each laptop by itself
    select t.post_kit_id, t.line, any_value(t.need_h) as need_h,
        any_works(if(c.kind in ('inverter', 'power_station', 'generator') or c.volts_max >= t.volts_min and c.volts_min <= t.volts_max,
            c.condition, if(c.kit_id is null, null, 'unknown'))) as is_run
    from there as t
    left join item as c on c.kit_id = t.with_kit_id and c.is_usable and (c.kind in ('inverter', 'power_station', 'generator')
        or c.role = 'converter' and c.kind <> 'handheld_dc_lead' and coalesce(c.volts_max >= t.volts_min and c.volts_min <= t.volts_max, true))
    group by t.post_kit_id, t.line
)
select
    post_kit_id                         as subject,
    any_value(need_h)                   as need_h,
    coalesce(list(line order by line) filter (is_run is not true), list(line order by line)) as lines,
    case when bool_or(not is_run) then false when bool_and(is_run is not null) then true end as ok
from run group by post_kit_id
