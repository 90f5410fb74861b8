/*
title      = "Licence runs out"
subject    = "post_kit"
severity   = "blocks"
why        = "Without a valid licence nobody transmits; in the two years of grace it can be renewed but not used."
not_met    = "{subject}: {member}'s licence ended or ends on {licence_expires}; it is needed until {needed_on}."
not_known  = "{subject}: the last day of {member}'s licence is not written down."
told_by    = "coordinator"
fix        = "Renew it (about 35 USD in the United States; check the authority's own page) and tell the coordinator its last day, or give the post to someone else until then."
source     = "47 CFR 97.5, 97.21 and 97.25: ten-year term, two years for renewal without operating"
lines_of   = "members"
applies_to = "members who hold a licence or have not said; classes without a term are judged only where a date is written; licence_is_over judges the day of the review"

[shared]
without_term = "licence_is_over"
*/
select
    pk.post_kit_id              as subject,
    m.licence_expires,
    cast(w.ends as date)        as needed_on,
    [m.line]                    as lines,
    m.licence_expires >= needed_on as ok
from post_kit as pk
join watch as w using (post_kit_id)
join member as m on m.member_id = pk.member_id
where m.licence_class is distinct from 'none'
    and (m.licence_expires is not null or not coalesce(list_contains(string_split($without_term, ' '), m.licence_class), false))
