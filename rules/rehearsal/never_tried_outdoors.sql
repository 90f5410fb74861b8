/*
title     = "Not tried outdoors of late"
subject   = "kit"
severity  = "limits"
why       = "What is missing shows the first time a kit is set up away from the shelf it lives on."
not_met   = "{subject}: furthest it was tried of late: {stage_reached}; set it up in a yard or park before a post hangs on it."
not_known = "{subject}: the club has written down no rehearsal yet, so whether it was tried is not known."
fix       = "Set it up in the yard from the bag alone, with a watch (costs nothing), then write it as a rehearsal: the day, the stage, and what was missing. Look up first: keep masts and wires well away from power lines."
source    = "exercise doctrine builds up step by step; first exercises are never full-scale. The steps themselves are common practice"

[param.least_ladder]
value  = 3
unit   = "step"
why    = "1 bench, 2 room, 3 yard, 4 park, 5 drill, 6 site, 7 event; outdoors begins at 3"
source = "common practice"
*/
select
    p.kit_id                    as subject,
    p.ladder,
    ['never', 'bench', 'room', 'yard', 'park', 'drill', 'site', 'event'][p.ladder + 1] as stage_reached,
    case when p.ladder >= $least_ladder then true
         when (select count(*) from rehearsal) > 0 then false end as ok
from practice as p
