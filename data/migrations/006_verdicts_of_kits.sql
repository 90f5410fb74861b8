-- How many kits had each verdict, so that readiness can be followed over the seasons.

-- one row per version that was judged and verdict that some kit had then
create table judged_kits (
    change_id integer not null,
    verdict   varchar not null,
    kits      integer not null,
    primary key (change_id, verdict)
);
