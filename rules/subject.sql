-- a byte for what is judged: judgements are many
create type subject_word as enum ('item', 'kit', 'member', 'post_kit', 'post', 'event', 'club');

-- one row per rule and subject judged; ok is NULL where the answer is not known; smaller integers would be appended more slowly
create table judgement (rule_no integer, severity_no integer, subject_kind subject_word, subject_id integer,
    ok boolean, evidence varchar);

-- with a row, no kit is looked at for posts that it is not sent to: in copies where nothing rests on who could be asked instead
create table sent_only (is_so boolean);

-- one row per thing that can be judged, with the name it is spoken of by and the lines that tell all of it; at a post the member
-- is who brings the kit, and of another's kit is said whose it is
create view subject as
select 'item'::subject_word as subject_kind, item_id as subject_id,
    concat(kit.member, '/', kit.kit, '/', item.item, ' (line ', item.line, ')') as subject,
    kit.member, kit.kit, null::varchar as event, null::varchar as post, true as is_reported, [item.line] as lines
from item join kit using (kit_id)
union all select 'kit'::subject_word, kit_id, member || '/' || kit, member, kit, null, null, true, lines from kit
union all select 'member'::subject_word, member_id, member, member, null, null, null, true, [line] from member
union all select 'post_kit'::subject_word, post_kit_id, post.event || '/' || post.post, member.member,
    kit.kit || if(kit.member = member.member, '', ' of ' || kit.member), post.event, post.post, is_assigned, null
from post_kit as pk join post using (post_id) left join kit on kit.kit_id = pk.kit_id join member on member.member_id = pk.member_id
union all select 'post'::subject_word, post_id, event || '/' || post, null, null, event, post, true, [line] from post
union all select 'event'::subject_word, event_id, event, null, null, event, null, true, [line] from event
union all select 'club'::subject_word, 0, 'club', null, null, null, null, true, null;
