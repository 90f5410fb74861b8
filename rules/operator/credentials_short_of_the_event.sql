/*
title      = "Background check or waiver short of the event"
subject    = "post_kit"
severity   = "blocks"
why        = "Where an organiser asks for a background check or a signed waiver, who has none does not stand at a post."
not_met    = "{subject}: the organiser asks for: {credentials_asked}; ending before {member}'s shift does: {credentials_over}."
not_known  = "{subject}: the organiser asks for: {credentials_asked}; {member} has no last day written down of: {credentials_open}."
told_by    = "coordinator"
fix        = "Have it done or renewed in time (0 to 60 USD, often paid by who asks for it) and tell the coordinator its last day (vetting_expires, waiver_expires), or send somebody whose holds. The date only: what a check found stays with who ran it."
source     = "yearly requirements of city and county groups; waivers of event organisers; common practice"
lines_of   = "members"
applies_to = "events that ask for a background check or a waiver; the agency's card is no_identity_card"
*/
with asked as (
    select pk.post_kit_id, m.line, c.what, c.expires, c.expires < cast(w.ends as date) as is_over
    from post_kit as pk
    join watch as w using (post_kit_id)
    join post as p using (post_id)
    join event as e on e.event_id = p.event_id
    join member as m on m.member_id = pk.member_id,
    lateral (values ('background check', e.is_vetting_asked, m.vetting_expires),
        ('waiver', e.is_waiver_asked, m.waiver_expires)) as c(what, is_asked, expires)
    where c.is_asked
)
select
    post_kit_id                                             as subject,
    string_agg(what, ', ' order by what)                    as credentials_asked,
    string_agg(what || ' (' || expires || ')', ', ' order by what) filter (is_over) as credentials_over,
    string_agg(what, ', ' order by what) filter (is_over is null) as credentials_open,
    [any_value(line)]                                       as lines,
    case when bool_or(is_over) then false when credentials_open is null then true end as ok
from asked
group by post_kit_id
