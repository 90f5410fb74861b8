"""Leads, fuses and feed lines: what they drop, what they carry, what they lose."""

from __future__ import annotations

from datetime import date

import duckdb
import numpy as np
import pyarrow as pa

from data import reference
from rules.facts.select import Select, columns, floats, table
from rules.physics import feedline as lines
from rules.physics import fuse as fuses
from rules.physics import wire
from rules.policy import Policy

NOMINAL_V = 13.8


def lead(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pa.Table]:
    """Each DC lead and adapter: drop (V) and its share of 13.8 V at its kit's peak current.

    The peak is the transmit current of the hungriest radio in the kit that is not a handheld; what passes a lead that does not
    lead to that, or stands before a converter, the fact `passing` says. Leads count one after the other only where the plugs
    force them, on the shortest ways to each radio (`chain`). Of several that fit the same plugs, or lie beside a battery that joins
    the radio without, nobody is taken to string them all together, and each is judged by itself.
    """
    told = columns(
        con,
        """
        select i.item_id, i.kit_id, h.peak_a, i.wire_mm2, i.length_m,
            case when i.wire_awg_is_assumed or i.length_m_is_assumed then 'assumed' else 'told' end as how
        from item as i
        join holding as h using (kit_id)
        where i.role = 'lead' and i.is_usable and i.kind in ('dc_lead', 'clip_lead', 'socket_lead', 'dc_adapter')
        """,
    )
    area, length, peak = (floats(told[name]) for name in ("wire_mm2", "length_m", "peak_a"))
    known = ~np.isnan(area) & ~np.isnan(length) & ~np.isnan(peak)
    drop = np.full(len(known), np.nan)
    if known.any():
        temperature = float(policy.facts["lead_temperature_c"])
        drop[known] = wire.voltage_drop_v(peak[known], area[known], length[known], temperature)
    return {"lead": table(told | {"drop_v": drop, "drop_share": drop / NOMINAL_V})}


def fuse(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pa.Table]:
    """Each fuse in use and each DC lead with a fuse in it: rating (A), and from which to which it suits (A).

    The least is what carries the peak current of the kit's radios that are not handhelds, the most what the
    wire carries: that of the fuse's own line where its size was told, else that of the kit's leads, of which
    the heaviest tells the most and the thinnest `thin_a`, which an adapter may be whose wire was told. A clip lead
    has a fuse in it, another lead where it tells how far that sits from the battery: its rating is then that of the
    fuse, and where it tells none that of its kind, whatever its plugs carry; one whose rating is not told is left to
    the fuses in use beside it.
    The ampacity is that of the next thinner gauge in data/reference/wire.csv (NFPA 70 Table 310.16, copper, 90
    C, down to 14 AWG; below a chart of hook-up wire at 80 C in free air, which has the same for 14 AWG). A lead without a
    fuse that tells a rating and no wire carries that rating. One that tells neither may be as thin as the peak current allows:
    what it carries beyond that is not known (`thin_a`), and taken as usual only for the most.
    """
    told = columns(
        con,
        """
        with wired as (
            select i.item_id, i.kit_id, i.role = 'fuse' as is_fuse, i.kind = 'dc_adapter' as is_adapter,
                i.kind = 'clip_lead' or not is_adapter and i.fuse_at_m is not null as has_fuse,
                i.kind <> 'fuse' or i.item_id in (select item_id from fitted_fuse) as is_fitted,
                case when i.amps_rated_is_assumed then k.amps_rated else i.amps_rated end as fuse_a,
                i.wire_awg_is_assumed and (i.role = 'fuse' or not has_fuse) as is_untold,
                is_untold and i.role = 'lead' and not i.amps_rated_is_assumed as is_by_rating,
                i.amps_rated_is_assumed, case when not is_by_rating then i.wire_mm2 end as wire_mm2,
                i.wire_awg_is_assumed and not is_by_rating as wire_awg_is_assumed,
                case when is_by_rating then i.amps_rated else w.ampacity_a end as ampacity_a
            from item as i join kind as k on k.kind = i.kind::varchar
            left join lateral (select max(ampacity_a) as ampacity_a from wire where mm2 <= i.wire_mm2 * 1.01) as w on true
            where i.is_usable and (i.role = 'fuse' and not i.is_spare or i.kind in ('dc_lead', 'clip_lead')
                or is_adapter and not i.wire_awg_is_assumed)
        ), beside as (
            select kit_id, bool_or(is_fuse) as is_fused, arg_max_null(wire_mm2, ampacity_a) filter (not is_fuse and not is_adapter) as wire_mm2,
                case when count(*) filter (not is_fuse and ampacity_a is null) = 0 then min(ampacity_a)
                    filter (not is_fuse) end as thin_a,
                max(ampacity_a) filter (not is_fuse and not is_adapter) as thick_a,
                bool_or(wire_awg_is_assumed) filter (not is_fuse) as is_assumed,
                bool_or(is_untold and not is_by_rating) filter (not is_fuse) as is_untold
            from wired group by kit_id
        ), rated as (
            select i.item_id, i.kit_id, i.is_fuse, i.is_fitted, i.fuse_a, i.amps_rated_is_assumed, i.wire_awg_is_assumed, i.wire_mm2, i.ampacity_a,
                b.wire_mm2 as leads_mm2, b.thin_a, b.thick_a, b.is_assumed, i.is_untold, b.is_untold as are_untold,
                i.is_fuse and (i.wire_awg_is_assumed or i.wire_mm2 is null) and b.thick_a is not null as of_leads
            from wired as i join beside as b using (kit_id)
            where i.is_fuse or i.has_fuse and not (i.amps_rated_is_assumed and b.is_fused)
        )
        select i.item_id, i.kit_id, i.is_fuse, i.is_fitted, i.fuse_a, h.peak_a,
            case when of_leads then i.leads_mm2 else i.wire_mm2 end as wire_mm2,
            case when of_leads then i.thin_a else i.ampacity_a end as thin_a,
            case when of_leads then i.thick_a else i.ampacity_a end as thick_a,
            coalesce(case when of_leads then i.are_untold else i.is_untold end, false) as is_untold,
            i.amps_rated_is_assumed as is_rating_assumed,
            case when i.amps_rated_is_assumed or case when of_leads then i.is_assumed else i.wire_awg_is_assumed end
                 then 'assumed' else 'told' end as how
        from rated as i join holding as h using (kit_id)
        """,
    )
    carried = np.array([*reference.table("wire")["ampacity_a"].sort_values(), np.nan])
    enough = carried[np.searchsorted(carried[:-1], np.nan_to_num(floats(told["peak_a"])))]
    is_open = np.asarray(told.pop("is_untold"), bool) & ~(floats(told["fuse_a"]) <= enough)
    told["thin_a"] = np.where(is_open, np.nan, floats(told["thin_a"]))
    margin = float(policy.facts["fuse_margin"])
    least, most = fuses.fuse_window(floats(told["peak_a"]), floats(told.pop("thick_a")), margin)
    return {"fuse": table(told | {"least_a": least, "ampacity_a": most})}


def feedline(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pa.Table]:
    """Each feed line but spare ones that the example station can do without, and each pigtail of it: matched loss (dB), and
    what reaches the antenna (W).

    The band is the highest that a radio of the kit and an antenna apart from it share, else the highest of its radios; a kit
    that names none is taken at 2 m, without a power. The power is that of the strongest radio on that band that is
    not a handheld, less the loss with the worst standing-wave ratio told of an antenna for the band; none told is a match.
    Lines of the example station are joined to each other (`is_on_way`): what all of them lose together stands between
    radio and antenna. Connectors are not counted: a tight one loses next to nothing.
    """
    told = columns(
        con,
        """
        with radio as (
            select kit_id, rf_watts, unnest(string_split(bands, ' ')) as band from item
            where role = 'radio' and is_usable and kind <> 'handheld' and bands is not null
                and item_id not in (select item_id from idle_radio)
        ), antenna as (
            select kit_id, bool_or(bands is null) as is_open, string_split(string_agg(bands, ' '), ' ') as bands
            from item where role = 'antenna' and is_usable and kind <> 'whip' group by kit_id
        ), ranked as (
            select r.kit_id, r.band, (b.low_mhz + b.high_mhz) / 2 as mhz, r.rf_watts,
                a.is_open is not false or list_contains(a.bands, r.band) as is_shared
            from radio as r join band as b using (band) left join antenna as a using (kit_id)
        ), highest as (
            select kit_id, max_by(struct_pack(band, mhz, rf_watts),
                struct_pack(is_shared, mhz, watts := coalesce(rf_watts, -1))) as of_kit
            from ranked group by kit_id
        ), match as (
            select a.kit_id, max(a.swr) as swr
            from item as a left join highest as h using (kit_id)
            where a.role = 'antenna' and a.is_usable and a.kind <> 'whip' and a.swr is not null
                and coalesce(list_contains(string_split(a.bands, ' '), coalesce(h.of_kit.band, '2m')), true)
            group by a.kit_id
        ), instead as (   -- of a spare line on the way of the example station, one in use with its plugs
            select s.item_id as spare_id, min(o.item_id) as item_id
            from item as s join station_step using (item_id)
            join item as o on o.kit_id = s.kit_id and o.role = 'coax' and o.is_usable and not o.is_spare
                and list_sort([o.rf_plug, o.rf_plug_far]) = list_sort([s.rf_plug, s.rf_plug_far])
            where s.role = 'coax' and s.is_spare and o.item_id not in (select item_id from station_step) group by s.item_id
        ), joined as (
            select item_id from station_step where item_id not in (select spare_id from instead)
            union select item_id from instead
        )
        select i.item_id, i.kit_id, i.coax, i.length_m, coalesce(h.of_kit.band, '2m') as band,
            coalesce(h.of_kit.mhz, 146.0) as frequency_mhz, h.of_kit.rf_watts, m.swr, c.k1, c.k2, i.role = 'rf_adapter' as is_adapter,
            s.item_id is not null as is_on_way,
            case when i.coax_is_assumed or i.length_m_is_assumed then 'assumed' else 'told' end as how
        from item as i
        left join highest as h using (kit_id)
        left join match as m using (kit_id)
        left join coax as c using (coax)
        left join joined as s on s.item_id = i.item_id
        where i.is_usable and (i.role = 'coax' and not (i.is_spare and s.item_id is null) or i.role = 'rf_adapter'
            and i.coax is not null and s.item_id is not null)
        """,
    )
    numbers = np.array([floats(told[name]) for name in ("k1", "k2", "frequency_mhz", "length_m")])
    known = ~np.isnan(numbers).any(axis=0)
    loss = np.full(len(known), np.nan)
    if known.any():
        loss[known] = lines.matched_loss_db(*numbers[:, known])
    is_on_way = np.asarray(told["is_on_way"], bool)
    kit = np.unique(np.asarray(told["kit_id"]), return_inverse=True)[1]
    of_way = np.bincount(kit[is_on_way], loss[is_on_way], kit.max(initial=-1) + 1)
    with_swr = lines.loss_with_swr_db(
        np.where(is_on_way, of_way[kit], loss), np.nan_to_num(floats(told["swr"]), nan=1.0)
    )
    reaching = lines.power_at_antenna_w(floats(told["rf_watts"]), with_swr)
    del told["k1"], told["k2"]
    return {"feedline": table(told | {"loss_db": loss, "antenna_w": reaching})}


def passing(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """What passes a thing for one ampere into the hungriest radio of its kit that is no handheld, where that is another current.

    A thing whose plugs lead to smaller radios alone (`leads_to`) passes what the hungriest of these draws; one
    that they lead to no radio, and one of which a plug is not told, counts with the kit's. Before a converter
    flows the radio's power over the volts there: on the example station, and where the plugs leave no way
    around the converter. What could lie before it or behind it counts as behind. A battery passes what the
    radios draw that it feeds, and fuses in use, which belong beside a battery, what the batteries of the kit
    do, unless the example station has one behind the converter. A booster counts as in use where the battery
    falls below what the radio takes, or does not feed it without.
    """
    asked = "select exists (from leads_to) or exists (from feed where is_converted)"
    if not con.execute(asked).fetchall()[0][0]:
        return {}
    rows = Select(
        """
        with fed as (
            select u.kit_id, u.radio_item_id, f.item_id, f.gain, f.nominal_v, u.is_handheld is true as is_handheld,
                coalesce(u.amps_tx / nullif(h.peak_a, 0), 1) as share
            from (from feed where is_converted and gain is not null) as f join supply as u using (supply_id)
            join holding as h using (kit_id)
            where h.has_mobile
        ), thing as (   -- in kits with a converter for such a radio
            select item_id, kit_id, role, volts_min, volts_max, role = 'source' or role = 'fuse' and not is_spare as is_beside
            from item where is_usable and role in ('radio', 'source', 'fuse', 'converter')
                and kit_id in (select kit_id from fed where not is_handheld)
        ), used as (
            select l.kit_id, l.radio_item_id, l.item_id, l.gain * l.share as gain, l.nominal_v
            from fed as l join thing as b on b.item_id = l.item_id join thing as r on r.item_id = l.radio_item_id
            where not l.is_handheld and (l.gain > 1 and r.volts_min > b.volts_min
                or not coalesce(b.volts_max >= r.volts_min and b.volts_min <= r.volts_max, true))
            union all
            select u.kit_id, u.radio_item_id, f.item_id, coalesce(u.amps_tx / nullif(h.peak_a, 0), 1), null
            from thing as b join feed as f on f.item_id = b.item_id and not f.is_converted
            join supply as u using (supply_id) join holding as h on h.kit_id = u.kit_id
            where u.is_handheld is not true
        ), on_way as (
            select s.item_id, case when s.step < b.step then l.gain * l.share else 1 end as gain,
                case when s.step < b.step then l.nominal_v end as nominal_v
            from (from fed where not is_handheld) as l
            join station_step as q on q.item_id = l.item_id
            join station_step as r on r.item_id = l.radio_item_id
            join station_step as b on b.kit_id = l.kit_id
            join thing as c on c.item_id = b.item_id and c.role = 'converter'
            join station_step as s on s.kit_id = l.kit_id and s.step <> b.step
            left join thing as i on i.item_id = s.item_id
            where s.step < b.step or i.role = 'fuse'
        ), beside as (
            select i.item_id, u.gain, u.nominal_v
            from used as u join thing as i on i.kit_id = u.kit_id and i.is_beside and (i.item_id = u.item_id or i.role = 'fuse')
            where i.item_id not in (select item_id from leads_to)
                or (i.item_id, u.radio_item_id) in (select (item_id, radio_item_id) from leads_to)
        ), led as (
            select t.item_id, coalesce(t.amps_tx / nullif(h.peak_a, 0), 1) * case
                when t.is_converted then coalesce(f.gain, 1) else 1 end as gain,
                case when t.is_converted then f.nominal_v end as nominal_v
            from leads_to as t join holding as h using (kit_id)
            left join (select radio_item_id, max(gain) as gain, arg_max(nominal_v, gain) as nominal_v from fed
                group by radio_item_id) as f
                on f.radio_item_id = t.radio_item_id
            where (t.is_converted or t.item_id not in (select item_id from thing where is_beside))
                and t.radio_item_id not in (select item_id from idle_radio)
        ), passed as (
            from on_way union all from beside union all from led
        )
        select item_id, max(gain) as gain, max_by(struct_pack(volts := nominal_v), gain).volts as nominal_v
        from passed group by item_id having max(gain) <> 1 or max_by(struct_pack(volts := nominal_v), gain).volts is not null
        """
    )
    return {"passing": rows}
