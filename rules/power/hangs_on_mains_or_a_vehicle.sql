/*
title     = "Hangs on mains or a vehicle"
subject   = "post_kit"
severity  = "limits"
why       = "What fails the neighbourhood fails the post with it, and a vehicle is called away: then the station is wanted most."
not_met   = "{subject}: should {failing}, {member}'s {kit} {lasts}; plan for {wanted_h:.1f} h."
not_known = "{subject}: whether {member}'s {kit} lasts {wanted_h:.1f} h on its own batteries, should {failing}, is not known, as figures of its radio or batteries are not told, or are only the usual ones."
caution   = "A battery joined straight to a supply that is on may be charged without a limit: change over by hand, or by a gate made for it."
fix       = "Keep beside it, charged, about {short_wh:.0f} Wh more that the radio can be changed over to ({mending_kind}: {batteries_wanted}, about {each_wh:.0f} Wh each{with_fuse}; a 20 Ah LiFePO4 battery is about 90 to 260 USD, a pack 20 to 80). Charge batteries where someone can see them; check local rules."
source    = "common practice: county emergency groups hold a battery always and never rely on utility, vehicle or generator power alone; one hour is held to be enough where the building has standby power, so ask for more where it has none"
applies_to = "kits with a battery that mains feed or charge at their post, or a vehicle for all of their hours, unless others sent to the post have at every hour a station that suits it as well and lasts longer; not the vehicle where the post is one (SAG, lead vehicle, a sweep that is driven); batteries are taken to be full, and what the sun puts in is not counted; a kit without a battery has no_battery_of_its_own"

[param.hours]
value  = 1
least  = 0
unit   = "h"
why    = "where mains fail, until standby power is up, a battery is brought or the post is moved"
source = "common practice: county emergency groups"

[remedy]
kind = "battery_lifepo4"
capacity_wh = "short_wh"

[shared]
battery_wh = "runs_out_before_the_shift_ends"
pack_wh = "runs_out_before_the_shift_ends"
*/
select
    r.post_kit_id                               as subject,
    r.bank_low_h, r.bank_high_h, r.load_w, r.how, r.lines,
    case r.hangs_on when 'mains' then 'the mains fail' else 'the vehicle fail or leave' end as failing,
    wanted.h                                    as wanted_h,
    case when r.has_battery then concat('lasts ', hours_given(r.bank_low_h), ' on its own batteries')
         else 'is silent at once, as no battery that it has feeds this radio' end as lasts,
    lacking.wh                                  as short_wh,
    case when i.kind = 'handheld' then 'handheld_pack' else 'battery_lifepo4' end as mending_kind,
    case when i.kind = 'handheld' then $pack_wh else $battery_wh end as each_wh,
    case when i.kind = 'handheld' then '' else ', each with a fuse of its own' end as with_fuse,
    cast(ceil(lacking.wh / each_wh) as integer) as batteries_wanted,
    case when r.bank_low_h >= wanted.h then true
         when r.bank_high_h < wanted.h then false end as ok
from post_kit as pk
join runtime as r using (post_kit_id)
join post as p using (post_id)
join holding as h on h.kit_id = pk.kit_id
left join item as i on i.item_id = r.radio_item_id,
    lateral (select case when r.hangs_on = 'mains' then least($hours, r.need_h) else r.need_h end as h) as wanted,
    lateral (select ceil(greatest(wanted.h - r.bank_low_h, 0) * r.load_w / r.given_share) as wh) as lacking
where not r.is_second and (r.hangs_on = 'mains' or r.hangs_on = 'vehicle' and not p.is_vehicle)
    and (h.batteries > 0 or h.packs > 0 and not h.has_mobile)
