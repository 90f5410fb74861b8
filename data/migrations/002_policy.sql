-- one row per policy that was put in force, never altered; the last one counts
create table policy (
    policy_id integer primary key,
    "at"      timestamptz not null,
    "by"      varchar not null,
    why       varchar not null,
    text      varchar not null
);
