/*
title      = "Alone in a role not signed off"
subject    = "post_kit"
severity   = "blocks"
why        = "A first time at net control, or as a shadow, is not a thing to do alone."
not_met    = "{subject}: {member} would be alone as {role_needed} and is signed off for {roles}."
fix        = "Pair them with somebody who is signed off, or have an evaluator sign the line of the task book first."
source     = "auxiliary communicator task books: roles are signed off by an evaluator; new members serve with a mentor; common practice"
applies_to = "members who would be alone and whose roles are told; the others have not_signed_off_for_the_role"
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
where p.role_needed is not null and w.is_alone and m.roles is not null
