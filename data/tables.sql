-- What we were told, filled from the kinds and numbered. Every table of the club, its grain as a comment.
-- Reference tables (kind, connector, mating, chemistry, wire, coax, duty, post_type, band, mode) are loaded
-- as they stand in data/reference, under the singular of their file name, before these.

-- what most rules ask of an item: a number where it lies, a word where it is read; kinds of a role follow one another
create type kind_word as enum (select kind from kind order by role, kind);
create type cell_word as enum ('aaa', 'aa', 'c', 'd', '9v', 'cr2032', 'cr2', 'cr123a', '18650', '21700');
create type polarity_word as enum ('ok', 'reversed');
create type condition_word as enum ('ok', 'faulty', 'removed', 'unknown');
create type role_word as enum (select distinct role from kind order by role);

-- whether one of some things works: NULL where those that there are may not; a join that found none hands over one NULL
create macro any_works(condition) as case when bool_or(condition = 'ok') then true when count(condition) = 0 then false end;

-- whether a thing is still good when a shift ends: until its own last day, for ever where it bears none
create macro is_in_date(expires, ends) as coalesce(expires >= cast(ends as date), true);

-- what a charger and a battery must share: one for lead-acid serves AGM, gel and flooded, one for NiMH also those
-- that keep their charge
create macro charged_as(chemistry) as
    case when chemistry in ('agm', 'gel', 'flooded') then 'lead' when chemistry = 'nimh_lsd' then 'nimh' else chemistry end;

-- whether hours can be those of a post at an event, or of somebody at a post: they end after they begin, and lie less
-- than a day from its own
create macro can_be_hours(begins, ends, of_begins, of_ends) as
    begins < ends and begins < of_ends + interval 1 day and ends > of_begins - interval 1 day;

-- when a local time is by UTC, of an event whose clocks are clock_min ahead of it, and from clocks_change on clock_after_min;
-- one that comes twice is the first, one that is left out is when they change
create macro utc_of(local_time, clock_min, clocks_change, clock_after_min) as
    case when local_time >= clocks_change then local_time - to_minutes(clock_after_min)
         else least(local_time - to_minutes(coalesce(clock_min, 0)),
             clocks_change - to_minutes(greatest(clock_min, clock_after_min))) end;

-- the local time of such an event at an instant of UTC
create macro local_of(utc, clock_min, clocks_change, clock_after_min) as
    utc + to_minutes(case
        when utc >= clocks_change - to_minutes(greatest(clock_min, clock_after_min)) then clock_after_min
            else coalesce(clock_min, 0) end);

-- one row per member who is named anywhere
create table member (
    member_id         integer, member varchar, is_available boolean default true,
    licence_class     varchar, licence_expires date, roles varchar, carry_limit_kg double, solo_ok boolean,
    night_ok          boolean, heat_limit_c double, cold_limit_c double, walk_limit_km double, last_on_air date,
    on_air_12m        integer, events_12m integer, first_aid_expires date, id_expires date, vetting_expires date,
    waiver_expires date, training varchar, training_expires date, has_radio_by_heart boolean, line integer
);

-- one row per kit: a member's bag or box set; may_be_lent is NULL where nobody has said so, is_pool where all is the club's
create table kit (
    kit_id  integer, member_id integer, member varchar, kit varchar, purpose varchar, hours double, packed date,
    list_printed date, last_used date, restocked date, inspected date, stored_min_c double,
    stored_max_c double, may_be_lent boolean, is_labelled boolean, is_sturdy boolean, is_locked_off boolean, rf_evaluated date,
    is_pool boolean, line integer, lines integer[]
);

-- one row per line of an inventory; a value that was not told stands as the kind's typical value, marked assumed where asked
create table item (
    item_id integer, kit_id integer, member_id integer, line integer, item varchar, kind kind_word, role role_word,
    quantity integer default 1, module varchar, is_spare boolean default false, condition condition_word default 'ok',
    is_usable boolean default true,
    bands varchar, modes varchar, dc_plug varchar, dc_plug_far varchar, rf_plug varchar, rf_plug_far varchar,
    volts_min double, volts_max double, amps_tx double, amps_rx double, amps_idle double, amps_rated double,
    rf_watts double, solar_watts double, capacity_ah double, chemistry varchar, cell_size cell_word, wire_awg double, wire_mm2 double,
    length_m double, coax varchar, gain_dbi double, weight_kg double, cost_usd double,
    amps_tx_low double, rf_watts_low double, is_low_assumed boolean default false,
    charged date, tested date, acquired date, expires date, tested_ah double, stored_charge_share double,
    swr double, swr_tested date, polarity_checked date, polarity polarity_word, programmed date,
    is_set_by_hand boolean, pack_family varchar, serviced date, counted date,
    is_labelled boolean, fuse_at_m double, owner varchar,
    dc_plug_is_assumed boolean default false, amps_tx_is_assumed boolean default false,
    amps_rx_is_assumed boolean default false, amps_idle_is_assumed boolean default false,
    amps_rated_is_assumed boolean default false, rf_watts_is_assumed boolean default false,
    capacity_ah_is_assumed boolean default false, chemistry_is_assumed boolean default false,
    wire_awg_is_assumed boolean default false, length_m_is_assumed boolean default false,
    coax_is_assumed boolean default false, gain_dbi_is_assumed boolean default false,
    weight_kg_is_assumed boolean default false
);

-- one row per time a kit was tried, at an event or before one; missing and faulty hold things between semicolons
create table rehearsal (
    kit_id integer, date date, stage varchar, trips_back integer, missing varchar, hours_on_battery double,
    event varchar, post varchar, battery_left_share double, faulty varchar, setup_min double, line integer
);

-- one row per event; its hours, and those at its posts, are local. utc_offset_h: when it starts, NULL where neither it nor the
-- time zone is told; how far its clocks are ahead of UTC is then taken from the event nearest in time that tells it
create table event (
    event_id integer, event varchar, starts timestamp, ends timestamp, lat double, lon double, utc_offset_h double,
    time_zone varchar, clock_min integer default 0, clocks_change timestamp, clock_after_min integer,
    temp_min_c double, temp_max_c double, minutes_to_care double, is_public boolean, is_storm_possible boolean,
    shelter varchar, storm_watch varchar, briefed date, channel varchar, channel_alternate varchar, channel_simplex varchar,
    action_starts timestamp, packets_sent date, is_id_asked boolean, is_vetting_asked boolean, is_waiver_asked boolean,
    training_asked varchar, line integer
);

-- one row per post of an event; what the coordinator left open stands as the post type's usual value; is_vehicle: it is held in
-- one, as by its type, or as a sweep that a vehicle stays with and that nobody said is walked; is_on_foot: held on foot by its
-- type, and not in a vehicle; is_remote: remote by its type, or all is carried there; needs_two_ways: by its type, or an aid
-- station that is carried to, or walked to where no cell phone works for certain; is_beside_traffic: NULL where nobody said and
-- neither the post type nor the way there, which no ordinary car takes, says that it is off the road; shelter: none where there
-- is none, NULL where nobody knows, the event's where a car goes to the post and nothing is told
create table post (
    post_id integer, event_id integer, event varchar, post varchar, post_type varchar, site varchar, opens timestamp,
    closes timestamp, shift_h double, operators integer default 1, radios integer default 1, bands varchar,
    modes varchar, rf_watts_min double, duty varchar, tx_share double, rx_share double, idle_share double,
    is_critical boolean default false, needs_two_ways boolean default false, role_needed varchar,
    is_vehicle boolean default false, is_on_foot boolean default false, access varchar default 'drive', is_remote boolean default false,
    carry_limit_kg double, walk_km double, has_mains boolean, rf_grade varchar, mast_m double, power_line_m double,
    public_m double, has_cell_cover boolean, is_beside_traffic boolean, rotation_h double,
    power_setting varchar default 'high', has_vehicle boolean, vehicles integer, check_in_min double, missed_check_in varchar,
    alert_path varchar, shelter varchar, line integer
);

-- one row per person sent to a post; kit_id is NULL where a helper brings no kit, and may be a kit that another lends
create table assignment (
    assignment_id integer, event_id integer, post_id integer, member_id integer, kit_id integer,
    starts timestamp, ends timestamp, travel_h double, line integer
);

-- one row per line of the club's price book
create table offer (
    offer varchar, kind varchar, price_usd double, available integer, paid_by varchar,
    volts_min double, volts_max double, amps_rated double, rf_watts double, capacity_ah double, chemistry varchar, line integer
);

-- one row per loan of club gear; back is NULL while it is out
create table loan (
    loan_id integer, item varchar, borrower varchar, out date, due date, back date, condition_out varchar,
    condition_in varchar, is_charged_in boolean, line integer
);

-- one row per row of a file that counts for nothing, as what it names is not there or its hours cannot be, or whose kit does
create table stray (file varchar, line integer, why varchar);
