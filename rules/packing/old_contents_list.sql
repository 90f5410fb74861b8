/*
title     = "Contents list in the lid is old"
subject   = "kit"
severity  = "advice"
why       = "Whoever packs in the dark packs by the list; an old one leaves new things behind."
not_met   = "{subject}: the list in the lid was printed {list_days:.0f} days ago; print it every {within_days:.0f} days."
not_known = "{subject}: when the list in the lid was printed is not written down."
fix       = "Print the kit sheet, sign and date it, put it in the lid (costs nothing), and write the day in list_printed."
source    = "common practice: a contents list in the lid, renewed every year"

[param.within_days]
value  = 365
unit   = "d"
why    = "kits change from season to season"
source = "common practice"
*/
select
    kit_id                                          as subject,
    date_diff('day', list_printed, $today)          as list_days,
    list_days <= $within_days                       as ok
from kit
