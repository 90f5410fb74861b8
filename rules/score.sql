-- What a score is made of, and the scores themselves, which rules/verdicts.py works out.

-- the day of a review of posts, which rules.engine sets: a person's own answers are of that day and bear on no post that is over
create macro reviewed_on() as null::date;

-- which judgements bear on which subject: an item on its kit, a kit on its member, an assigned kit and person on the post …
create view bearing as
with own as (
    select 'item' as subject_kind, item_id as subject_id, 'item' as from_kind, item_id as from_id from item
    union all select 'kit', kit_id, 'kit', kit_id from kit
    union all select 'kit', kit_id, 'item', item_id from item
    union all select 'member', member_id, 'member', member_id from member
    union all select 'post', post_id, 'post', post_id from post
    union all select 'post', post_id, 'post_kit', post_kit_id from post_kit where is_assigned
    union all select 'event', event_id, 'event', event_id from event
    union all select 'club', 0, 'club', 0
), posted as (
    select distinct post_id, 'kit' as from_kind, kit_id as from_id from assignment where kit_id is not null
    union select distinct post_id, 'member', member_id from assignment
    where post_id not in (select post_id from post where cast(closes as date) < reviewed_on())
), named as (
    from own
    union all select 'post', post_id, from_kind, from_id from posted
    union all select 'post', a.post_id, 'item', i.item_id
    from (select distinct post_id, kit_id from assignment) as a join item as i using (kit_id)
)
select subject_kind::subject_word as subject_kind, subject_id, from_kind::subject_word as from_kind, from_id from named;

-- which subjects, with all that bears on them, count towards another: a member's kits, an event's posts
create view part as
select 'member'::subject_word as subject_kind, member_id as subject_id, 'kit'::subject_word as part_kind, kit_id as part_id from kit
union all select 'event'::subject_word, event_id, 'post'::subject_word, post_id from post;

-- one row per subject but kits at posts, which stand in those of their posts: its verdict and range; words as their
-- places in SUBJECTS and VERDICTS of rules/verdicts.py
create table scored (kind_no tinyint, subject_id integer, verdict_no tinyint, low double, high double);

create view score as
select enum_range(null::subject_word)[kind_no + 1]::subject_word as subject_kind, subject_id,
    ['not ready', 'not known', 'ready with limits', 'ready'][verdict_no + 1] as verdict, low, high
from scored;
