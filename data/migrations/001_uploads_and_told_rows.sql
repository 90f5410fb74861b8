-- What was sent, what was read from it, and what was done with it. Times are UTC; times of events are local.

-- one row per file that was accepted, with the bytes as sent; is_current is false once nothing of it is in force
create table upload (
    upload_id  integer primary key,
    "at"       timestamptz not null,
    "by"       varchar not null,
    file       varchar not null,
    stem       varchar not null,
    members    varchar not null,
    rows       integer not null,
    payload    blob not null,
    sha256     varchar not null,
    is_current boolean not null
);

-- one row per accepted change, never altered; the last change_id is the version of the data
create table change (
    change_id integer primary key,
    "at"      timestamptz not null,
    "by"      varchar not null,
    what      varchar not null,
    upload_id integer,
    detail    varchar not null
);

-- one row per row of inventory.csv that is in force
create table told_inventory (
    upload_id integer not null, file varchar not null, line integer not null, member varchar,
    kit varchar, item varchar, kind varchar, quantity integer, module varchar,
    spare boolean, condition varchar, bands varchar, modes varchar, dc_plug varchar, dc_plug_far varchar,
    rf_plug varchar, rf_plug_far varchar, volts_min double, volts_max double, amps_tx double,
    amps_rx double, amps_idle double, amps_rated double, rf_watts double, solar_watts double,
    capacity_ah double, chemistry varchar, wire_awg double, wire_mm2 double, length_m double,
    coax varchar, gain_dbi double, weight_kg double, charged date, tested date, acquired date,
    expires date, tested_ah double, swr double, swr_tested date, polarity_checked date, labelled boolean,
    fuse_at_m double, owner varchar, cost_usd double, notes varchar
);

-- one row per row of members.csv that is in force
create table told_members (
    upload_id integer not null, file varchar not null, line integer not null, member varchar,
    licence_class varchar, licence_expires date, roles varchar, carry_limit_kg double, solo_ok boolean,
    night_ok boolean, heat_limit_c double, cold_limit_c double, walk_limit_km double, last_on_air date,
    on_air_12m integer, events_12m integer, first_aid_expires date, training varchar, available boolean,
    notes varchar
);

-- one row per row of kits.csv that is in force
create table told_kits (
    upload_id integer not null, file varchar not null, line integer not null, member varchar,
    kit varchar, purpose varchar, hours double, packed date, list_printed date, last_used date,
    restocked date, inspected date, notes varchar
);

-- one row per row of rehearsals.csv that is in force
create table told_rehearsals (
    upload_id integer not null, file varchar not null, line integer not null, member varchar,
    kit varchar, date date, stage varchar, trips_back integer,
    missing varchar, hours_on_battery double, notes varchar
);

-- one row per row of events.csv that is in force
create table told_events (
    upload_id integer not null, file varchar not null, line integer not null, event varchar,
    starts timestamp, ends timestamp, lat double, lon double, utc_offset_h double,
    temp_min_c double, temp_max_c double, minutes_to_care double, public boolean,
    storms_possible boolean, shelter varchar, briefed date, notes varchar
);

-- one row per row of posts.csv that is in force
create table told_posts (
    upload_id integer not null, file varchar not null, line integer not null, event varchar,
    post varchar, post_type varchar, opens timestamp, closes timestamp,
    operators integer, bands varchar, modes varchar, rf_watts_min double, duty varchar, access varchar,
    carry_limit_kg double, walk_km double, mains boolean, rf_grade varchar, mast_m double,
    power_line_m double, public_m double, cell_cover boolean, beside_traffic boolean, notes varchar
);

-- one row per row of assignments.csv that is in force
create table told_assignments (
    upload_id integer not null, file varchar not null, line integer not null, event varchar,
    post varchar, member varchar, kit varchar, "from" timestamp, "to" timestamp
);

-- one row per row of offers.csv that is in force
create table told_offers (
    upload_id integer not null, file varchar not null, line integer not null, offer varchar,
    kind varchar, price_usd double, available integer, paid_by varchar, bands varchar,
    modes varchar, dc_plug varchar, dc_plug_far varchar, rf_plug varchar, rf_plug_far varchar,
    volts_min double, volts_max double, amps_tx double, amps_rx double, amps_idle double,
    amps_rated double, rf_watts double, solar_watts double, capacity_ah double, chemistry varchar,
    wire_awg double, wire_mm2 double, length_m double, coax varchar, gain_dbi double, weight_kg double
);

-- one row per row of loans.csv that is in force
create table told_loans (
    upload_id integer not null, file varchar not null, line integer not null, item varchar,
    borrower varchar, out date, due date, back date, condition_out varchar,
    condition_in varchar, notes varchar
);
