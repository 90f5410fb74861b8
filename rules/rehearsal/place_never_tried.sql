/*
title      = "Place never tried with such a radio"
subject    = "post"
severity   = "limits"
why        = "A hill in the way is found the weekend before, or on the day."
not_met    = "{subject}: coverage is {rf_grade}, and nobody has told of a trial from there with a radio as weak as the one that is sent. Trials told: {place_trials}."
not_known  = "{subject}: coverage is {rf_grade}; whether it was tried from there with a radio as weak as the one that is sent is not known. Trials told: {place_trials}."
fix        = "Go there before the day with the kit that is sent, reach net control (costs nothing), and write a rehearsal with the stage site, the event and the post. Look up for power lines first."
source     = "event instructions ask operators to try their radios from their assigned places beforehand; with the same class of radio: common practice"
applies_to = "posts whose coverage is marginal or poor; of kits there at once the strongest counts, of those in turn the weakest"
*/
with turn as (   -- by kit that is sent the strongest that is there for all of its time
    select a.post_id, a.post_kit_id, a.kit_id, max(b.rf_watts) as best_w
    from post_kit as a
    join post_kit as b on b.post_id = a.post_id
        and (b.post_kit_id = a.post_kit_id or b.is_assigned and b.starts <= a.starts and b.ends >= a.ends)
    where a.is_assigned
    group by a.post_id, a.post_kit_id, a.kit_id
), sent as (
    select post_id, count(kit_id) as kits, case when bool_and(best_w is not null) filter (kit_id is not null)
        then min(best_w) filter (kit_id is not null) end as sent_w
    from turn group by post_id
), trial as (
    select p.post_id, count(*) as place_trials,
        bool_or(coalesce(pk.is_assigned and s.kits = 1 or pk.rf_watts <= s.sent_w, s.post_id is null)) as is_like,
        count(*) filter (s.post_id is not null and (pk.rf_watts is null or s.sent_w is null)) > 0 as is_open
    from post as p
    join rehearsal as r on r.event = p.event and r.post = p.post and r.stage in ('site', 'event') and r.date <= $today
    left join post_kit as pk on pk.post_id = p.post_id and pk.kit_id = r.kit_id
    left join sent as s on s.post_id = p.post_id
    group by p.post_id
)
select
    p.post_id                       as subject,
    p.rf_grade,
    coalesce(t.place_trials, 0)     as place_trials,
    s.sent_w,
    [p.line]                        as lines,
    case when t.is_like then true
         when t.is_open or (select count(*) from rehearsal) = 0 then null else false end as ok
from post as p
left join trial as t using (post_id)
left join sent as s using (post_id)
where p.rf_grade in ('marginal', 'poor')
