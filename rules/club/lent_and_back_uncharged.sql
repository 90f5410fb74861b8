/*
title      = "Back from a loan and not charged"
subject    = "club"
severity   = "limits"
why        = "The next who takes it off the shelf takes it for full."
not_met    = "{subject}: back from a loan uncharged, with no charge since written down: {uncharged}."
fix        = "Charge each (costs nothing) with the charger for its chemistry, where someone can see it, and write the day in “charged” of the list that it stands in."
source     = "club loan policies: batteries are returned charged"
applies_to = "where some loan that came back tells whether its batteries were charged; of each thing the last loan counts, unless it is out again, and a club's battery of its name, or of its whole kit, that was charged since"
*/
with returned as (
    select lower(trim(item)) as named, arg_max(trim(item), (back, loan_id)) as item, max(back) as back,
        arg_max_null(is_charged_in, (back, loan_id)) as is_charged_in
    from loan where out <= $today group by named having bool_and(back is not null)
), charged as (
    select i.charged, unnest([lower(trim(i.item)), lower(k.kit), lower(k.member || '/' || k.kit)]) as named
    from battery as b join item as i using (item_id) join kit as k on k.kit_id = i.kit_id
    where i.owner = 'club' and b.chemistry <> 'alkaline'
), since as (
    select r.*, bool_and(coalesce(c.charged >= r.back, false)) as is_charged
    from returned as r left join charged as c using (named) where r.is_charged_in is not null group by all
)
select
    0                                                               as subject,
    string_agg(item, ', ' order by item) filter (not is_charged_in and not is_charged) as uncharged,
    uncharged is null                                               as ok
from since
having count(*) > 0
