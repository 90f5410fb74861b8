/*
title      = "Not signed off for the role"
subject    = "post_kit"
severity   = "limits"
why        = "With a mentor beside them a member learns the role; the mentor must know that they are one."
not_met    = "{subject}: {member} serves as {role_needed} with someone and is signed off for {roles}."
not_known  = "{subject}: the roles of {member} are not written down; the post asks for {role_needed}."
fix        = "Name the mentor in the assignment, and sign the line of the task book afterwards."
source     = "auxiliary communicator task books: roles are signed off by an evaluator; new members serve with a mentor; common practice"
applies_to = "members who would have company, or whose roles are not told; the others have alone_without_the_sign_off"
*/
select
    pk.post_kit_id              as subject,
    p.role_needed, coalesce(m.roles, 'none told') as roles,
    [m.line]                    as lines,
    list_contains(string_split(m.roles, ' '), p.role_needed) as ok
from post_kit as pk
join watch as w using (post_kit_id)
join post as p using (post_id)
join member as m on m.member_id = pk.member_id
where p.role_needed is not null and (not w.is_alone or m.roles is null)
