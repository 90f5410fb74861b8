/*
title    = "Shadow short of packs"
subject  = "post_kit"
severity = "blocks"
why      = "A shadow walks all day away from any charger; each pack lasts a morning at most."
not_met  = "{subject}: {member}'s {kit} is on foot for {need_h:.1f} h{same_charge} with packs: {packs}, charged lately: {packs_ready}; bring the one in the radio and {spare} more."
not_known = "{subject}: {member}'s {kit} is on foot for {need_h:.1f} h{same_charge} with packs: {packs}, known to be charged lately: {packs_ready}; the others have no date of their last charge, or nobody is sure whether they work."
fix      = "Charge those that are there and write the day in “charged”. Bring more charged packs (about 20 to 80 USD each) or a shell for dry cells with two sets (about 15 to 45 USD)."
source   = "shadow training slides; a county auxiliary-communications deployment kit: two spare packs"
applies_to = "kits with a handheld at shadow posts for more than {after_h} h, those without a night between taken together; kits without one have no_second_radio or no_complete_station"

[param.spare]
value  = 2
unit   = "1"
why    = "packs beside the one in the radio"
source = "shadow training slides"

[param.after_h]
value  = 6
unit   = "h"
why    = "a shorter shift is carried by one spare"
source = "common practice"

[remedy]
kind = "handheld_pack"

[shared]
home_h = "no_way_to_recharge"
*/
with shadow as (
    select pk.* replace (utc_of(pk.starts, e.clock_min, e.clocks_change, e.clock_after_min) as starts,
        utc_of(pk.ends, e.clock_min, e.clocks_change, e.clock_after_min) as ends)
    from post_kit as pk join post as p using (post_id) left join event as e using (event_id)
    where p.post_type = 'shadow' and pk.kit_id is not null
), stretch as (   -- which of those between two nights at home, of a kit that is sent
    select *, count(*) filter (is_fresh) over (partition by kit_id order by starts, post_kit_id) as stretch
    from (
        select *, starts >= max(ends) over before + to_minutes(cast(60 * $home_h as integer)) as is_fresh
        from shadow where is_assigned
        window before as (partition by kit_id order by starts, post_kit_id rows between unbounded preceding and 1 preceding)
    )
), pk as (
    select post_kit_id, kit_id, need_h as own_h, sum(need_h) over (partition by kit_id, stretch) as need_h from stretch
    union all select post_kit_id, kit_id, need_h, need_h from shadow where not is_assigned
)
select
    pk.post_kit_id                              as subject,
    h.packs - coalesce(c.packs_other, 0)        as packs, h.handhelds, pk.need_h,
    case when pk.need_h > pk.own_h then concat(' (', round(pk.need_h - pk.own_h, 1),
        ' h of it as a shadow elsewhere)') else '' end as same_charge,
    coalesce(f.packs_ready, c.packs_ready, 0)   as packs_ready,
    list_concat(h.radio_lines, h.pack_lines)    as lines,
    case when coalesce(f.packs_ready, c.packs_ready) >= 1 + $spare then true
         when coalesce(f.packs_may, c.packs_ready + c.packs_open, 0) < 1 + $spare then false end as ok
from pk
join holding as h on h.kit_id = pk.kit_id
left join pack_held as c on c.kit_id = pk.kit_id
left join (   -- of the handheld that has most
    select kit_id, max(packs_ready) as packs_ready, max(packs_ready + packs_open) as packs_may from pack_fit group by kit_id
) as f on f.kit_id = pk.kit_id
where pk.need_h > $after_h and h.handhelds > 0
