/*
title      = "In a role not signed off, with nobody who is"
subject    = "post_kit"
severity   = "blocks"
why        = "A first time at net control, or as a shadow, is not a thing to do alone."
not_met    = "{subject}: {member} is signed off for {roles}, the post asks for {role_needed}, and for some of the time nobody there is signed off for it."
not_known  = "{subject}: the roles of {member} are not written down; the post asks for {role_needed}, and for some of the time nobody there is signed off for it."
told_by    = "coordinator"
mended_by  = "coordinator"
fix        = "Pair them with somebody who is signed off, or have an evaluator sign the line of the task book first (costs nothing)."
source     = "auxiliary communicator task books: roles are signed off by an evaluator; new members serve with a mentor; common practice"
lines_of   = "members"
applies_to = "members who would be alone or among others not signed off; the rest have not_signed_off_for_the_role"
*/
select
    pk.post_kit_id              as subject,
    p.role_needed, coalesce(m.roles, 'no role') as roles,
    [m.line]                    as lines,
    list_contains(string_split(m.roles, ' '), p.role_needed) as ok
from post_kit as pk
join watch as w using (post_kit_id)
join post as p using (post_id)
join member as m on m.member_id = pk.member_id
left join mentor as o using (post_kit_id)
where p.role_needed is not null and (w.is_alone or o.has_mentor is not distinct from false)
