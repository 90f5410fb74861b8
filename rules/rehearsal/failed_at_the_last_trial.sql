/*
title      = "Failed at the last trial"
subject    = "kit"
severity   = "limits"
why        = "What failed on the bench fails at the post; a trial is worth what is mended after it."
not_met    = "{subject}: at the trial {tried_days:.0f} days ago this failed, and its line does not say that it works again: {failed}."
not_known  = "{subject}: at the trial {tried_days:.0f} days ago this failed, and no line of the kit is called so: {failed}."
fix        = "Mend or exchange it (nothing for a loose plug, about 25 to 150 USD for a radio), try it, and write the day in tested or acquired; what does not work is faulty in condition. Unplug the battery before you open anything."
source     = "common practice: what failed becomes a changed line of the list"
lines_of   = "inventory"
applies_to = "kits of whose last trial somebody wrote what failed, by the name or kind in the inventory; until then such a thing counts as one that may not work"
*/
with named as (
    select r.kit_id, r.date, trim(unnest(string_split(r.faulty, ';'))) as name
    from rehearsal as r join practice as p on p.kit_id = r.kit_id and p.last_rehearsed = r.date
    where r.faulty is not null
), found as (
    select n.kit_id, n.date, n.name, count(i.item_id) > 0 as is_there, list(distinct i.line) filter (i.line is not null) as lines,
        bool_and(i.condition <> 'unknown') as is_settled   -- see data/failures.py
    from named as n left join item as i on i.kit_id = n.kit_id and (lower(i.item) = lower(n.name) or i.kind::varchar = lower(n.name))
    where n.name <> ''
    group by n.kit_id, n.date, n.name
)
select
    kit_id                                                          as subject,
    date_diff('day', any_value(date), $today)                       as tried_days,
    string_agg(name, ', ' order by name) filter (not coalesce(is_settled, false)) as failed,
    list_sort(flatten(list(lines) filter (lines is not null and not is_settled))) as lines,
    case when bool_or(is_there and not is_settled) then false when bool_and(is_there) then true end as ok
from found
group by kit_id
