/*
title      = "Licence is over"
subject    = "member"
severity   = "blocks"
why        = "Without a valid licence nobody transmits; in the two years of grace it can be renewed but not used."
not_met    = "{subject}: the licence ended on {licence_expires}."
not_known  = "{subject}: the last day of the licence is not written down."
told_by    = "coordinator"
fix        = "Renew it (about 35 USD in the United States; check the authority's own page) and tell the coordinator its last day."
source     = "47 CFR 97.5, 97.21 and 97.25: ten-year term, two years for renewal without operating"
applies_to = "members who hold a licence, or have not said; until the day of a post it must hold by licence_runs_out, and what posts are over is not judged by the licence of today; classes without a term are judged only where a date is written"

[param.without_term]
value  = "foundation intermediate full basic basic_honours"
unit   = "class"
why    = "Ofcom and ISED licences have no last day as long as the holder keeps the details up to date; for licence_runs_out too"
source = "Ofcom amateur licence terms; ISED RBR-4"
*/
select
    member_id                   as subject,
    licence_expires,
    [line]                      as lines,
    licence_expires >= $today   as ok
from member
where licence_class is distinct from 'none'
    and (licence_expires is not null or not coalesce(list_contains(string_split($without_term, ' '), licence_class), false))
