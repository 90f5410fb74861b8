"""Every kit at its posts with each radio that could be used there: the cases of which the hours are worked out.

How well a radio suits the post:

- is_fit: it does the bands and modes on a whole station, or may.
- suits: more is better (`rules.facts.teams.suits`).
- is_part: it is what the kit gives to a post that several hold between them.

How many of a kit are on the air:

- at_once: as many of its radios as the post plans, but one for each kit beside it; at least one where it needs two ways, for a
  second way stands by; all that have the bands of the post between them (team). A kit that is not sent is taken to be there alone.
- ways: up to how many ways on the air the kit may be there; 0 where it is not sent, or one is enough.

A kit that is sent to several posts one after another, with less than a night at home between (the policy's home_h), runs them all
on one charge:

- need_h is the sum. elsewhere_h is what of it is elsewhere, in hours of the load here, unless it hangs on mains there.
- What it takes at a post is what the radio that works there draws of the batteries that both hang on: the radio that suits best,
  and of such on the same batteries that which draws least. Where several are on at once, or others that suit as well have
  batteries of their own, each is taken to work.
- At a post with mains the chargers for the radio's batteries carry the load as far as they can, where all of the event is warm and
  cool enough to charge. Where they put back all that may be out of the bank, the next post begins on another charge. What others
  use counts as used before its hours (before_h).
- What sun or a vehicle puts in at another post counts for nothing here, nor mains in the warm hours of an event that is too cold
  in others.

starts and ends are by UTC; starts_utc is NULL where the event tells neither a time zone nor hours from UTC.
"""

from __future__ import annotations

import duckdb
import pandas as pd

from rules.facts.power import mated
from rules.policy import Policy

OF_KIT = """
    car as (   -- by kit: amperes by which it takes from a vehicle, at its battery (clips) and in its socket; watts of its generators
        select kit_id,
            max(amps_rated) filter (is_lead and not is_in_socket) as clip_may_a,
            max(amps_rated) filter (is_lead and not is_in_socket and is_sure) as clip_a,
            max(amps_rated) filter (is_lead and is_in_socket) as socket_lead_may_a,
            max(amps_rated) filter (is_lead and is_in_socket and is_sure) as socket_lead_a,
            max(amps_rated) filter (kind = 'boost_converter') as booster_may_a,
            max(amps_rated) filter (kind = 'boost_converter' and is_sure) as booster_a,
            arg_max(middle_v, amps_rated) filter (kind = 'boost_converter') as booster_may_v,
            arg_max(middle_v, amps_rated) filter (kind = 'boost_converter' and is_sure) as booster_v,
            max(amps_rated) filter (kind = 'inverter' and not is_in_socket) as inverter_may_a,
            max(amps_rated) filter (kind = 'inverter' and not is_in_socket and is_sure) as inverter_a,
            max(amps_rated) filter (kind = 'inverter' and is_in_socket) as socket_inverter_may_a,
            max(amps_rated) filter (kind = 'inverter' and is_in_socket and is_sure) as socket_inverter_a,
            max(amps_rated * volts_min) filter (kind = 'generator') as plant_w,
            max(amps_rated * volts_min) filter (kind = 'generator' and is_sure) as sure_plant_w
        from (
            select kit_id, kind, amps_rated, volts_min, (volts_min + volts_max) / 2 as middle_v, condition = 'ok' as is_sure,
                kind in ('socket_lead', 'clip_lead') as is_lead,
                kind = 'socket_lead' or list_contains([dc_plug, dc_plug_far], 'j563_male') as is_in_socket
            from item
            where is_usable and kind in ('socket_lead', 'clip_lead', 'boost_converter', 'inverter', 'generator')
        )
        group by kit_id
    ), doubtful as (   -- by kit: names of things of which nobody is sure whether they work, by what they charge or feed with
        select kit_id,
            list(item order by line) filter (role = 'solar' or kind in ('charge_controller_mppt', 'charge_controller_pwm'))
                as doubtful_sun,
            list(item order by line) filter (role = 'charger' and chemistry is not null and kind not in ('charge_controller_mppt',
                'charge_controller_pwm') or kind in ('supply_30a', 'power_station')) as doubtful_mains,
            list(item order by line) filter (role = 'lead' or kind = 'handheld_dc_lead') as doubtful_lead,
            list(item order by line) filter (kind in ('socket_lead', 'clip_lead', 'boost_converter', 'inverter', 'handheld_dc_lead'))
                as doubtful_car,
            list(item order by line) filter (kind = 'generator') as doubtful_plant
        from item
        where is_usable and condition = 'unknown' and role in ('solar', 'charger', 'source', 'lead', 'converter')
        group by kit_id
    ), eliminator as (
        -- by 12 V lead for handhelds and plug that may lead away from the pack: how many leads its kit has of that
        -- family
        select kit_id, item_id, amps_rated, condition = 'ok' as is_sure, lower(trim(pack_family)) as fits,
            sum(quantity) over (partition by kit_id, fits) as leads_may,
            coalesce(sum(quantity) filter (is_sure) over (partition by kit_id, fits), 0) as leads,
            unnest(if(dc_plug_far = 'pack_latch', [dc_plug], [dc_plug, dc_plug_far])) as plug
        from item
        where is_usable and kind = 'handheld_dc_lead'
    ), handheld_lead as (
        -- by handheld: what runs it from a vehicle straight, maybe so (open), or by a lead of the kit that goes there
        select h.item_id, min(e.item_id) as handheld_lead_id, max(e.leads) as handheld_leads, max(e.leads_may) as handheld_leads_may,
            max(e.amps_rated) filter (e.plug = 'clips') as handheld_clip_may_a,
            max(e.amps_rated) filter (e.plug = 'clips' and e.is_sure) as handheld_clip_a,
            max(e.amps_rated) filter (e.plug = 'j563_male') as handheld_plug_may_a,
            max(e.amps_rated) filter (e.plug = 'j563_male' and e.is_sure) as handheld_plug_a,
            max(e.amps_rated) filter (e.plug is null) as handheld_open_a,
            max(e.amps_rated) filter (l.kit_id is not null and e.plug is not null
                and coalesce(list_contains($mating, e.plug || ' ' || l.plug), true)) as handheld_lead_may_a,
            max(e.amps_rated) filter (e.is_sure and l.is_sure and e.plug is not null
                and coalesce(list_contains($mating, e.plug || ' ' || l.plug), true)) as handheld_lead_a
        from item as h
        join eliminator as e on e.kit_id = h.kit_id and coalesce(e.fits = lower(trim(h.pack_family)), true)
        left join (
            select kit_id, condition = 'ok' as is_sure,
                case when dc_plug in ('j563_male', 'clips') then dc_plug_far else dc_plug end as plug
            from item where is_usable and kind in ('socket_lead', 'clip_lead')
        ) as l on l.kit_id = e.kit_id
        where h.kind = 'handheld' and h.is_usable
        group by h.item_id
    ), mains as (   -- by kit: mains supplies that are joined to a radio of it, or may be
        select kit_id, sum(quantity) as supplies_may, coalesce(sum(quantity) filter (condition = 'ok'), 0) as supplies
        from item
        where is_usable and kind in ('supply_30a', 'power_station') and item_id in (
            select i.item_id
            from item as i join supply as s on s.kit_id = i.kit_id and s.has_mains_supply is distinct from false
            left join apart as a on a.item_id = i.item_id and a.radio_item_id = s.radio_item_id
            where i.kind in ('supply_30a', 'power_station')
                and (a.item_id is null or (a.is_straight or a.is_converted) is distinct from false)
        )
        group by kit_id
    )"""
"""What the things of a kit come to, whichever post it is at."""
ALONGSIDE = """
    cut as (   -- by post: from each moment at which a kit comes or goes until the next
        select post_id, moment as starts, lead(moment) over (partition by post_id order by moment) as ends
        from (select distinct post_id, unnest([starts, ends]) as moment from assignment where kit_id is not null)
    ), there as (   -- by post and such a span: the kits there
        select distinct c.post_id, c.starts, a.kit_id
        from cut as c join assignment as a on a.post_id = c.post_id and a.starts <= c.starts and a.ends >= c.ends
        where a.kit_id is not null
    ), alongside as (   -- by kit that is sent to a post: others that could help it at the thinnest hour of its own
        select post_kit_id, min(others) as others
        from (
            select pk.post_kit_id,
                count(*) filter (pk.has_mode is distinct from false) over (partition by t.post_id, t.starts)
                    - case when pk.has_mode is distinct from false then 1 else 0 end as others
            from there as t join post_kit as pk on pk.post_id = t.post_id and pk.kit_id = t.kit_id
        )
        group by post_kit_id
    )"""
"""Which other kits are there at a post."""
CASE = """
    at_post as (   -- by kit at a post and radio of the kit
        select s.* replace (
                case when p.power_setting = 'low' then coalesce(s.amps_tx_low, s.amps_tx) else s.amps_tx end as amps_tx,
                case when p.power_setting = 'low' then s.is_low_load_assumed else s.is_load_assumed end as is_load_assumed,
                coalesce(s.has_mains_supply, false) as has_mains_supply
            ),
            -- when
            pk.post_kit_id, pk.post_id, pk.need_h, pk.is_assigned,
            utc_of(pk.starts, e.clock_min, e.clocks_change, e.clock_after_min) as starts,
            utc_of(pk.ends, e.clock_min, e.clocks_change, e.clock_after_min) as ends,
            case when e.utc_offset_h is not null then utc_of(pk.starts, e.clock_min, e.clocks_change,
                e.clock_after_min) end as starts_utc,
            -- at what duty, in what air and under which sky
            p.duty, p.tx_share, p.rx_share, p.idle_share, m.mode_factor, e.lat, e.lon, $sun_share as sun_share,
            coalesce(e.temp_min_c, $warm) as temperature_c, e.temp_min_c is null as is_weather_assumed, e.temp_max_c as warmest_c,
            -- on mains
            coalesce(p.has_mains, false) as has_mains,
            p.has_mains is null and not p.is_on_foot and not p.is_vehicle as may_have_mains,
            s.has_mains_supply is distinct from false as may_have_supply,
            coalesce(p.has_mains and s.has_mains_supply, false) as is_on_mains,
            coalesce(mains.supplies, 0) as supplies, coalesce(mains.supplies_may, 0) as supplies_may,
            -- on a vehicle or a generator: what certainly charges, and what is hoped for; shares as of a kit and a radio alone
            coalesce(p.has_vehicle, false) as has_vehicle, p.vehicles,
            coalesce(p.has_vehicle, p.access = '4x4' or p.access = 'drive' and not p.is_on_foot or p.is_vehicle, false)
                as may_have_vehicle,
            1.0 as vehicle_share, 1.0 as socket_share, 0.0 as generator_w, false as is_hoped,
            car.* exclude (kit_id, plant_w, sure_plant_w), held.* exclude (item_id),
            coalesce(greatest(car.plant_w, plant.plant_w), 0) as plant_w,
            coalesce(greatest(car.sure_plant_w, plant.sure_plant_w), 0) as sure_plant_w,
            coalesce(plant.plants_w, car.plant_w, 0) as plants_w,
            -- of which nobody is sure
            coalesce(d.doubtful_sun, []) as doubtful_sun, coalesce(d.doubtful_mains, []) as doubtful_mains,
            coalesce(d.doubtful_lead, []) as doubtful_lead, coalesce(d.doubtful_car, []) as doubtful_car,
            coalesce(d.doubtful_plant, plant.doubtful, []) as doubtful_plant,
            -- how well it suits, and how many are on
            coalesce(w.stations_low, 0) as stations_low, coalesce(w.stations_high, 1) as stations_high,
            f.item_id is not null and (f.is_band and f.is_mode) is distinct from false and stations_high > 0 as is_fit,
            coalesce(f.is_band and f.is_mode, false) as is_sure,
            case when not is_fit then 0
                 when f.is_band and f.is_mode and f.is_strong then 4
                 when f.is_strong is distinct from false then 3
                 when f.is_band and f.is_mode then 2 else 1 end as suits,
            coalesce(f.at_once, 1) as team, b.item_id is not null as is_part,
            case when team = 1 then i.quantity else 1 end as radios,
            case when pk.is_assigned and p.needs_two_ways then stations_high else 0 end as ways,
            cast(greatest(
                p.radios - greatest(coalesce(alongside.others, 0), case when p.needs_two_ways then 1 else 0 end), team
            ) as integer) as at_once
        from post_kit as pk
        join post as p using (post_id)
        join event as e using (event_id)
        join post_talk as m on m.post_id = p.post_id
        join supply as s on s.kit_id = pk.kit_id
        join item as i on i.item_id = s.radio_item_id
        left join want on want.post_id = pk.post_id
        left join suit as f on f.want_id = want.want_id and f.item_id = s.radio_item_id
        left join band_part as b on b.want_id = want.want_id and b.item_id = s.radio_item_id
        left join way as w on w.post_kit_id = pk.post_kit_id
        left join alongside on alongside.post_kit_id = pk.post_kit_id
        left join mains on mains.kit_id = pk.kit_id
        left join car on car.kit_id = pk.kit_id
        left join handheld_lead as held on held.item_id = s.radio_item_id
        left join doubtful as d on d.kit_id = pk.kit_id
        left join plant on plant.post_id = pk.post_id
            and plant.kit_id is not distinct from case when pk.is_assigned then pk.kit_id end
    ), loaded as materialized (   -- the same, with what it draws on average
        select *, amps_tx * tx_share * mode_factor + amps_rx * (rx_share + tx_share * (1 - mode_factor)) + amps_idle * idle_share
            + accessory_a as load_a
        from at_post
    )"""
ON_ONE_CHARGE = """
    fed as materialized (   -- by radio and battery behind it: what it gives to it (worth_ah), straight or through a converter
        select supply_id, item_id, quantity, piece_ah * quantity as ah,
            charger_a, charge_per_h, given_back_share, charge_min_c, charge_max_c,
            max(piece_ah * quantity * usable_share / gain) as worth_ah
        from feed
        group by all
    ), charged as (   -- by radio: what chargers on mains can put back into its bank
        select supply_id, sum(quantity) as pieces, sum(ah) as fed_ah, sum(worth_ah) as worth_ah, max(charger_a) as charger_a,
            sum(ah) filter (charger_a > 0) as refill_ah,
            sum(ah * charge_per_h) filter (charger_a > 0) as most_a,
            min(given_back_share) filter (charger_a > 0) as given_back,
            max(coalesce(charge_min_c, 'infinity'::double)) filter (charger_a > 0) as from_c,
            min(charge_max_c) filter (charger_a > 0) as upto_c
        from fed
        group by supply_id
    ), several as materialized (   -- by kit at one of several posts and radio: first the one that works there
        select post_kit_id, supply_id, starts, ends, need_h, is_on_mains, worth_ah, fed_ah, refill_ah, most_a, given_back,
            at_once > 1 and is_fit as is_one_of_several,
            case when has_mains and not (is_handheld and pieces < 2)
                and temperature_c >= from_c and (greatest(temperature_c, warmest_c) > upto_c) is not true
                then charger_a else 0 end as given_a,
            case when is_on_mains then 0 else load_a end as own_a,
            rank() over (partition by post_kit_id order by suits desc, is_part desc, is_on_mains desc) = 1 as is_best,
            row_number() over (
                partition by post_kit_id
                order by suits desc, is_part desc, is_on_mains desc, worth_ah / load_a desc nulls last, radio_item_id
            ) as place
        from loaded left join charged using (supply_id)
        where is_assigned
        qualify min(starts) over (partition by supply_id) < max(starts) over (partition by supply_id)
    ), drawn as (   -- by each other of these: what the one that works draws of its bank, by the batteries that both hang on
        select o.post_kit_id, o.supply_id, w.own_a * coalesce(sum(its.worth_ah) / nullif(w.worth_ah, 0), 1) as drawn_a
        from several as o
        join several as w on w.post_kit_id = o.post_kit_id and w.place = 1 and o.place > 1
        join fed as its on its.supply_id = o.supply_id
        join fed as shared on shared.supply_id = w.supply_id and shared.item_id = its.item_id
        group by o.post_kit_id, o.supply_id, w.own_a, w.worth_ah
    ), sent as (   -- by each: what is drawn of its bank (out_a), what is used of it so beside the mains, and what mains put in
        select post_kit_id, supply_id, starts, ends, is_on_mains, fed_ah, refill_ah,
            case when place = 1 or is_one_of_several or is_best and drawn_a is null then own_a else coalesce(drawn_a, 0) end as out_a,
            need_h * greatest(out_a - coalesce(given_a, 0), 0) as used_ah,
            need_h * least(given_a - out_a, most_a) * given_back as put_ah
        from several left join drawn using (post_kit_id, supply_id)
    ), rested as (   -- by each: whether a night at home lies before it
        select *, starts - max(ends) over before >= to_minutes(cast(60 * $home as integer)) as is_rested
        from sent
        window before as (
            partition by supply_id order by starts, post_kit_id rows between unbounded preceding and 1 preceding
        )
    ), gone as (   -- by each: what is out of its bank at most when the shift begins, since the last such night
        select *, coalesce(sum(used_ah) over (
                partition by supply_id, night order by starts, post_kit_id rows between unbounded preceding and 1 preceding
            ), 0) as gone_ah
        from (
            select *, count(*) filter (is_rested) over (partition by supply_id order by starts, post_kit_id) as night from rested
        )
    ), turn as (   -- by each: what others take out of the charge on which it runs
        select post_kit_id, supply_id,
            case when not is_on_mains then sum(used_ah) over (partition by supply_id, charge) - used_ah end as others_ah
        from (
            select *, count(*) filter (is_fresh) over (partition by supply_id order by starts, post_kit_id) as charge
            from (
                select *, is_rested or lag(put_ah >= least(gone_ah, refill_ah) and (gone_ah <= refill_ah or refill_ah = fed_ah))
                    over (partition by supply_id order by starts, post_kit_id) as is_fresh
                from gone
            )
        )
    )"""
"""Of kits that are sent to several posts: what each takes out of a charge that they share."""
AT_POST = f"""
    with {OF_KIT}, {ALONGSIDE}, {CASE}, {ON_ONE_CHARGE}
    select * exclude (load_a, others_ah) replace (need_h + elsewhere_h as need_h),
        case when has_mains then elsewhere_h else 0 end as before_h
    from (
        select loaded.*, others_ah, round(coalesce(others_ah / nullif(load_a, 0), 0), 6) as elsewhere_h
        from loaded left join turn using (post_kit_id, supply_id)
    )
"""


def cases(con: duckdb.DuckDBPyConnection, policy: Policy, beside: int | None = None) -> pd.DataFrame:
    """The cases of a club, each kit and radio by itself.

    Parameters
    ----------
    beside : of one kit at a post (post_kit_id) and those that are sent to the same post alone, unless None
    """
    values = {
        "warm": policy.facts["assumed_temperature_c"],
        "sun_share": policy.facts["sun_share"],
        "home": policy.facts["home_h"],
        "mating": mated(),
    }
    if beside is None:
        return con.execute(AT_POST, values).df()
    some = """
        where post_id = (select post_id from post_kit where post_kit_id = $post_kit) and (is_assigned or post_kit_id = $post_kit)
    """
    return con.execute(AT_POST + some, values | {"post_kit": beside}).df()
