/*
title      = "Remote post without spares"
subject    = "post_kit"
severity   = "limits"
why        = "Where nothing can be fetched, a fuse or a strip of tape decides whether the post is heard."
not_met    = "{subject}: {member}'s {kit} lacks: {missing_parts}."
not_known  = "{subject}: in {member}'s {kit} fuses are listed without their rating, cells and what they go into without their size, or spares of which nobody is sure, so the spares cannot be counted."
fix        = "Pack tape and ties or a tool roll (about 5 to 90 USD), {least} fuses of each rating (about 8 to 15 USD) and one set of cells for each size (about 5 to 20 USD). Disconnect the battery before you mend a lead."
source     = "common practice: spare parts lists after the 2017 hurricane season and club event checklists"
applies_to = "remote posts and posts that the kit is carried to; elsewhere the rules of this family say it as advice"

[remedy]
kind = "tool_roll"

[shared]
least = "no_spare_fuse"
*/
with repair as (
    select kit_id, any_works(condition) as is_sure from item
    where is_usable and kind in ('tool_roll', 'cable_ties_tape') group by kit_id
), used as (
    select distinct kit_id, amps_rated from item where is_usable and not is_spare and role = 'fuse'
), spare as (
    select kit_id, amps_rated, sum(quantity) as pieces, sum(quantity) filter (condition = 'ok') as sure from item
    where is_usable and is_spare and role = 'fuse' group by all
), fuses as (
    select u.kit_id, bool_or(u.amps_rated is not null and coalesce(s.pieces, 0) < $least) as is_short,
        bool_or(u.amps_rated is null or coalesce(s.sure, 0) < $least) as is_open
    from used as u left join spare as s using (kit_id, amps_rated) group by u.kit_id
)
select
    pk.post_kit_id                  as subject,
    concat_ws(', ', case when (h.has_mast or h.has_mobile) and i.kit_id is null then 'repair pack' end,
        case when f.is_short then 'spare fuses' end, case when not c.has_each then 'spare cells' end) as missing_parts,
    kit.lines                       as lines,
    case when missing_parts <> '' then false when f.is_open is not true and (c.kit_id is null or c.has_each)
             and (i.is_sure or not h.has_mast and not h.has_mobile) then true end as ok
from post_kit as pk
join post as p using (post_id)
join kit on kit.kit_id = pk.kit_id
join holding as h on h.kit_id = pk.kit_id
left join repair as i on i.kit_id = pk.kit_id
left join fuses as f on f.kit_id = pk.kit_id
left join cell_held as c on c.kit_id = pk.kit_id
where p.is_remote
