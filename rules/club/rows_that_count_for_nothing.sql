/*
title     = "Rows that count for nothing"
subject   = "club"
severity  = "limits"
why       = "A post or a person that a slip of the pen leaves out is missed on the day."
not_met   = "{subject}: rows of posts, people and trials that count for nothing, or only in part: {rows_left_out} ({left_out})."
fix       = "Correct the names and hours in these rows, or add what they name, and send the file again (costs nothing). An end of the hours that is left blank is that of the post, or of the event."
source    = "common practice"
applies_to = "posts, assignments and rehearsals"
mended_by = "coordinator"
*/
select
    0                                                           as subject,
    count(distinct (file, line))                                as rows_left_out,
    concat(string_agg(concat(file, ' line ', line, ': ', why), '; ' order by file, line, why) filter (place <= 5),
        case when max(place) > 5 then '; …' else '' end)        as left_out,
    rows_left_out = 0                                           as ok
from (select *, row_number() over (order by file, line, why) as place from stray)
