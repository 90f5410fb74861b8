/*
title      = "Licence is over"
subject    = "member"
severity   = "blocks"
why        = "Without a valid licence nobody transmits; in the two years of grace it can be renewed but not used."
not_met    = "{subject}: the licence ended on {licence_expires}."
fix        = "Renew it (about 35 USD in the United States; check the authority's own page) and tell the coordinator its last day."
source     = "47 CFR 97.5, 97.21 and 97.25: ten-year term, two years for renewal without operating"
applies_to = "members whose licence has a last day and who were at no post that is over, which is judged by the licence of its day; until the day of a post it must hold by licence_runs_out"
*/
select
    member_id                   as subject,
    licence_expires,
    [line]                      as lines,
    licence_expires >= $today   as ok
from member
where licence_expires is not null and licence_class is distinct from 'none' and member_id not in (select member_id from assignment where ends < $today)
