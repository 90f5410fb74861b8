-- From the files as sent (told_*) to tables. Members and kits are numbered in
-- data/naming.py, and items, which their kinds fill, are made in data/items.py.

insert into member
select
    n.member_id, n.member, coalesce(cast(t.available as boolean), true),
    t.licence_class, cast(t.licence_expires as date), t.roles, cast(t.carry_limit_kg as double), cast(t.solo_ok as boolean),
    cast(t.night_ok as boolean), cast(t.heat_limit_c as double), cast(t.cold_limit_c as double),
    cast(t.walk_limit_km as double), cast(t.last_on_air as date), cast(t.on_air_12m as integer),
    cast(t.events_12m as integer), cast(t.first_aid_expires as date), cast(t.id_expires as date), cast(t.vetting_expires as date),
    cast(t.waiver_expires as date), t.training, cast(t.training_expires as date), cast(t.radio_by_heart as boolean), cast(t.line as integer)
from named_member as n
left join told_members as t on t.member = n.member;

insert into kit
select
    n.kit_id, n.member_id, n.member, n.kit, t.purpose, cast(t.hours as double),
    cast(t.packed as date), cast(t.list_printed as date), cast(t.last_used as date), cast(t.restocked as date),
    cast(t.inspected as date), cast(t.stored_min_c as double), cast(t.stored_max_c as double),
    coalesce(cast(t.may_be_lent as boolean), case when n.is_pool then true end),
    cast(t.labelled as boolean), cast(t.sturdy_container as boolean), cast(t.locked_off as boolean), cast(t.rf_evaluated as date), n.is_pool, cast(t.line as integer), n.lines
from named_kit as n
left join told_kits as t on t.member = n.member and t.kit = n.kit;

insert into rehearsal
select kit.kit_id, cast(t.date as date), t.stage, cast(t.trips_back as integer), t.missing,
    cast(t.hours_on_battery as double), t.event, t.post, cast(t.battery_left_pct as double) / 100, t.faulty,
    cast(t.setup_min as double), cast(t.line as integer)
from told_rehearsals as t
join kit on kit.member = t.member and kit.kit = t.kit;

insert into event
select
    row_number() over (), event, cast(starts as timestamp), cast(ends as timestamp),
    cast(lat as double), cast(lon as double), cast(utc_offset_h as double), time_zone, cast(clock_min as integer),
    cast(clocks_change as timestamp), cast(clock_after_min as integer), cast(temp_min_c as double),
    cast(temp_max_c as double), cast(minutes_to_care as double), cast(public as boolean),
    cast(storms_possible as boolean), shelter, storm_watch, cast(briefed as date),
    channel, channel_alternate, channel_simplex, cast(action_starts as timestamp), cast(packets_sent as date),
    cast(id_asked as boolean), cast(vetting_asked as boolean), cast(waiver_asked as boolean), training_asked, cast(line as integer)
from (from told_events order by cast(starts as timestamp), event);

insert into post
select row_number() over (), * from (
    select
        e.event_id, t.event, t.post, t.post_type, t.site,
        coalesce(cast(t.opens as timestamp), e.starts), coalesce(cast(t.closes as timestamp), e.ends),
        date_diff('minute', utc_of(coalesce(cast(t.opens as timestamp), e.starts), e.clock_min, e.clocks_change, e.clock_after_min),
            utc_of(coalesce(cast(t.closes as timestamp), e.ends), e.clock_min, e.clocks_change, e.clock_after_min)) / 60.0,
        coalesce(cast(t.operators as integer), cast(p.operators as integer), 1),
        coalesce(cast(p.radios as integer), 1), t.bands, t.modes,
        coalesce(cast(t.rf_watts_min as double), cast(p.rf_watts_min as double)), d.duty, d.tx_share, d.rx_share, d.idle_share,
        coalesce(cast(p.is_critical as boolean), false),
        coalesce(cast(p.needs_two_ways as boolean), false) or t.post_type = 'aid_station'
            and coalesce(t.access = 'carry' or t.access = 'walk' and cast(t.cell_cover as boolean) is not true, false), p.role_needed,
        coalesce(t.post_type = 'sag' or t.post_type = 'sweep' and coalesce(cast(t.vehicle as boolean), cast(t.vehicles as integer) > 0)
            and coalesce(t.access not in ('walk', 'carry'), true), false) as is_vehicle,
        coalesce(cast(p.is_on_foot as boolean), false) and not is_vehicle as held_on_foot,
        coalesce(t.access, case when t.post_type = 'remote' then 'carry' when held_on_foot then 'walk' else 'drive' end),
        coalesce(t.post_type = 'remote' or t.access = 'carry', false), cast(t.carry_limit_kg as double),
        cast(t.walk_km as double), cast(t.mains as boolean), coalesce(t.rf_grade, p.rf_grade), cast(t.mast_m as double),
        cast(t.power_line_m as double), cast(t.public_m as double), cast(t.cell_cover as boolean),
        coalesce(cast(t.beside_traffic as boolean),
            case when cast(p.is_off_the_road as boolean) or t.access in ('carry', '4x4') then false end),
            cast(t.rotation_h as double), coalesce(t.power_setting, 'high'),
        coalesce(cast(t.vehicle as boolean), cast(t.vehicles as integer) > 0), cast(t.vehicles as integer),
        cast(t.check_in_min as double), t.missed_check_in, t.alert_path,
        nullif(coalesce(t.shelter, case when coalesce(t.access, 'drive') = 'drive' and not held_on_foot then e.shelter end), 'unknown'),
        cast(t.line as integer)
    from told_posts as t
    join event as e on e.event = t.event
    left join post_type as p on p.post_type = t.post_type
    left join duty as d on d.duty = coalesce(t.duty, p.duty)
    where can_be_hours(coalesce(cast(t.opens as timestamp), e.starts), coalesce(cast(t.closes as timestamp), e.ends), e.starts, e.ends)
    order by e.event_id, cast(t.line as integer)
);

insert into assignment
select row_number() over (), * from (
    select
        p.event_id, p.post_id, m.member_id, k.kit_id,
        coalesce(cast(t."from" as timestamp), p.opens), coalesce(cast(t."to" as timestamp), p.closes), cast(t.travel_h as double),
        cast(t.line as integer)
    from told_assignments as t
    join post as p on p.event = t.event and p.post = t.post
    join member as m on m.member = t.member
    left join kit as k on k.member = coalesce(t.kit_owner, t.member) and k.kit = t.kit
    where can_be_hours(coalesce(cast(t."from" as timestamp), p.opens), coalesce(cast(t."to" as timestamp), p.closes), p.opens, p.closes)
    order by cast(t.line as integer)
);

insert into offer
select offer, kind, cast(price_usd as double), cast(available as integer),
    paid_by, cast(volts_min as double), cast(volts_max as double), cast(amps_rated as double), cast(rf_watts as double),
    cast(capacity_ah as double), chemistry, cast(line as integer)
from (from told_offers order by cast(line as integer));

insert into loan
select row_number() over (), item, borrower, cast(out as date), cast(due as date),
    cast(back as date), condition_out, condition_in, cast(charged_in as boolean), cast(line as integer)
from (from told_loans order by cast(line as integer));

insert into stray
select 'posts.csv', t.line, case when e.event is null then concat('no event ', t.event)
    else concat('its hours are not those of ', t.event) end
from told_posts as t
left join event as e on e.event = t.event
where not coalesce(can_be_hours(coalesce(cast(t.opens as timestamp), e.starts),
    coalesce(cast(t.closes as timestamp), e.ends), e.starts, e.ends), false)
union all
select 'assignments.csv', t.line, case when p.post is null then concat('no post ', t.post, ' at ', t.event)
    else concat('its hours are not those of ', t.post) end
from told_assignments as t
left join post as p on p.event = t.event and p.post = t.post
where not coalesce(can_be_hours(coalesce(cast(t."from" as timestamp), p.opens),
    coalesce(cast(t."to" as timestamp), p.closes), p.opens, p.closes), false)
union all
select 'assignments.csv', t.line, concat('no kit ', t.kit, ' of ', coalesce(t.kit_owner, t.member))
from told_assignments as t
left join kit as k on k.member = coalesce(t.kit_owner, t.member) and k.kit = t.kit
where t.kit is not null and k.kit is null
union all
select 'rehearsals.csv', t.line, concat('no kit ', t.kit, ' of ', t.member)
from told_rehearsals as t
left join kit as k on k.member = t.member and k.kit = t.kit
where k.kit is null;
