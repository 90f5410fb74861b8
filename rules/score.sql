-- From judgements to verdicts and score ranges. Ranks: 0 not ready, 1 not known, 2 ready with limits, 3 ready.

-- which judgements bear on which subject: an item on its kit, a kit on its member, an assigned kit and person on the post …
create view bearing as
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

-- one row per subject: its verdict and range
create table score (subject_kind varchar, subject_id integer, verdict varchar, low double, high double);

insert into score
with told as (
    select subject_kind, subject_id, weight as whole, case when ok then weight else 0 end as sure,
        case when ok is null then weight else 0 end as open,
        case when ok then 3 when severity_no = 0 and ok is null then 1 when severity_no = 0 then 0
             when severity_no = 1 and not ok then 2 else 3 end as rank
    from judgement join weight using (severity_no)
    union all
    select subject_kind, subject_id, 0, 0, 0, 3 from subject   -- what no rule applies to lacks nothing
), counted as materialized (   -- the weight of a subject's own judgements, and the rank that they allow
    select subject_kind, subject_id, sum(whole) as whole, sum(sure) as sure, sum(open) as open, min(rank) as rank
    from told group by subject_kind, subject_id
), direct as (   -- with what else bears on it, which on an item is nothing
    select subject_kind, subject_id, sum(whole) as whole, sum(sure) as sure, sum(open) as open, min(rank) as rank
    from (
        select subject_kind, subject_id, whole, sure, open, rank from counted where subject_kind not in ('item', 'post_kit')
        union all
        select b.subject_kind, b.subject_id, c.whole, c.sure, c.open, c.rank
        from bearing as b join counted as c on c.subject_kind = b.from_kind and c.subject_id = b.from_id
        where b.from_kind <> b.subject_kind
    ) group by subject_kind, subject_id
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
), together as (
    select subject_kind, subject_id, whole, sure, open, rank from counted where subject_kind = 'item'
    union all
    select d.subject_kind, d.subject_id, d.whole + coalesce(a.whole, 0), d.sure + coalesce(a.sure, 0),
        d.open + coalesce(a.open, 0), least(d.rank, a.rank)
    from direct as d left join above as a using (subject_kind, subject_id)
)
select subject_kind, subject_id, ['not ready', 'not known', 'ready with limits', 'ready'][rank + 1] as verdict,
    coalesce(round(100 * sure / nullif(whole, 0), 1), 100) as low,
    coalesce(round(100 * (sure + open) / nullif(whole, 0), 1), 100) as high
from together;
