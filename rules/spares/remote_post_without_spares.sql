/*
title      = "Remote post without spares"
subject    = "post_kit"
severity   = "limits"
why        = "Where nothing can be fetched, a fuse or a strip of tape decides whether the post is heard."
not_met    = "{subject}: {member}'s {kit} lacks: {missing_parts}."
not_known  = "{subject}: in {member}'s {kit} fuses are listed without their rating, cells and what they go into without their size, or spares of which nobody is sure, so the spares cannot be counted."
fix        = "Pack tape and ties or a tool roll (about 5 to 90 USD), a multimeter (about 15 to 70 USD), {least} fuses of each rating (about 8 to 15 USD) and one set of cells for each size (about 5 to 20 USD). Disconnect the battery before you mend a lead, and never measure current or resistance across it."
source     = "common practice: spare parts lists after the 2017 hurricane season and club event checklists"
applies_to = "remote posts and posts that the kit is carried to; elsewhere the rules of this family say it as advice"

[remedy]
kind = "tool_roll"

[shared]
least = "no_spare_fuse"
*/
with repair as (
    select kit_id, count(*) filter (kind <> 'multimeter') > 0 as has_tools, bool_or(kind = 'multimeter') as has_meter,
        any_works(case when kind <> 'multimeter' then condition end) and any_works(case when kind = 'multimeter' then condition end)
            as is_sure
    from item where is_usable and kind in ('tool_roll', 'cable_ties_tape', 'multimeter') group by kit_id
), fuses as (
    select kit_id, sum(greatest($least - pieces, 0)) filter (amps_rated is not null) > any_value(unrated) as is_short,
        bool_and(amps_rated is not null and sure >= $least) as has_each
    from fuse_held where lines is not null group by kit_id
)
select
    pk.post_kit_id                  as subject,
    concat_ws(', ', case when r.wants_repair and i.has_tools is not true then 'repair pack' end,
        case when r.wants_repair and i.has_meter is not true then 'multimeter' end,
        case when f.is_short then 'spare fuses' end, case when not c.has_each then 'spare cells' end) as missing_parts,
    kit.lines                       as lines,
    case when missing_parts <> '' then false when f.has_each is not false and (c.kit_id is null or c.has_each)
             and (i.is_sure or not r.wants_repair) then true end as ok
from post_kit as pk
join post as p using (post_id)
join kit on kit.kit_id = pk.kit_id
join (select kit_id, has_mast or has_mobile as wants_repair from holding) as r on r.kit_id = pk.kit_id
left join repair as i on i.kit_id = pk.kit_id
left join fuses as f on f.kit_id = pk.kit_id
left join cell_held as c on c.kit_id = pk.kit_id
where p.is_remote
