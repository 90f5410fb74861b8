/*
title      = "Not tried before a remote post, or one held alone"
subject    = "post_kit"
severity   = "blocks"
why        = "Where nothing can be fetched, or nobody stands beside, the first set-up must not be the one that counts."
not_met    = "{subject}: {member}'s {kit} goes {goes_where}; furthest it was tried of late: {stage_reached}."
not_known  = "{subject}: the club has written down no rehearsal yet, so whether {member}'s {kit} was tried is not known."
fix        = "Bring it to a drill of the club, or try it at its post beforehand, or send a kit that has been (costs nothing), and write the day as a rehearsal; look up for power lines first."
source     = "exercise doctrine builds up step by step; the step for remote posts and for those who are alone is common practice"
applies_to = "remote posts, posts that the kit is carried to, and kits that somebody has alone there; elsewhere a car or a partner helps, see never_tried_outdoors"

[param.least_ladder]
value  = 5
unit   = "step"
why    = "1 bench, 2 room, 3 yard, 4 park, 5 drill, 6 site, 7 event; at a drill others hear what does not work before the post hangs on it"
source = "common practice"
*/
select
    pk.post_kit_id              as subject,
    case when post.is_remote then 'where nothing can be fetched' else 'where whoever has it is alone' end
                                as goes_where,
    p.ladder,
    ['never', 'bench', 'room', 'yard', 'park', 'drill', 'site', 'event'][p.ladder + 1] as stage_reached,
    kit.lines                   as lines,
    case when p.ladder >= $least_ladder then true
         when (select count(*) from rehearsal) > 0 then false end as ok
from post_kit as pk
join post using (post_id)
join watch as w using (post_kit_id)
join practice as p on p.kit_id = pk.kit_id
join kit on kit.kit_id = pk.kit_id
where post.is_remote or w.is_kit_alone
