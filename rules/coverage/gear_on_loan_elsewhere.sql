/*
title      = "Gear that is elsewhere by the loan book"
subject    = "post_kit"
severity   = "blocks"
why        = "What somebody else has taken home is counted in the bag and is not there on the day."
not_met    = "{subject}: of {member}'s {kit} this is lent to somebody else at that time, or back with its owner: {items_away}."
not_known  = "{subject}: something called {items_away} is on loan at that time; whether it is what {member}'s {kit} lists is not written down."
told_by    = "coordinator"
fix        = "Call it back before the day and have the coordinator write when it came (back), or lend what is borrowed until after the day (a later due), or give the post another kit (costs nothing). Give pieces that are alike a number each, and what is the club's another name than what is a member's own."
source     = "club loan policies; common practice: nothing counted twice"
applies_to = "kits that hold gear of the club, and those of which the loan book lends a thing, or all, by a name that nobody else's has; of a thing of the member's own it is not known, as the club may have another of that name that nobody lists; and kits that list as borrowed (owner loan) what the loan book lends to their member"
*/
with called as (
    select kit_id, member, unnest([lower(kit), lower(member || '/' || kit)]) as named from kit
), lent as (
    select distinct lower(trim(item)) as named from loan
), thing as (
    select i.kit_id, k.member, k.kit, i.line, i.item, lower(trim(i.item)) as named, i.quantity,
        coalesce(i.owner = 'club', false) as is_club
    from item as i join kit as k using (kit_id)
    where i.is_usable and (i.owner = 'club' or i.owner is distinct from 'loan' and lower(trim(i.item)) in (select named from lent))
    qualify is_club or min(k.member) over (partition by named) = max(k.member) over (partition by named)
        and not bool_or(is_club) over (partition by named)
), whole as (
    select kit_id, named from called semi join lent using (named) anti join thing using (named)
    qualify min(member) over (partition by named) = max(member) over (partition by named)
), held as (
    select kit_id, named, any_value(item) as item, list(line order by line) as lines, bool_or(is_club) as is_sure
    from thing group by kit_id, named
    union all
    select kit_id, named, 'all of it', null, true from whole
), pieces as (
    select named, sum(quantity) as pieces from (select distinct member, kit, line, named, quantity from thing) group by named
    union all
    select distinct named, 1 from whole
), borrowed as (
    select i.kit_id, k.member, i.line, i.item, lower(trim(i.item)) as named
    from item as i join kit as k using (kit_id)
    where i.is_usable and i.owner = 'loan' and (named, k.member) in (select lower(trim(item)), borrower from loan)
), away as (
    select pk.post_kit_id, h.item, h.lines, count(*) >= any_value(p.pieces) and any_value(h.is_sure) as is_away
    from post_kit as pk
    join held as h on h.kit_id = pk.kit_id
    join pieces as p on p.named = h.named
    join loan as l on lower(trim(l.item)) = h.named
    join member as m on m.member_id = pk.member_id
    join kit as k on k.kit_id = pk.kit_id
    where l.borrower is distinct from m.member and l.borrower is distinct from k.member
        and l.out <= cast(pk.ends as date)
        -- one that is overdue comes back nobody knows when
        and coalesce(l.back > cast(pk.starts as date), l.due < $today or l.due >= cast(pk.starts as date))
    group by pk.post_kit_id, h.item, h.lines
    union all
    select pk.post_kit_id, b.item, [b.line], true
    from post_kit as pk
    join borrowed as b on b.kit_id = pk.kit_id
    join loan as l on lower(trim(l.item)) = b.named and l.borrower = b.member
    group by pk.post_kit_id, b.item, b.line
    having not bool_or(l.out <= cast(pk.starts as date) and coalesce(l.back, l.due) >= cast(pk.ends as date))
)
select
    pk.post_kit_id                                          as subject,
    string_agg(a.item, ', ' order by a.item)                as items_away,
    coalesce(flatten(list(a.lines order by a.item) filter (a.lines is not null)), any_value(k.lines)) as lines,
    case when bool_or(a.is_away) then false when count(a.item) = 0 then true end as ok
from post_kit as pk
join kit as k on k.kit_id = pk.kit_id
left join away as a on a.post_kit_id = pk.post_kit_id
where pk.kit_id in (select kit_id from held union all select kit_id from borrowed)
group by pk.post_kit_id
