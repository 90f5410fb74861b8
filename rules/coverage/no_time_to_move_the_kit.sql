/*
title    = "No time to hand the kit over to the next post"
subject  = "post_kit"
severity = "limits"
why      = "A kit that changes hands is taken down, brought over and set up by somebody else before the next post is on the air."
not_met  = "{subject}: {member}'s {kit} has {gap_min} min between {places}, and other people bring it there; {wanted_min} min are wanted."
mended_by = "coordinator"
fix      = "Move one assignment, give the second post another kit, or have somebody else hold it until the kit is there (costs nothing)."
source   = "common practice: as for people who go on to another post"
applies_to = "kits that are sent to more than one post, at each of them by the ways from it and to it; the same time, and no minute between two places, is kit_promised_twice, which blocks; whoever goes on with the kit has no_time_to_travel"

[param.least_min]
value  = 30
unit   = "min"
why    = "pack up, hand over, move, set up and check in"
source = "common practice"

[param.same_site_min]
value  = 5
unit   = "min"
why    = "between posts of one site nobody travels; the kit is handed over and set up again"
source = "common practice"
*/
with next as (
    select s.kit_id, unnest([s.post_id, s.other_id]) as post_id, date_diff('minute', s.ends, s.other_starts) as gap_min,
        s.post || ' and ' || s.other_post as places, if(s.is_one_site, $same_site_min, $least_min) as wanted_min,
        (gap_min - wanted_min, s.ends, s.other_starts, s.post_id, s.other_id) as nearest
    from sent_on as s
    where s.other_member_id <> s.member_id and s.other_starts >= s.ends and (s.other_starts > s.ends or s.is_one_site)
        and not exists (   -- who is there with it too, and goes on with it
            from assignment_utc as c where c.kit_id = s.kit_id and c.post_id = s.post_id
                and c.member_id = s.other_member_id and c.ends >= s.ends
        )
)
select
    pk.post_kit_id                                      as subject,
    arg_min(n.gap_min, n.nearest)                       as gap_min,
    arg_min(n.wanted_min, n.nearest)                    as wanted_min,
    arg_min(n.places, n.nearest)                        as places,
    any_value(k.lines)                                  as lines,
    coalesce(bool_and(n.gap_min >= n.wanted_min), true) as ok
from post_kit as pk
join kit as k on k.kit_id = pk.kit_id
left join next as n on n.kit_id = pk.kit_id and n.post_id = pk.post_id
where pk.is_assigned and pk.kit_id in (select kit_id from assignment group by kit_id having count(distinct post_id) > 1)
group by pk.post_kit_id
