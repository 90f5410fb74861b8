/*
title     = "No spare fuse of a rating in use"
subject   = "kit"
severity  = "advice"
why       = "A blown fuse ends the day where the next one is at home."
not_met   = "{subject}: too few spare fuses for the ratings in use: {short_ratings}; carry {least} of each."
not_known = "{subject}: fuses are listed without their rating, or spares of which nobody is sure, so the spares cannot be counted."
fix       = "Put {least} spare fuses of each rating in the bag (an assortment is about 8 to 15 USD). Replace a fuse only by one of the same rating, with the battery disconnected."
source    = "common practice: spare parts lists after the 2017 hurricane season and club event checklists"
applies_to = "kits with a fuse or fuse holder in use, or with a lead that tells the rating of the fuse in it"

[param.least]
value  = 2
unit   = "1"
why    = "the first spare often blows while the fault is looked for"
source = "common practice"

[remedy]
kind = "fuse"
*/
select
    kit_id as subject,
    string_agg(rtrim(rtrim(cast(amps_rated as varchar), '0'), '.') || ' A', ', ' order by amps_rated)
        filter (pieces < $least) as short_ratings,
    list_sort(flatten(list(lines))) as lines,
    case when sum(greatest($least - pieces, 0)) filter (amps_rated is not null) > any_value(unrated) then false
         when bool_and(amps_rated is not null and sure >= $least) then true end as ok
from fuse_held
where lines is not null
group by kit_id
