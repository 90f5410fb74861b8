/*
title      = "Kit sent without its owner's leave"
subject    = "post_kit"
severity   = "blocks"
why        = "A kit whose owner keeps it at home is not there on the day, and the post is counted as held."
not_met    = "{subject}: {lent_kit} is there in the hands of {hands}, and its owner has said that it is not lent."
not_known  = "{subject}: {lent_kit} is there in the hands of {hands}; whether its owner lends it is not written down."
fix        = "Ask the owner and write their yes in may_be_lent, or the loan to who takes it in loans.csv; or send the owner too, or another kit (costs nothing)."
source     = "common practice: nothing is counted that its owner has not agreed to lend"
lines_of   = "kits"
applies_to = "kits sent in the hands of somebody else to a post, for a time at which their owner is not there; the loan book is a yes to the borrower, from the day out to the day due"
*/
with held as (select t.post_id, t.kit_id, t.instant, t.ends, m.member from present as t join member as m using (member_id))
select
    pk.post_kit_id          as subject,
    k.kit || ' of ' || k.member as lent_kit,
    string_agg(distinct t.member, ', ' order by t.member) filter (l.kit_id is null) as hands,
    [k.line]                as lines,
    bool_and(l.kit_id is not null) or k.may_be_lent as ok
from held as t
join kit as k on k.kit_id = t.kit_id and k.member <> t.member
join post_kit as pk on pk.post_id = t.post_id and pk.kit_id = t.kit_id and pk.is_assigned
left join held as o on o.post_id = t.post_id and o.instant = t.instant and o.member = k.member
left join leave as l on l.kit_id = t.kit_id and l.borrower = t.member and l.out <= t.instant::date and l.due >= t.ends::date
where o.post_id is null
group by pk.post_kit_id, k.kit, k.member, k.line, k.may_be_lent
