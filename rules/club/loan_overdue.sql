/*
title    = "Loan overdue"
subject  = "club"
severity = "limits"
why      = "Club gear that is not back cannot be lent to the next event."
not_met  = "{subject}: loans overdue: {overdue_items}."
fix      = "Call the borrower, agree on a day, or write a new due date (costs nothing); note the condition when it comes back."
source   = "club loan policies: 2 to 4 weeks, condition out and in; an equipment officer keeps the loan book"
*/
select
    0                                                               as subject,
    count(*)                                                        as overdue,
    string_agg(item || ' (' || borrower || ', due ' || due || ')', ', ' order by due) as overdue_items,
    count(*) = 0                                                    as ok
from loan
where back is null and due < $today
