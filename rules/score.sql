-- From judgements to verdicts and score ranges.

-- one row per subject that is judged: the weight of its judgements, and what they come to
create table counted (
    subject_kind varchar, subject_id integer, whole double, sure double, open double, is_blocked boolean,
    is_open boolean, is_limited boolean
);

-- which judgements bear on which subject: an item on its kit, a kit on its member, an assigned kit and person on the post …
create table bearing (subject_kind varchar, subject_id integer, from_kind varchar, from_id integer);

-- one row per subject: its verdict and range
create table score (subject_kind varchar, subject_id integer, verdict varchar, low double, high double);

insert into counted
select subject_kind, subject_id,
    sum(weight) as whole,
    sum(weight) filter (ok) as sure,
    sum(weight) filter (ok is null) as open,
    coalesce(bool_or(not ok and severity_no = 0), false) as is_blocked,
    coalesce(bool_or(ok is null and severity_no = 0), false) as is_open,
    coalesce(bool_or(not ok and severity_no = 1), false) as is_limited
from judgement join weight using (severity_no)
group by subject_kind, subject_id;

insert into bearing
with own as (
    select 'item' as subject_kind, item_id as subject_id, 'item' as from_kind, item_id as from_id from item
    union all select 'kit', kit_id, 'kit', kit_id from kit
    union all select 'kit', kit_id, 'item', item_id from item
    union all select 'member', member_id, 'member', member_id from member
    union all select 'post', post_id, 'post', post_id from post
    union all select 'post', post_id, 'post_kit', post_kit_id from post_kit where is_assigned
), posted as (
    select distinct post_id, 'kit' as from_kind, kit_id as from_id from assignment where kit_id is not null
    union select distinct post_id, 'member', member_id from assignment
)
from own
union all select 'event', event_id, 'event', event_id from event
union all select 'club', 0, 'club', 0
union all select 'post', post_id, from_kind, from_id from posted
union all select 'post', a.post_id, 'item', i.item_id
from (select distinct post_id, kit_id from assignment) as a join item as i using (kit_id);

-- 0 not ready, 1 not known, 2 ready with limits, 3 ready: what a subject's own rules and those that bear on it allow
insert into score
with direct as (
    select b.subject_kind, b.subject_id, coalesce(sum(c.whole), 0) as whole, coalesce(sum(c.sure), 0) as sure,
        coalesce(sum(c.open), 0) as open,
        case when coalesce(bool_or(is_blocked), false) then 0 when coalesce(bool_or(is_open), false) then 1
             when coalesce(bool_or(is_limited), false) then 2 else 3 end as rank
    from bearing as b left join counted as c on c.subject_kind = b.from_kind and c.subject_id = b.from_id
    group by b.subject_kind, b.subject_id
), of_member as (   -- a member is as ready as their best kit allows
    select member_id, sum(whole) as whole, sum(sure) as sure, sum(open) as open, max(rank) as rank
    from direct join kit on subject_kind = 'kit' and subject_id = kit_id group by member_id
), of_event as (    -- an event is as ready as its worst post
    select event_id, sum(whole) as whole, sum(sure) as sure, sum(open) as open, min(rank) as rank
    from direct join post on subject_kind = 'post' and subject_id = post_id group by event_id
), of_club as (     -- the club: its own rules and every member's
    select sum(d.whole) + coalesce(sum(m.whole), 0) as whole, sum(d.sure) + coalesce(sum(m.sure), 0) as sure,
        sum(d.open) + coalesce(sum(m.open), 0) as open, 3 as rank
    from direct as d left join of_member as m on m.member_id = d.subject_id where d.subject_kind = 'member'
), above as (
    select 'member' as subject_kind, member_id as subject_id, whole, sure, open, rank from of_member
    union all select 'event', event_id, whole, sure, open, rank from of_event
    union all select 'club', 0, whole, sure, open, rank from of_club
)
select d.subject_kind, d.subject_id,
    ['not ready', 'not known', 'ready with limits', 'ready'][least(d.rank, coalesce(a.rank, 3)) + 1] as verdict,
    -- what no rule applies to lacks nothing
    coalesce(round(100 * (d.sure + coalesce(a.sure, 0)) / nullif(d.whole + coalesce(a.whole, 0), 0), 1), 100) as low,
    coalesce(round(100 * (d.sure + d.open + coalesce(a.sure, 0) + coalesce(a.open, 0)) / nullif(d.whole + coalesce(a.whole, 0), 0), 1), 100) as high
from direct as d left join above as a using (subject_kind, subject_id);
