-- a byte for what is judged: judgements are many
create type subject_word as enum ('item', 'kit', 'member', 'post_kit', 'post', 'event', 'club');

-- one row per rule and subject judged; ok is NULL where the answer is not known
create table judgement (rule_no smallint, severity_no tinyint, subject_kind subject_word, subject_id integer, ok boolean, evidence varchar);

-- one row per thing that can be judged, with the name it is spoken of by
create table subject (
    subject_kind subject_word, subject_id integer, subject varchar, member varchar, kit varchar, event varchar, post varchar,
    is_reported boolean
);

insert into subject
select 'item', item_id, concat(kit.member, '/', kit.kit, '/', item.item, ' (line ', item.line, ')'),
    kit.member, kit.kit, null::varchar, null::varchar, true
from item join kit using (kit_id)
union all select 'kit', kit_id, member || '/' || kit, member, kit, null, null, true from kit
union all select 'member', member_id, member, member, null, null, null, true from member
union all select 'post_kit', post_kit_id, post.event || '/' || post.post, member.member, kit.kit, post.event, post.post, is_assigned
from post_kit as pk join post using (post_id) join kit using (kit_id) join member on member.member_id = pk.member_id
union all select 'post', post_id, event || '/' || post, null, null, event, post, true from post
union all select 'event', event_id, event, null, null, event, null, true from event
union all select 'club', 0, 'club', null, null, null, null, true;
