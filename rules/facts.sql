-- Facts: what follows from the told tables by computing. Each is worked out by the function of its name in rules/facts.
-- `how` says what a row rests on: told, assumed (a typical value of the kind) or measured. NULL: not known.

-- one row per kit: what it holds that works, spares too, and the lines that say so; the weight of all that is in it, in how
-- many modules it is packed, and the heaviest of them; is_peak_assumed: whether a radio among which that of the peak current is
-- found does not tell its own; is_for_air: whether a radio, an antenna or a feed line is listed, even
-- one that was taken out, or nothing at all; another is a bag of other things, as a shelter or a generator
create table holding (
    kit_id integer, radios integer default 0, antennas integer default 0, antennas_apart integer default 0,
    batteries integer default 0, packs integer default 0, handhelds integer default 0,
    has_mobile boolean default false, has_mast boolean default false, peak_a double, is_peak_assumed boolean default false, radio_lines integer[] default [],
    antenna_lines integer[] default [], pack_lines integer[] default [],
    weight_kg double, is_weight_known boolean default true, is_weight_assumed boolean default false, modules integer default 0, heaviest_module varchar, module_kg double,
    is_for_air boolean default true
);

-- one row per spare radio that is no handheld and, beside a radio in use, has nothing in its kit to put it on the air: no source
-- and no lead to a vehicle's, or no antenna for any of its bands
create table idle_radio (item_id integer, kit_id integer);

-- one row per kit: complete stations that share no item, and what hangs on a single one; doubtful_lines are those weak
-- lines that may have a second among what is not known
create table station (
    kit_id integer, stations_low integer, stations_high integer, missing_link varchar, spare_kind varchar,
    weak_lines integer[] default [], doubtful_lines integer[] default []
);

-- one row per item on the example station of a kit, in order from source to antenna; not certain where the kit has
-- a station only if what is not known fits
create table station_step (kit_id integer, step integer, item_id integer, is_certain boolean default true);

-- one row per lead, fuse, booster or source and radio to which its plugs lead, of those that do not lead straight to each radio
-- of their kit that is no handheld; amps_tx: of the radio; is_converted: only through a converter
create table leads_to (item_id integer, kit_id integer, radio_item_id integer, amps_tx double, is_converted boolean default false);

-- one row per radio that is no handheld and lead, fuse or converter on one of the shortest ways to it by plugs, in kits with
-- a thing that does not by itself join each source to each such radio; rung: which it is from the source, from 1, where the
-- radio itself stands beside leads if a source mates with it, or in their place; amps_tx: of the radio
create table chain (radio_item_id integer, amps_tx double, rung integer, item_id integer);

-- one row per source or pack and radio of its kit that are not joined for certain, straight or, where the kit has a converter
-- for that radio, through it (is_straight, is_converted; NULL: not known), by sort: a boost, a buck or another (is_stepped),
-- and whether those of a sort hang on another converter, none on the source itself as surely (is_boost_in_series …); where
-- nothing is joined to a radio for certain, what may be counts as if it were
create table apart (
    item_id integer, radio_item_id integer, is_straight boolean, is_converted boolean, is_boosted boolean, is_bucked boolean,
    is_stepped boolean, is_boost_in_series boolean, is_buck_in_series boolean, is_step_in_series boolean
);

-- one row per item that stores energy (batteries, packs, power stations), with what rules ask of it as an item; usual_a: A that
-- one which tells no rating carries, at the low end of what is usual of its chemistry and size
create table battery (
    item_id integer, kit_id integer, kind varchar, chemistry varchar, chemistry_is_assumed boolean default false,
    is_pack boolean default false, is_spare boolean default false, acquired date, tested date, stored_charge_share double,
    dependable_ah double, usable_wh double, age_years double, charged_days double, charge_limit_days double, charge_end_days double,
    charge_left_share double, measured_share double, age_factor double, usual_a double, how varchar
);

-- one row per DC lead or adapter, whose wire carries a radio's supply current; blocks and meters have next to none
create table lead (
    item_id integer, kit_id integer, peak_a double, wire_mm2 double, length_m double, drop_v double, drop_share double, how varchar
);

-- one row per fuse in use and per DC lead with the fuse in it: from which rating to which it suits the load and the wire; the
-- thinnest lead that it may sit before carries thin_a for certain, the heaviest ampacity_a; is_fitted: no loose one, as in
-- fitted_fuse
create table fuse (
    item_id integer, kit_id integer, is_fuse boolean default true, is_fitted boolean default true, fuse_a double, peak_a double,
    least_a double, wire_mm2 double, thin_a double, ampacity_a double, is_rating_assumed boolean default false, how varchar
);

-- one row per feed line, and per pigtail on the way of the example station: loss on the highest band that a radio and an
-- antenna of its kit share, if matched, whether it is on the way of the example station, and how much of the power there
-- reaches the antenna through all lines on the way, with the standing-wave ratio told of it
create table feedline (
    item_id integer, kit_id integer, coax varchar, length_m double, band varchar, frequency_mhz double, loss_db double,
    rf_watts double, swr double, antenna_w double, is_adapter boolean default false, is_on_way boolean default false, how varchar
);

-- one row per thing in a kit with a radio that is no handheld that something else passes than the current of the hungriest of
-- these, into the radio: A for each of that current, and at which volts before a converter
create table passing (item_id integer, gain double, nominal_v double);

-- one row per kit and radio that works: what it draws and the bank that would feed it; solar_w is what its panels give behind
-- a controller in full sun, solar_may_w with panels and controllers of which nobody is sure whether they work;
-- has_mains_supply is NULL where that alone is not known; path_ohm: by the worst of the leads that may feed it,
-- path_least_ohm by the best; open_items: batteries and supplies of which nobody tells whether they are joined to it;
-- has_apart: whether its kit has a battery or pack for such a radio that is not
create table supply (
    supply_id integer, kit_id integer, radio_item_id integer, is_main boolean default true, is_handheld boolean,
    bands varchar, amps_tx double, amps_rx double, amps_idle double, accessory_a double default 0, rf_watts double,
    bank_ah double, path_ohm double, path_least_ohm double, has_mains_supply boolean default false,
    is_charge_assumed boolean default false, solar_w double default 0, controller_a double, solar_may_w double default 0,
    controller_may_a double, is_load_assumed boolean default false, is_bank_assumed boolean default false, amps_tx_low double,
    rf_watts_low double, is_low_load_assumed boolean default false, lines integer[] default [], open_items varchar,
    has_apart boolean default false
);

-- one row per radio of supply and way from a battery that can feed it, straight or through a converter; capacity of one
-- piece, age and measurement counted; charger_a is the rated current of the kit's mains chargers for it, charger_may_a with
-- those of which nobody is sure; gain: A from the battery for one into the radio; stop_v: volts of the battery below which it
-- stops; worn_times: its internal resistance over that of a new one of the capacity that it still has; cold_doubles_k: K
-- colder for twice that resistance; is_joined: NULL where nobody tells whether the battery is joined to the radio that way,
-- and its capacity with it
create table feed (
    supply_id integer, item_id integer, quantity integer default 1, piece_ah double, chemistry varchar, nominal_v double,
    usable_share double, charge_left_share double, charger_a double default 0, charger_may_a double default 0,
    charge_min_c double, charge_max_c double, has_vehicle_lead boolean default false, gain double default 1, stop_v double,
    is_converted boolean default false, peukert double, cell_ohm_ah double, given_back_share double, charge_per_h double,
    worn_times double default 1, cold_doubles_k double default 30, is_joined boolean default true
);

-- one row per kit: hours on the air on its own, for the hours it says it is for; where these are more than it lasts and its
-- radio tells of a low setting, the watts of that and the hours at it; has_battery: whether a battery feeds it, of any figures;
-- has_apart: as in supply
create table kit_runtime (
    kit_id integer, duty varchar, load_w double, energy_wh double, runtime_h double, runtime_low_h double,
    runtime_high_h double, need_h double, limited_by varchar, has_battery boolean default true,
    has_apart boolean default false, stop_v double, low_power_w double, low_power_h double, how varchar,
    lines integer[] default []
);

-- one row per post: what it asks of a radio (bands, modes, power and its setting); posts that ask the same share a number
create table want (post_id integer, want_id integer);

-- one row per want and radio of a kit that could go to a post with it: whether it stands on a complete station on all of the
-- bands (is_band) or on one of them (is_tuned), does the modes, alone or with its kit, and has the power (is_strong); of radios
-- that have the bands between them (at_once: how many) whether all of these do, and the watts of the weakest
create table suit (
    want_id integer, item_id integer, kit_id integer, is_band boolean, is_mode boolean, is_tuned boolean, rf_watts double,
    is_strong boolean, at_once integer
);

-- one row per want of several bands and kit that for certain has not all of them at once, but some: the radio that gives most,
-- on which of the bands asked it is heard and which of the modes it does (NULL where none is for certain), and those that its
-- radios may give
create table band_part (
    want_id integer, kit_id integer, each_band varchar[], asked varchar[], item_id integer, bands varchar[], does varchar[],
    may_bands varchar[], may_does varchar[]
);

-- one row per post and available kit: who brings it, and who of these can carry least (carrier_id; carriers: how many share it, if
-- several do), for how many hours (need_h: the most between two nights at home), whether one radio, or several at once, reach the
-- post's bands (has_band), and do so in its modes (has_mode) and with its power, what there is to carry, with the other kits that
-- they bring then (carried_kits, if any), how much of that is weighed, and whether some of it as is usual of its kind
-- (is_weight_assumed); and one per post and person sent there who is not the
-- member of an assigned one, with kit_id and what is said of a kit NULL
create table post_kit (
    post_kit_id integer, post_id integer, kit_id integer, member_id integer, is_assigned boolean default false,
    starts timestamp, ends timestamp, need_h double, has_band boolean, has_mode boolean, has_watts boolean, rf_watts double,
    carried_kg double, weighed_kg double, is_weight_assumed boolean, carried_kits integer, carry_limit_kg double,
    carrier_id integer, carriers integer
);

-- one row per kit that is sent to a post, and per kit and post that needs two ways: complete stations for that post that share no
-- item, and what hangs on a single one, as in station
create table way (
    post_kit_id integer, stations_low integer, stations_high integer, weak_lines integer[] default [],
    doubtful_lines integer[] default []
);

-- one row per HF radio that can stand on a complete station of its kit with an HF antenna, where a post has poor coverage
create table far_radio (kit_id integer, item_id integer, is_certain boolean);

-- one row per post and kit: hours on the air at that post's duty, power setting and temperature, charged the day before;
-- hoped_h: if all is well that nobody tells of what charges it there and of other stations that may suit, which untold names;
-- rests_on: what makes the range, where its low end is too short and its high end is not; need_h are its hours there and,
-- elsewhere_h, at other posts on the same charge; short_wh is what another battery would have to add, given_share what a new
-- one gives there of what is on its label; where it lasts less than four times its hours and its radio tells of a low
-- setting, the watts of that and the hours at it; has_battery: whether a battery feeds it, of any figures; is_second: others
-- sent there have the best station at every hour; ways: of a kit sent to a post that needs two, complete stations there that
-- share no item and last its hours at once; hangs_on: mains or a vehicle, whichever feeds or charges
-- it there; bank_low_h and bank_high_h are then the hours of its full batteries alone
create table runtime (
    post_kit_id integer, radio_item_id integer, duty varchar, amps_tx double, load_w double, energy_wh double,
    recharge_w double default 0, short_wh double, runtime_h double, runtime_low_h double, runtime_high_h double,
    hoped_h double, untold varchar, need_h double, elsewhere_h double default 0, is_on_mains boolean default false,
    has_battery boolean default true, is_second boolean default false, limited_by varchar, low_power_w double,
    low_power_h double, is_load_assumed boolean default false, how varchar, rests_on varchar, lines integer[] default [],
    ways_low integer, ways_high integer, given_share double default 1, hangs_on varchar,
    bank_low_h double, bank_high_h double
);

-- one row per event that tells its place and hours from UTC: hours of darkness while it runs
create table darkness (event_id integer, dark_h double);

-- one row per kit: the highest step of the rehearsal ladder and the latest dates; last_set_up: past the bench, where all of it
-- is put up and on the air; setup_min: of the last time that it was set up outdoors by the watch
create table practice (
    kit_id integer, ladder integer default 0, last_rehearsed date, last_set_up date, trips_back integer, longest_battery_h double,
    setup_min double
);

-- one row per person sent to a post: the fewest others who are there at the same time
create table company (assignment_id integer, post_id integer, member_id integer, others integer);

-- one row per person sent to a post: which shift of theirs it belongs to, at whichever posts until they have rested, and the
-- most hours of that which lie within 24
create table shift (assignment_id integer, post_id integer, member_id integer, shift_no integer default 1, shift_h double);

-- one row per row of post_kit: until when its member is there themselves, in company or not, for how many dark hours and with
-- which licence; and whether the kit, in whosever hands, is there with one person alone, and its dark hours
create table watch (
    post_kit_id integer, ends timestamp, is_alone boolean, dark_h double, is_dark boolean, has_licence boolean,
    is_kit_alone boolean, kit_dark_h double
);

-- one row per row of post_kit whose post asks for something hard (a long walk, cold, heat, dark hours, being alone; less walk,
-- cold or heat, or a load that they carry alone, where that is near a limit of its member): how many of these are near a limit or
-- past it (near_limits), and which; of how many there is none, and which; whether one is past
create table hardship (
    post_kit_id integer, near_limits integer, near varchar, limits_unset integer, unset_limits varchar, is_past boolean
);

-- one row per post: who is there hour by hour, and the stations, those of them that last (ways, where it needs two) and radios
-- with an antenna that they bring, least while somebody is there
create table coverage (
    post_id integer, people integer default 0, uncovered_h double, short_h double, first_gap timestamp, first_short timestamp,
    least_people integer, stations_low integer, stations_high integer, ways_low integer, ways_high integer,
    radios_low integer, radios_high integer, longest_shift_h double, longest_alone_h double
);

-- one row per assigned kit at a post: whether the kits beside it, all the while or in turn, bring the post's bands, modes and power
create table beside (post_kit_id integer, has_band_beside boolean, has_mode_beside boolean, has_watts_beside boolean);

-- one row per ordered pair of kits sent to a post: whether the first's gear works in the second's station, and the item (doubt)
-- of which nobody is sure whether it works, where the answer hangs on one
create table swap (
    post_id integer, from_kit_id integer, to_kit_id integer, is_power_asked boolean default false, has_power_fit boolean,
    is_antenna_asked boolean default false, has_antenna_fit boolean, power_doubt integer, antenna_doubt integer
);

-- one row per post and available kit that reaches it: distance that people keep from the antenna, on the worst band, and what
-- other transmitters of that place it counts: how many of whose; NULL for none
create table exposure (
    post_kit_id integer, radio_item_id integer, band varchar, frequency_mhz double, rf_watts double, gain_dbi double,
    loss_db double, near_m double, public_safe_m double, crew_safe_m double, others_of varchar, how varchar,
    lines integer[] default []
);

-- one row per post that plans a mast: distance to keep between its foot and a power line
create table fall_zone (post_id integer, clear_m double);

-- hours on the air as rules/on_air.py says them, and hours that are asked for
create macro hours_given(hours) as case when hours >= 240 then '240 h or more' when hours >= 24
    then format('{:.0f} h', floor(round(hours, 6))) else format('{:.1f} h', floor(round(10 * hours, 6)) / 10) end;
create macro hours_asked(hours) as format('{:.1f} h', ceil(round(10 * hours, 6)) / 10);

-- the first day from which what holds the club's channels is not too old: so many days back, or the day on which the club's plan
-- of them came into force, if one is set that has come
create macro channels_asked_since(today, within_days, plan_from) as greatest(today - cast(within_days as integer),
    case when try_cast(plan_from as date) <= today then try_cast(plan_from as date) end);

-- what to look for before more is bought, where the voltage sags on transmit long before the batteries are empty
create macro sag_first(limited_by, hours, load_w, energy_wh) as case when limited_by = 'brown-out' and hours * load_w < energy_wh / 2
    then 'Find first why its voltage sags on transmit (a long or thin lead, a loose plug, a tired or cold battery): to mend that may be enough. '
    else '' end;

-- one row per radio that works: the modes it is known to do, alone or with a modem or tracker of its kit that works, and
-- whether that is all, as its own are told and nobody doubts such a thing; speech on a single sideband is one mode, processed
-- or not
create view radio_mode as
with added as (
    select kit_id, string_agg(modes, ' ') filter (condition = 'ok') as modes, bool_or(condition <> 'ok') as is_open from item
    where role = 'computer' and is_usable and modes is not null group by kit_id
)
select i.item_id, i.kit_id, i.modes is not null and a.is_open is not true as is_told,
    string_split(replace(concat_ws(' ', i.modes, a.modes), 'ssb_processed', 'ssb'), ' ') as modes
from item as i left join added as a using (kit_id)
where i.role = 'radio' and i.is_usable;

-- one row per post: share of the time that it holds the key in which the transmitter is on, in the mode of its in which that is
-- most; all of it where no mode is told
create view post_talk as
select p.post_id, coalesce(max(m.duty_factor), 1) as mode_factor
from post as p left join mode as m on list_contains(string_split(p.modes, ' '), m.mode)
group by p.post_id;

-- one row per item that is there and has a planning life (what holds a charge: that of its chemistry) or expires (of a
-- satellite messenger its plan does, not the thing): when it is due, NULL where that is not told, and what another costs:
-- what was paid (told), else the middle of the club's offers of the kind (offer), else the planning price, else the middle of
-- the kind's usual prices (estimate, which is somewhere from low_usd to high_usd)
create view replacement as
with offered as (select kind, median(price_usd) as price_usd from offer group by kind),
serving as (select chemistry, life_years as served_years from chemistry),
usual as (
    select cast(kind as kind_word) as kind, life_years as planned_years, offered.price_usd as offered_usd,
        coalesce(price.price_usd, (price_low_usd + price_high_usd) / 2) as estimate_usd, price_low_usd, price_high_usd
    from kind left join offered using (kind) left join price using (kind)
)
select i.item_id, i.kit_id, i.kind, i.role, i.is_usable, i.acquired,
    coalesce(served_years, planned_years) as life_years, cast(round(life_years * 365.25) as integer) as life_days,
    least(i.acquired + life_days, if(i.kind = 'satellite_messenger', null, i.expires)) as due,
    coalesce(i.cost_usd, u.offered_usd, u.estimate_usd) as price_usd, price_usd * i.quantity as replace_usd,
    case when i.cost_usd is not null then 'told' when u.offered_usd is not null then 'offer'
        when u.estimate_usd is not null then 'estimate' end as price_from,
    if(price_from = 'estimate', least(replace_usd, u.price_low_usd * i.quantity), replace_usd) as low_usd,
    if(price_from = 'estimate', greatest(replace_usd, u.price_high_usd * i.quantity), replace_usd) as high_usd
from item as i left join usual as u using (kind) left join serving as c on i.role in ('source', 'pack') and c.chemistry = i.chemistry
where i.condition <> 'removed' and (life_years is not null or i.expires is not null);

-- one row per thing that members share by its plug, power (radios and 12 V sources) or antenna (radios and antennas):
-- the families of plugs that fit it, for antennas those of adapters in its kit too; NULL: not told
create view shared_plug as
with fit as (
    select plug, other, family
    from (select plug_a as plug, plug_b as other from mating where mates union select plug_b, plug_a from mating where mates)
    join connector using (plug)
), adapter as (
    select kit_id, unnest([rf_plug, rf_plug_far]) as near, unnest([rf_plug_far, rf_plug]) as far
    from item where role = 'rf_adapter' and is_usable
), reached as (
    select a.kit_id, fit.plug, list(distinct c.family) as families
    from adapter as a join fit on fit.other = a.near join connector as c on c.plug = a.far
    where c.family <> fit.family
    group by a.kit_id, fit.plug
)
select 'power' as sort, i.item_id, i.kit_id, case when c.family is not null then [c.family] end as families
from item as i left join connector as c on c.plug = i.dc_plug
where i.is_usable and i.role in ('radio', 'other_radio', 'source') and i.kind not in ('handheld', 'simple_frs', 'generator')
union all
select 'antenna', i.item_id, i.kit_id, case when c.family is not null then [c.family] || coalesce(r.families, []) end
from item as i
left join connector as c on c.plug = i.rf_plug
left join reached as r on r.kit_id = i.kit_id and r.plug = i.rf_plug
where i.is_usable and i.role in ('radio', 'antenna') and i.kind not in ('handheld', 'whip');

-- one row per fuse in use that is known to sit in a lead: it tells how far from the battery or both its plugs, or is the only one of
-- its kit that tells neither, in however many lines these are written
create view fitted_fuse as
select item_id, fuse_at_m is not null or dc_plug is not null and dc_plug_far is not null as is_told
from item where is_usable and not is_spare and kind = 'fuse'
qualify is_told or sum(quantity) filter (not is_told) over (partition by kit_id) = 1;

-- one row per fuse in use beside a radio that is not a handheld: what passes it, also before a converter; one too small beside one
-- large enough is taken to sit before something else and left out; kit_times: in a kit with one that is not for certain large
-- enough, how many times its rating passes the best that tells it, leads with a fuse in them too; are_told: whether all of them
-- tell rating and current, and none is loose
create view fuse_load as
with used as (
    select f.item_id, f.kit_id, f.is_fuse, f.fuse_a, f.peak_a * coalesce(r.gain, 1) as peak_a, f.least_a * coalesce(r.gain, 1) as least_a,
        f.fuse_a >= f.least_a * coalesce(r.gain, 1) as is_enough,
        case when f.is_rating_assumed or h.is_peak_assumed then 'assumed' else 'told' end as known_by,
        case when not f.is_rating_assumed then f.peak_a * coalesce(r.gain, 1) / f.fuse_a end as times, f.is_fitted and times is not null as is_told
    from fuse as f join holding as h using (kit_id) left join passing as r on r.item_id = f.item_id
    where h.has_mobile
), small as (
    select kit_id, bool_or(is_enough) filter (is_fuse) as is_one_enough, min(times) as kit_times, bool_and(is_told) as are_told
    from used where kit_id in (select kit_id from used where is_enough is not true) group by kit_id
)
select item_id, kit_id, fuse_a, peak_a, least_a, known_by, is_enough, kit_times, are_told
from used left join small using (kit_id)
where is_fuse and (is_enough is not false or is_one_enough is not true);

-- one row per kit and rating of fuses, also of those in leads that tell the rating of theirs: spares (pieces; sure: those that
-- work for certain), the lines of those in use, if any; unrated: spares of the kit that may be of any rating
create view fuse_held as
select kit_id, amps_rated, coalesce(sum(quantity) filter (is_spare), 0) as pieces,
    coalesce(sum(quantity) filter (is_spare and condition = 'ok'), 0) as sure, list(line) filter (not is_spare) as lines,
    coalesce(max(case when amps_rated is null then pieces end) over (partition by kit_id), 0) as unrated
from item
where is_usable and role in ('fuse', 'lead') and (role = 'fuse' or not is_spare and amps_rated is not null
    and not amps_rated_is_assumed and (kind = 'clip_lead' or kind = 'dc_lead' and fuse_at_m is not null))
group by kit_id, amps_rated;

-- one row per kit with things that run on loose cells: how many, the sizes told of which no spare set works (short_sizes), and
-- whether there is a spare set of each size in use
create view cell_held as
with size as (
    select kit_id, cell_size, any_works(case when kind = 'spare_cells' then condition end) as has_spare
    from item where is_usable and cell_size is not null group by kit_id, cell_size
), short as (
    select kit_id, string_agg(upper(cell_size), ', ' order by cell_size) filter (not has_spare) as short_sizes,
        bool_or(has_spare is null) as is_open
    from size group by kit_id
), held as (
    select kit_id, sum(quantity) filter (kind <> 'spare_cells') as cell_users, list(line order by line) as lines,
        any_works(case when kind = 'spare_cells' then condition end) as has_spare,
        bool_or(cell_size is null) filter (kind <> 'spare_cells') as is_use_open,
        bool_or(cell_size is null) filter (kind = 'spare_cells') as is_spare_open
    from item where is_usable and (kind in ('headlamp', 'dry_cell_shell', 'spare_cells') or cell_size is not null)
    group by kit_id having bool_or(kind <> 'spare_cells')
)
select kit_id, cell_users, short_sizes, lines,
    case when not has_spare then false when short_sizes is not null and not is_spare_open then false
         when has_spare and short_sizes is null and is_open is not true and not is_use_open then true end as has_each
from held left join short using (kit_id);

-- one row per pack for handhelds: its family as told, and whether it is ready: charged within what its chemistry asks or a
-- shell for dry cells with spare cells beside it, of its size where both tell one; NULL: not known
create view pack_there as
with shell as (
    select s.item_id, any_works(c.condition) as has_cells
    from item as s
    left join (select kit_id, cell_size, condition from item where kind = 'spare_cells' and is_usable) as c
        on c.kit_id = s.kit_id and coalesce(c.cell_size = s.cell_size, true)
    where s.role = 'pack' and s.chemistry = 'alkaline' and s.is_usable group by s.item_id
)
select b.kit_id, i.quantity, i.pack_family,
    case when b.dependable_ah = 0 then false
         when b.chemistry = 'alkaline' then s.has_cells
         when b.charged_days >= 0 then b.charged_days <= b.charge_limit_days end as is_charged,
    case when i.condition = 'ok' then is_charged when not is_charged then false end as is_ready
from battery as b join item as i using (item_id) left join shell as s on s.item_id = b.item_id
where b.is_pack and i.role = 'pack';

-- one row per kit and family of its handhelds, of kits with handhelds that do not all tell the same: its handhelds, and pieces
-- that may be of that family which are ready, or of which that is not known; of a family not told, those that tell one only may fit
create view pack_fit as
with held as (
    select kit_id, lower(trim(pack_family)) as family, sum(quantity) as handhelds from item
    where kind = 'handheld' and is_usable and kit_id in (
        select kit_id from item where kind = 'handheld' and is_usable
        group by kit_id having min(pack_family) <> max(pack_family) or count(pack_family) between 1 and count(*) - 1
    ) group by all
)
select h.kit_id, h.family, h.handhelds,
    coalesce(sum(p.quantity) filter (p.is_ready and (h.family is not null or p.pack_family is null)), 0) as packs_ready,
    coalesce(sum(p.quantity) filter (p.is_ready is distinct from false), 0) - packs_ready as packs_open
from held as h left join (from pack_there where kit_id in (select kit_id from held)) as p
    on p.kit_id = h.kit_id and coalesce(lower(trim(p.pack_family)) = h.family, true)
group by all;

-- one row per kit with packs for handhelds: pieces that are ready, and pieces of which that is not known, also as one
-- of another family than its handhelds tell may fit one that tells none; those that fit none count as others alone
create view pack_held as
with told as (
    select kit_id, list(lower(trim(pack_family))) as families, bool_and(pack_family is not null) as are_told from item
    where kind = 'handheld' and is_usable group by kit_id
), pack as (
    select p.*, t.are_told, p.pack_family is null or coalesce(list_contains(t.families, lower(trim(p.pack_family))), true) as is_known
    from pack_there as p left join told as t using (kit_id)
)
select kit_id, coalesce(sum(quantity) filter (is_ready and is_known), 0) as packs_ready,
    coalesce(sum(quantity) filter (is_known and is_ready is null or not is_known and not are_told and is_ready is distinct from false), 0)
        as packs_open,
    coalesce(sum(quantity) filter (not is_known and are_told), 0) as packs_other
from pack group by kit_id;

-- one row per want and kit with a radio that could go to a post with it: whether a radio that is no handheld stands on a whole
-- station on one of its bands (has_mobile), and whether an antenna for one of them can stand apart from the radio (has_apart), as a
-- magnet mount (has_mount); none can where every station of the kit hangs on a whip; NULL: not known
create view want_reach as
with asked as (
    select want_id, any_value(string_split(p.bands, ' ')) as each_band from want join post as p using (post_id) group by want_id
), reached as (
    select s.want_id, s.kit_id, any_value(a.each_band) as each_band,
        any_works(case when i.kind <> 'handheld' then if(s.is_tuned, 'ok', if(s.is_tuned is null, 'unknown', null)) end) as has_mobile
    from suit as s join asked as a using (want_id) join item as i using (item_id) group by s.want_id, s.kit_id
), held as (
    select r.want_id, r.kit_id, r.has_mobile, i.kind, list_contains(t.weak_lines, i.line) as is_weak,
        list_contains(t.doubtful_lines, i.line) as is_doubtful,
        r.each_band is null or list_has_any(string_split(i.bands, ' '), r.each_band) as is_on_band,
        case when is_on_band then i.condition when is_on_band is null then 'unknown' end as condition
    from reached as r left join item as i on i.kit_id = r.kit_id and i.is_usable and i.role = 'antenna'
    left join station as t on t.kit_id = r.kit_id
), found as (
    select want_id, kit_id, any_value(has_mobile) as has_mobile,
        any_works(case when kind <> 'whip' then condition end) as has_apart,
        any_works(case when kind = 'mag_mount' then condition end) as has_mount,
        bool_and(is_doubtful) filter (kind = 'whip' and is_weak) as is_doubtful
    from held group by want_id, kit_id
)
select want_id, kit_id, has_mobile, has_mount,
    case when is_doubtful is null then has_apart when is_doubtful then nullif(has_apart, true) else false end as has_apart
from found;

-- one row per kit with handhelds at a shadow post: for how long on foot, of a kit that is sent all shadow posts between two nights
-- at home (of home_h) taken together, and of the handheld that has most packs those that are ready and those that may be
create macro shadow_pack(home_h) as table
with shadow as (
    select pk.* replace (utc_of(pk.starts, e.clock_min, e.clocks_change, e.clock_after_min) as starts,
        utc_of(pk.ends, e.clock_min, e.clocks_change, e.clock_after_min) as ends)
    from post_kit as pk join post as p using (post_id) left join event as e using (event_id)
    where p.post_type = 'shadow' and pk.kit_id is not null
), stretch as (   -- which of those between two nights at home, of a kit that is sent
    select *, count(*) filter (is_fresh) over (partition by kit_id order by starts, post_kit_id) as stretch
    from (
        select *, starts >= max(ends) over before + to_minutes(cast(60 * home_h as integer)) as is_fresh
        from shadow where is_assigned
        window before as (partition by kit_id order by starts, post_kit_id rows between unbounded preceding and 1 preceding)
    )
), turn as (
    select post_kit_id, kit_id, need_h as own_h, sum(need_h) over (partition by kit_id, stretch) as need_h from stretch
    union all select post_kit_id, kit_id, need_h, need_h from shadow where not is_assigned
)
select
    t.post_kit_id, t.kit_id, t.need_h, h.handhelds, h.packs - coalesce(c.packs_other, 0) as packs,
    case when t.need_h > t.own_h then concat(' (', round(t.need_h - t.own_h, 1), ' h of it as a shadow elsewhere)') else '' end
        as same_charge,
    coalesce(f.packs_ready, c.packs_ready, 0) as packs_ready, coalesce(f.packs_may, c.packs_ready + c.packs_open, 0) as packs_may,
    list_concat(h.radio_lines, h.pack_lines) as lines
from turn as t
join holding as h on h.kit_id = t.kit_id and h.handhelds > 0
left join pack_held as c on c.kit_id = t.kit_id
left join (
    select kit_id, max(packs_ready) as packs_ready, max(packs_ready + packs_open) as packs_may from pack_fit group by kit_id
) as f on f.kit_id = t.kit_id;

-- one row per kit that is the club's, all of it, and that nobody is sent with: papers come with whoever takes from it
create view pool_kit as
select kit_id from kit where is_pool and kit_id not in (select kit_id from assignment where kit_id is not null);

-- one row per kit with things of which nobody knows whether they work: how many of what a holding counts
create view untried as
select kit_id, coalesce(sum(quantity) filter (role = 'radio'), 0) as radios,
    coalesce(sum(quantity) filter (role = 'source' and kind not in ('supply_30a', 'generator')), 0) as batteries,
    coalesce(sum(quantity) filter (role = 'pack'), 0) as packs
from item where condition = 'unknown' and is_usable group by kit_id;

-- one row per thing of which a small part may be missed: leads, fuses, converters, cables and adapters themselves, and of a
-- radio its microphone, which a kit may have another of
create view small_item as
select kit_id, line, role = 'radio' as is_microphone, item from item
where role in ('lead', 'fuse', 'converter', 'coax', 'rf_adapter')
    or role = 'radio' and kind in ('mobile_vhf_uhf', 'mobile_data', 'hf_100w', 'hf_qrp');

-- one row per kit with a microphone besides those of its radios; whether one works for certain (is_sure), NULL where not
create view spoken as
select kit_id, any_works(condition) as is_sure from item where is_usable and kind in ('mic', 'speaker_mic', 'headset') group by kit_id;

-- one row per kit that hangs on small parts: those that have no second for certain, or where there is none (is_doubtful)
-- those that may have one
create view small_part as
with weak as (
    select kit_id, doubtful_lines, unnest(list_distinct(weak_lines)) as line from station
), small as (
    select kit_id, line, if(is_microphone, 'microphone of ', '') || item as part,
        list_contains(doubtful_lines, line) or is_microphone and s.kit_id is not null as is_doubtful
    from weak join small_item using (kit_id, line) left join spoken as s using (kit_id)
    where not is_microphone or s.is_sure is not true
    qualify is_doubtful = bool_and(is_doubtful) over (partition by kit_id)
)
select kit_id, bool_and(is_doubtful) as is_doubtful, string_agg(part, ', ' order by line) as parts,
    list(line order by line) as lines
from small group by kit_id;

-- one row per kit at a post that hangs there on small parts, as in small_part
create view post_small_part as
with weak as (
    select post_kit_id, kit_id, doubtful_lines, unnest(list_distinct(weak_lines)) as line from way join post_kit using (post_kit_id)
), small as (
    select post_kit_id, line, if(is_microphone, 'microphone of ', '') || item as part,
        list_contains(doubtful_lines, line) or is_microphone and s.kit_id is not null as is_doubtful
    from weak join small_item using (kit_id, line) left join spoken as s using (kit_id)
    where not is_microphone or s.is_sure is not true
    qualify is_doubtful = bool_and(is_doubtful) over (partition by post_kit_id)
)
select post_kit_id, bool_and(is_doubtful) as is_doubtful, string_agg(part, ', ' order by line) as parts,
    list(line order by line) as lines
from small group by post_kit_id;

-- one row per person, with the kit that they bring, at a post from each moment at which somebody comes there or goes
create view present as
select distinct m.post_id, m.instant, a.member_id, a.kit_id, a.ends
from (select distinct post_id, unnest([starts, ends]) as instant from assignment) as m
join assignment as a on a.post_id = m.post_id and a.starts <= m.instant and a.ends > m.instant;

-- one row per kit that is sent to a post where generators run in all of its hours, one or several in turn, and one of no kit
-- (NULL), for any other, where one runs while the post is open: watts of the least
-- (plant_w) and of all there together (plants_w), those of the least that certainly works, and which may not
create view plant as
with generator as (
    select kit_id, max(amps_rated * volts_min) as plant_w, sum(amps_rated * volts_min * quantity) as plants_w,
        coalesce(max(amps_rated * volts_min) filter (condition = 'ok'), 0) as sure_plant_w,
        any_works(condition) as is_sure, list(item order by line) filter (condition = 'unknown') as doubtful
    from item where is_usable and kind = 'generator' group by kit_id
), running as (
    select t.post_id, t.kit_id, t.instant, max(g.plant_w) as plant_w, sum(g.plants_w) as plants_w, max(g.sure_plant_w) as sure_plant_w,
        bool_or(g.is_sure) as is_sure, any_value(g.doubtful) as doubtful, count(g.kit_id) > 0 as is_there
    from (select distinct post_id, kit_id, instant from present where kit_id is not null) as t
    join (select distinct post_id, kit_id, instant from present) as o on o.post_id = t.post_id and o.instant = t.instant
    left join generator as g on g.kit_id = o.kit_id
    where t.post_id in (select post_id from assignment join generator using (kit_id))
    group by t.post_id, t.kit_id, t.instant
)
select post_id, kit_id, min(plant_w) as plant_w, min(plants_w) as plants_w, min(sure_plant_w) as sure_plant_w,
    nullif(bool_and(coalesce(is_sure, false)), false) as is_sure, any_value(doubtful) as doubtful
from running group by post_id, kit_id having bool_and(is_there)
union all
select a.post_id, null, max(g.plant_w), max(g.plants_w), max(g.sure_plant_w),
    nullif(bool_or(coalesce(g.is_sure, false)), false), any_value(g.doubtful)
from assignment as a join generator as g using (kit_id) join post as p on p.post_id = a.post_id
where a.starts <= p.opens and a.ends >= p.closes
group by a.post_id;

-- one row per post where somebody is sent and kind of thing that is there for everyone, of which another kind may do as well: the
-- fewest in date that are there at once while somebody is (pieces), whether one that certainly works is there all the while, and
-- what is said of a faulty one there
create view at_hand as
with there as (
    select t.post_id, t.instant, w.kind, count(distinct i.item_id) filter (i.is_usable) as pieces, bool_or(i.condition = 'faulty') as is_faulty,
        coalesce(bool_or(i.condition = 'ok' and (i.expires is not null or not w.is_dated)), false) as is_sure
    from present as t
    cross join (values ('first_aid'::kind_word, 'first_aid'::kind_word, true), ('satellite_messenger', 'satellite_messenger', true),
        ('umbrella', 'umbrella', false), ('umbrella', 'shelter_set', false), ('roster', 'roster', false),
        ('headset', 'headset', false), ('headset', 'headphones', false), ('headset', 'earpiece', false)) as w(kind, serves, is_dated)
    left join item as i on i.kit_id = t.kit_id and i.condition <> 'removed' and i.kind = w.serves and is_in_date(i.expires, t.ends)
    group by t.post_id, t.instant, w.kind
)
select post_id, kind, min(pieces) as pieces, bool_and(is_sure) as is_sure, if(bool_or(is_faulty), ' (one that lies there is faulty)', '') as faulty
from there group by post_id, kind;

-- one row per post where somebody is sent and kind of thing of which everyone there wants their own, at the moment at which most
-- are wanting: people and kits there, the pieces in date in these, and how many people have none (missing), or none that
-- certainly works and, of a vest, is of class 2 (doubtful), where a kit without one counts as if it had one: it is asked for it
-- by itself
create view one_each as
with thing as (
    select kit_id, if(kind = 'vest', 'hi_vis', kind) as serves, expires, sum(quantity) as pieces,
        sum(quantity) filter (condition = 'ok' and kind <> 'vest') as sure
    from item where is_usable and kind in ('hi_vis', 'vest', 'personal_pack') group by kit_id, serves, expires
), held as (
    select k.post_id, k.instant, w.kind, k.kit_id, coalesce(sum(t.pieces), 0) as pieces, coalesce(sum(t.sure), 0) as sure
    from (select post_id, instant, kit_id, max(ends) as ends from present where kit_id is not null group by post_id, instant, kit_id) as k
    cross join (values ('hi_vis'::kind_word), ('personal_pack'::kind_word)) as w(kind)
    left join thing as t on t.kit_id = k.kit_id and t.serves = w.kind and is_in_date(t.expires, k.ends)
    group by k.post_id, k.instant, w.kind, k.kit_id
), brought as (
    select post_id, instant, kind, count(*) as kits, sum(pieces) as pieces, sum(greatest(pieces, 1)) as asked,
        sum(greatest(sure, 1)) as sure
    from held group by post_id, instant, kind
), there as (
    select post_id, instant, count(distinct member_id) as people_there from present group by post_id, instant
)
select t.post_id, w.kind, t.people_there, coalesce(b.kits, 0) as kits, coalesce(b.pieces, 0) as pieces,
    t.people_there - coalesce(b.asked, 0) as missing, t.people_there - coalesce(b.sure, 0) as doubtful
from there as t
cross join (values ('hi_vis'::kind_word), ('personal_pack'::kind_word)) as w(kind)
left join brought as b on b.post_id = t.post_id and b.instant = t.instant and b.kind = w.kind
qualify row_number() over (partition by t.post_id, w.kind order by greatest(missing, 0) desc, doubtful desc, t.people_there desc) = 1;

-- one row per row of post_kit whose post asks for a role: whether somebody who is signed off for it is beside its member for
-- all of their time there, or of a kit that is not assigned is sent there at all; NULL: nobody is, or one who is has not told
-- their roles
create view mentor as
with staff as (
    select distinct t.post_id, t.instant, t.member_id, list_contains(string_split(m.roles, ' '), p.role_needed) as is_signed
    from present as t join post as p using (post_id) join member as m on m.member_id = t.member_id
    where p.role_needed is not null
), beside as (
    select pk.post_kit_id, own.instant,
        case when bool_or(s.is_signed) then true when bool_and(s.is_signed is not null) then false end as has_mentor
    from post_kit as pk
    join post as p on p.post_id = pk.post_id and p.role_needed is not null
    left join staff as own on own.post_id = pk.post_id and own.member_id = pk.member_id
    left join staff as s on s.post_id = pk.post_id and s.member_id <> pk.member_id and coalesce(s.instant = own.instant, true)
    group by pk.post_kit_id, own.instant
)
select post_kit_id, case when bool_or(not has_mentor) then false when bool_and(has_mentor is not null) then true end as has_mentor
from beside group by post_kit_id;

-- one row per person sent to a post (assignment): the row of post_kit in which they themselves are judged for that time, that of
-- the kit that they bring if they are its member, else their first there
create view own_turn as
select assignment_id, post_kit_id
from assignment as a join post_kit as pk on pk.post_id = a.post_id and pk.member_id = a.member_id and pk.is_assigned
qualify row_number() over (partition by assignment_id order by pk.kit_id is not distinct from a.kit_id desc,
    pk.starts, post_kit_id) = 1;

-- one row per person sent to a post, as in assignment, with the hours by one clock for all events, UTC; comes, goes: local
create view assignment_utc as
select a.starts as comes, a.ends as goes, a.* replace (utc_of(a.starts, e.clock_min, e.clocks_change, e.clock_after_min) as starts,
    utc_of(a.ends, e.clock_min, e.clocks_change, e.clock_after_min) as ends)
from assignment as a left join event as e on e.event_id = a.event_id;

-- one row per ordered pair of turns at two posts, by UTC: minutes between them, less than none while both run; is_one_site: whether
-- nobody travels between them; way_h: hours of road that lie between them at the least, of one member, by both ways from home
create view elsewhere as
select a.assignment_id, b.assignment_id as other_assignment_id, a.post_id, b.post_id as other_id,
    a.member_id, b.member_id as other_member_id, a.kit_id, b.kit_id as other_kit_id, a.line, b.line as other_line, a.starts, a.ends,
    b.starts as other_starts, b.ends as other_ends, p.post, q.post as other_post, q.event || '/' || q.post as other_place,
    greatest(date_diff('minute', a.ends, b.starts), date_diff('minute', b.ends, a.starts)) as gap_min,
    case when b.member_id = a.member_id then round(abs(a.travel_h - b.travel_h), 6) end as way_h,
    coalesce(lower(p.site) = lower(q.site), false) as is_one_site
from assignment_utc as a
join assignment_utc as b on b.post_id <> a.post_id and (b.member_id = a.member_id or b.kit_id = a.kit_id)
join post as p on p.post_id = a.post_id
join post as q on q.post_id = b.post_id;

-- those of one kit, whoever brings it
create view sent_on as
from elsewhere where other_kit_id = kit_id;

-- one row per kit and other member to whom the loan book lends it, for each loan whole by its name (alone or as member/kit), or thing
-- by thing, each piece of it: from which day to which; a name that is there with several owners is nobody's, and one of a kit and a
-- thing is the thing's
create view leave as
with lent as (
    select lower(trim(item)) as name, borrower, out, due, count(*) over (partition by lower(trim(item)), borrower) as loans
    from loan where back is null
), thing as (
    from (select kit_id, lower(trim(item)) as name, sum(quantity) as pieces from item where condition <> 'removed' group by all)
    semi join lent using (name)
), named as (
    select kit_id, member as owner, lower(kit) as name, true as is_whole, 1 as pieces from kit
    union all select kit_id, member, lower(member || '/' || kit), true, 1 from kit
    union all select kit_id, member, name, false, pieces from thing join kit using (kit_id)
), found as (
    select kit_id, name, is_whole, borrower, out, due from named join lent using (name) where owner <> borrower
    qualify min(owner) over (partition by name, borrower) = max(owner) over (partition by name, borrower)
        and is_whole = bool_and(is_whole) over (partition by name, borrower) and loans >= pieces
), held as (
    select kit_id, count(distinct lower(trim(item))) as things from item
    where condition <> 'removed' and kit_id in (select kit_id from found) group by kit_id
)
select kit_id, borrower, max(out) as out, min(due) as due
from found left join held using (kit_id)
group by kit_id, borrower, case when is_whole then out end, case when is_whole then due end
having bool_or(is_whole) or count(distinct name) = max(things);
