/*
title     = "Spares pool too small"
subject   = "club"
severity  = "limits"
why       = "The pool rescues the post whose battery died or whose owner is ill."
not_met   = "{subject}: for the largest event (posts: {posts}) the club's own gear that is neither sent anywhere in use nor on loan is short of: {short_kinds}."
not_known = "{subject}: no item says that it is the club's, or of some nobody is sure whether they work, so the pool cannot be counted."
fix       = "Buy or ask for what is short, or write club in the owner column. A handheld with two packs is about 70 to 510 USD, a 20 Ah battery 90 to 260, a mobile 180 to 600, an antenna with coax 50 to 140, an adapter kit 20 to 60, a box of fuses 8 to 15."
source    = "common practice: for ten posts one handheld with two packs, one mobile, one 20 Ah battery, one antenna with 25 ft of coax; for all of them one box of adapters and one of fuses"

[param.posts_each]
value  = 10
least  = 1
unit   = "1"
why    = "posts that one set of spares backs"
source = "common practice"

[param.battery_ah]
value  = 20
unit   = "Ah"
why    = "twelve hours of an ordinary post"
source = "county emergency group power pages"

[param.coax_m]
value  = 7.5
unit   = "m"
why    = "25 ft, as coax is sold: from a table at the post to an antenna outside"
source = "common practice"
*/
with largest as (
    select coalesce(max(posts), 0) as posts, greatest(ceil(coalesce(max(posts), 0) / cast($posts_each as double)), 1) as sets
    from (select count(*) as posts from post group by event_id)
), sent as (
    select distinct kit_id from assignment where kit_id is not null and ends >= $today
), lent as (
    select lower(trim(item)) as named, count(*) as loans from loan
    where out <= $today and coalesce(back > $today, true) group by named
), whole as (   -- kits that are lent as such
    select arg_min(kit_id, kit_id) as kit_id
    from (select kit_id, unnest([lower(kit), lower(member || '/' || kit)]) as named from kit) join lent using (named)
    group by named having count(*) = 1
), own as (   -- of pieces that are called alike as many as are not out
    select * replace (greatest(least(quantity, sum(quantity) over (partition by lower(trim(item)) order by item_id) - coalesce(loans, 0)), 0)
        as quantity)
    from item left join lent on named = lower(trim(item))
    where is_usable and owner = 'club' and (is_spare or kit_id is null or kit_id not in (from sent))
        and (kit_id is null or kit_id not in (from whole))
), pool as (   -- what works for certain (is_sure), and with it what may
    select is_sure,
        coalesce(sum(quantity) filter (kind = 'handheld'), 0) as handhelds,
        coalesce(sum(quantity) filter (role = 'pack'), 0) as packs,
        coalesce(sum(quantity) filter (kind in ('mobile_vhf_uhf', 'mobile_data')), 0) as mobiles,
        coalesce(sum(quantity) filter (role = 'source' and capacity_ah >= $battery_ah), 0) as batteries,
        coalesce(sum(quantity) filter (role = 'antenna' and kind <> 'whip'), 0) as antennas,
        coalesce(sum(quantity) filter (role = 'coax' and length_m >= $coax_m), 0) as lines_of_coax,
        count(*) filter (kind = 'rf_adapter_kit' and quantity > 0) as adapter_boxes,
        count(*) filter (kind = 'fuse' and quantity > 0) as fuse_boxes
    from (select true as is_sure union all select false)
    left join (
        select *, unnest(if(condition = 'ok', [true, false], [false])) as is_sure from own
    ) using (is_sure)
    group by is_sure
), short as (
    select is_sure, posts, concat_ws(', ', case when handhelds < sets then 'handhelds' end,
        case when packs < 2 * sets then 'handheld packs' end,
        case when mobiles < sets then 'mobiles' end, case when batteries < sets then 'batteries' end,
        case when antennas < sets then 'antennas' end, case when lines_of_coax < sets then 'coax of ' || $coax_m || ' m' end,
        case when adapter_boxes = 0 then 'an adapter kit' end, case when fuse_boxes = 0 then 'fuses' end) as short_kinds
    from largest cross join pool
)
select
    0           as subject,
    s.posts,
    s.short_kinds,
    case when exists (from item where is_usable and owner is not null)
         then case when t.short_kinds = '' then true when s.short_kinds <> '' then false end end as ok
from short as s join short as t on not s.is_sure and t.is_sure
