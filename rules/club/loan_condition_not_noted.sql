/*
title    = "Condition of a loan not noted"
subject  = "club"
severity = "limits"
why      = "What was broken before, and what came back broken, is settled by the slip or by a quarrel."
not_met  = "{subject}: loans: {loans}; condition not noted on the way out: {unnoted_out}, on the way back: {unnoted_in}."
fix      = "Look at each piece with the borrower (costs nothing), and write condition_out and condition_in; batteries come back charged."
source   = "club loan policies: condition out and in, batteries returned charged"
*/
select
    0                                                                   as subject,
    count(*)                                                            as loans,
    count(*) filter (trim(coalesce(condition_out, '')) = '')            as unnoted_out,
    count(*) filter (back is not null and trim(coalesce(condition_in, '')) = '') as unnoted_in,
    unnoted_out + unnoted_in = 0                                        as ok
from loan
