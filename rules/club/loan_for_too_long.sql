/*
title     = "Loan for too long"
subject   = "club"
severity  = "limits"
why       = "What is lent for a season is missed at every event, and nobody looks at it meanwhile."
not_met   = "{subject}: lent for longer than {most_days:.0f} days: {long_loans}."
fix       = "Lend for an event and its two days, or for two to four weeks (costs nothing); look at the piece and write a new loan if it goes out again."
source    = "club loan policies: two to four weeks, or the length of an event, about 48 h"
applies_to = "loans that are out and not due yet; of those past their day loan_overdue speaks"

[param.most_days]
value  = 28
unit   = "d"
why    = "four weeks are the longest that club policies lend for"
source = "club loan policies"
*/
select
    0                                           as subject,
    string_agg(item || ' (' || borrower || ', ' || date_diff('day', out, due) || ' days)', ', ' order by out, item) as long_loans,
    count(*) = 0                                as ok
from loan
where back is null and due >= $today and date_diff('day', out, due) > $most_days
