/*
title      = "Not signed off for the role"
subject    = "post_kit"
severity   = "limits"
why        = "With a mentor beside them a member learns the role; the mentor must know that they are one."
not_met    = "{subject}: {member} is signed off for {roles}; the post asks for {role_needed}, so somebody must be the mentor."
not_known  = "{subject}: the roles of {member} are not written down; the post asks for {role_needed}."
told_by    = "coordinator"
mended_by  = "coordinator"
fix        = "Name the mentor in the assignment (costs nothing), and sign the line of the task book afterwards."
source     = "auxiliary communicator task books: roles are signed off by an evaluator; new members serve with a mentor; common practice"
lines_of   = "members"
applies_to = "members in company of somebody who is, or may be, signed off; the others have alone_without_the_sign_off. A logger beside an operator is in order"
*/
select
    pk.post_kit_id              as subject,
    p.role_needed, coalesce(m.roles, 'no role') as roles,
    [m.line]                    as lines,
    list_has_any(string_split(m.roles, ' '), [p.role_needed, 'logger']) as ok
from post_kit as pk
join watch as w using (post_kit_id)
join post as p using (post_id)
join member as m on m.member_id = pk.member_id
left join mentor as o using (post_kit_id)
where p.role_needed is not null and not w.is_alone and o.has_mentor is distinct from false
