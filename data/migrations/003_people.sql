-- Who may do what, how far members' kits are shared, what they agreed to, and what judged each version.

-- one row per person who may sign in; removed is when they stopped being allowed to, valid_from the moment before
-- which no sign-in counts any more
create table person (
    person_id  integer primary key,
    login      varchar not null,
    name       varchar not null,
    role       varchar not null,
    member     varchar not null,
    added      timestamptz not null,
    removed    timestamptz,
    valid_from timestamptz
);

-- one row per member whose kits are shared otherwise than the club's usual; member '' is the club's usual
create table sharing (
    member varchar primary key,
    share  varchar not null
);

-- one row per time that a person agreed to how their lists are kept, never altered; the last one counts
create table consent (
    consent_id integer primary key,
    person_id  integer not null,
    "at"       timestamptz not null,
    text       varchar not null,
    withdrawn  timestamptz
);

-- one row per key for programs; only the digest of the key is kept
create table token (
    token_id  integer primary key,
    person_id integer not null,
    sha256    varchar not null,
    label     varchar not null,
    created   timestamptz not null,
    expires   timestamptz not null,
    revoked   timestamptz,
    used      timestamptz
);

-- one row per version that was judged: on which day, by which rules, under which policy, with which scores
create table judged (
    change_id integer primary key,
    day       date not null,
    rules     varchar not null,
    policy_id integer not null,
    scores    varchar not null
);
