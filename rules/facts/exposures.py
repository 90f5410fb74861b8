"""How far people keep from each antenna, and masts from power lines."""

from __future__ import annotations

from datetime import date

import duckdb
import numpy as np
import pandas as pd

from rules.physics import clearance
from rules.physics import exposure as limits
from rules.physics import feedline as lines
from rules.policy import Policy

ASSUMED_MHZ = 146.0
"""A radio that names no band is taken at 2 m, where the limit is strictest. 47 CFR 1.1310 Table 1 (30 to 300 MHz)."""
STOCK_DBI = 0.0
"""A radio with no antenna listed is taken with its own; a rubber one has less gain than this. Common practice."""


def exposure(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pd.DataFrame]:
    """Each kit at each post: distance (m) that the public and the crew keep from the antenna, on its worst band.

    Per radio that works and reaches a band of the post, at the frequency of the band where the limit is strictest (47 CFR 1.1310
    Table 1: its top up to 30 MHz, its bottom from 300 MHz on; between, where it is one and the same, its middle):

    - its power at the post's setting: full, and assumed, where a low one is not told;
    - the antenna of the kit that radiates most of it there, and the least lossy coax (none for a whip or magnet mount);
    - the factor of the post's modes (else the radio's, else 1) and the keyed share of the post, or the policy's of a worst half
      hour where that is more, averaged over the window of each tier.

    The worst radio and band count; one whose power is not told makes the distance NULL. Spare radios that nothing feeds
    (idle_radio) are left out. `near_m` is lambda / (2 pi) at the bottom of the lowest of these bands, nearer than which it is
    only a guide.

    Where several people are at a post at once, or at posts that name one site, as many of the transmitters there may be on the
    air, and at the duties relay and digital as many as the post plans, which need nobody: their fractions of the limit add, so
    the distance is the root of the sum of the squares of theirs, as if their antennas stood in one place. It is said of the
    kit whose worst radio asks for most; beside a stronger one that of a kit counts what asks for no more than it. `others_of`
    says how many of whose are added.

    Source: FCC OET Bulletin 65 (97-01), multiple-transmitter environments; 47 CFR 1.1307(b), 1.1310.
    """
    frame = con.execute(
        """
        select i.kit_id, i.item_id as radio_item_id, i.quantity, i.modes, i.rf_watts,
            least(i.rf_watts_low, i.rf_watts) as low_w, b.band,
            coalesce(case when b.high_mhz <= 30 then b.high_mhz when b.low_mhz >= 300 then b.low_mhz
                else (b.low_mhz + b.high_mhz) / 2 end, $assumed_mhz) as frequency_mhz,
            coalesce(b.low_mhz, $assumed_mhz) as lowest_mhz, coalesce(a.gain_dbi, $stock_dbi) as gain_dbi,
            a.kind is not null and a.kind not in ('whip', 'mag_mount') as has_coax,
            i.rf_watts_is_assumed as is_high_assumed, i.rf_watts_low is null or i.is_low_assumed as is_low_assumed,
            b.band is null or a.gain_dbi is null or a.gain_dbi_is_assumed as is_gain_assumed,
            list_filter([i.line, a.line], lambda x: x is not null) as lines
        from (select *, unnest(string_split(coalesce(bands, ''), ' ')) as named from item
              where role = 'radio' and is_usable and coalesce(rf_watts, 1) > 0 and item_id not in (select item_id from idle_radio)
                  and kit_id in (select kit_id from post_kit)) as i
        left join band as b on b.band = i.named
        left join item as a on a.kit_id = i.kit_id and a.role = 'antenna' and a.is_usable
            and coalesce(list_contains(string_split(a.bands, ' '), b.band), true) and (i.kind = 'handheld' or a.kind <> 'whip')
        where b.band is not null or i.bands is null
        """,
        {"stock_dbi": STOCK_DBI, "assumed_mhz": ASSUMED_MHZ},
    ).df()
    coax = con.execute(
        """
        select i.kit_id, c.k1, c.k2, i.length_m from item as i join coax as c using (coax)
        where i.role = 'coax' and i.is_usable and i.length_m is not null
        """
    ).df()
    frame["loss_db"] = _least_loss_db(frame, coax)
    numbers = frame[["rf_watts", "low_w", "gain_dbi", "loss_db"]].to_numpy(float)
    for name, watts in (("eirp_w", numbers[:, 0]), ("low_eirp_w", numbers[:, 1])):
        frame[name] = lines.eirp_w(np.nan_to_num(watts), numbers[:, 2], numbers[:, 3])
    con.register("radiated", frame)
    cases = con.execute(
        """
        with strongest as (
            from radiated
            qualify row_number() over (partition by radio_item_id, band order by eirp_w desc, lines) = 1
        ), wanted as (
            select row_number() over () as wanted_id, *
            from (select distinct bands, modes, tx_share, power_setting = 'low' as is_low from post)
        ), post_mode as (
            select w.wanted_id, max(m.duty_factor) as factor
            from wanted as w join mode as m on list_contains(string_split(w.modes, ' '), m.mode) group by w.wanted_id
        ), usual_mode as (
            select s.radio_item_id, max(m.duty_factor) as factor
            from strongest as s join mode as m on list_contains(string_split(s.modes, ' '), m.mode) group by s.radio_item_id
        )
        select w.*, s.* exclude (modes) replace (
                case when w.is_low then s.low_w else s.rf_watts end as rf_watts,
                case when w.is_low then s.low_eirp_w else s.eirp_w end as eirp_w
            ),
            case when is_gain_assumed or case when w.is_low then is_low_assumed else is_high_assumed end
                 then 'assumed' else 'told' end as how,
            coalesce(p.factor, q.factor, 1.0) as mode_factor
        from wanted as w cross join strongest as s
        left join post_mode as p using (wanted_id)
        left join usual_mode as q using (radio_item_id)
        where w.bands is null or s.band is null or list_contains(string_split(w.bands, ' '), s.band)
        """
    ).df()
    con.unregister("radiated")
    worst, period_min = float(policy.facts["worst_tx_share"]), float(policy.facts["talk_period_min"])
    share = np.maximum(cases["tx_share"].to_numpy(float, na_value=worst), worst)
    mode, mhz = cases["mode_factor"].to_numpy(float), cases["frequency_mhz"].to_numpy(float)
    cases["is_known"] = cases["rf_watts"].notna()
    for tier, name in (("uncontrolled", "public_safe_m"), ("controlled", "crew_safe_m")):
        average_w = limits.average_power_w(
            cases["eirp_w"].to_numpy(float), mode, share * period_min, period_min, tier
        )
        cases[name] = limits.safe_distance_m(average_w, mhz, tier)
    cases["near_m"] = limits.exemption_floor_m(cases["lowest_mhz"].to_numpy(float))
    con.register("exposed", cases)
    rows = con.execute(
        """
        with worst as (
            select wanted_id, any_value(bands) as bands, any_value(modes) as modes, any_value(tx_share) as tx_share,
                any_value(is_low) as is_low, kit_id,
                max_by(struct_pack(radio_item_id, band, frequency_mhz, rf_watts, gain_dbi, loss_db, how, lines),
                    (case when is_known then public_safe_m else 1e9 end, -radio_item_id, band)) as of_worst, max(near_m) as near_m,
                case when bool_and(is_known) then max(public_safe_m) end as public_safe_m,
                case when bool_and(is_known) then max(crew_safe_m) end as crew_safe_m
            from exposed group by wanted_id, kit_id
        ), radio as (
            select wanted_id, kit_id, unnest(range(any_value(quantity))) as piece, max(public_safe_m) as public_m,
                max(crew_safe_m) as crew_m
            from exposed where is_known group by wanted_id, kit_id, radio_item_id
        ), stand as (   -- unattended: a node keys itself, a packet station answers by itself
            select post_id, site, opens, closes, coalesce(duty in ('relay', 'digital'), false) as is_unattended,
                case when is_unattended then greatest(operators, radios) else operators end as on_air
            from post
        ), beside as (   -- posts that stand at one place while both are open
            select post_id, post_id as other_id, is_unattended, on_air from stand
            union all
            select a.post_id, b.post_id, b.is_unattended, b.on_air
            from (from stand where site is not null) as a join stand as b on lower(b.site) = lower(a.site)
                and b.post_id <> a.post_id and b.opens < a.closes and b.closes > a.opens
        ), people as (
            select s.post_id, t.is_unattended, a.assignment_id, count(distinct b.member_id) as people
            from beside as s join assignment as a on a.post_id = s.other_id
            join beside as t on t.post_id = s.post_id
            join assignment as b on b.post_id = t.other_id and b.starts <= a.starts and b.ends > a.starts
            group by s.post_id, t.is_unattended, a.assignment_id
        ), at_once as (
            select post_id, sum(greatest(n.on_air, p.people)) as radios
            from (select post_id, is_unattended, sum(on_air) as on_air from beside group by post_id, is_unattended) as n
            left join (select post_id, is_unattended, max(people) as people from people group by post_id, is_unattended) as p
                using (post_id, is_unattended)
            group by post_id having radios > 1
        ), there as (
            select pk.*, w.wanted_id, w.public_safe_m, w.near_m, p.post
            from post_kit as pk join post as p using (post_id)
            join worst as w on w.kit_id = pk.kit_id and w.bands is not distinct from p.bands
                and w.modes is not distinct from p.modes and w.tx_share is not distinct from p.tx_share
                and w.is_low = (p.power_setting = 'low')
            where pk.post_id in (select other_id from beside join at_once using (post_id))
        ), counted as (
            select t.post_kit_id, o.kit_id, r.public_m, r.crew_m, o.near_m, o.kit_id = t.kit_id as is_own,
                case when o.post_id <> t.post_id then o.post end as elsewhere
            from there as t join at_once as n using (post_id)
            join beside as s on s.post_id = t.post_id
            join there as o on o.post_id = s.other_id and (o.post_kit_id = t.post_kit_id
                or o.is_assigned and o.kit_id <> t.kit_id and o.starts < t.ends and o.ends > t.starts)
            join radio as r on r.kit_id = o.kit_id and r.wanted_id = o.wanted_id and r.public_m <= t.public_safe_m
            qualify row_number() over (partition by t.post_kit_id order by r.public_m desc, is_own desc, o.kit_id) <= n.radios
        ), added as (
            select post_kit_id, sqrt(sum(public_m)) as public_m, sqrt(sum(crew_m)) as crew_m, max(near_m) as near_m,
                string_agg(case when is_own and radios = 2 then 'another radio of its own'
                    when is_own then radios - 1 || ' more radios of its own'
                    else k.member || '''s ' || if(radios = 1, 'radio',
                        radios || ' radios') || coalesce(' at ' || elsewhere, '') end, ' and '
                    order by is_own desc, k.member, elsewhere) filter (radios > 1 or not is_own) as others_of
            from (
                select post_kit_id, kit_id, is_own, elsewhere, sum(public_m * public_m) as public_m,
                    sum(crew_m * crew_m) as crew_m, max(near_m) as near_m,
                    count(*) as radios
                from counted group by post_kit_id, kit_id, is_own, elsewhere
            ) left join kit as k using (kit_id) group by post_kit_id
        )
        select pk.post_kit_id, w.of_worst.radio_item_id, w.of_worst.band, w.of_worst.frequency_mhz, w.of_worst.rf_watts,
            w.of_worst.gain_dbi, w.of_worst.loss_db, greatest(w.near_m, a.near_m) as near_m, w.of_worst.how, w.of_worst.lines,
            coalesce(case when w.public_safe_m is not null then a.public_m end, w.public_safe_m) as public_safe_m,
            coalesce(case when w.public_safe_m is not null then a.crew_m end, w.crew_safe_m) as crew_safe_m, a.others_of
        from post_kit as pk join post as p using (post_id)
        join worst as w on w.kit_id = pk.kit_id and w.bands is not distinct from p.bands
            and w.modes is not distinct from p.modes and w.tx_share is not distinct from p.tx_share
            and w.is_low = (p.power_setting = 'low')
        left join added as a on a.post_kit_id = pk.post_kit_id
        """
    ).df()
    con.unregister("exposed")
    return {"exposure": rows}


def _least_loss_db(frame: pd.DataFrame, coax: pd.DataFrame) -> pd.Series:
    """Loss (dB) of the kit's least lossy coax at each case's frequency; 0 where it has none or needs none."""
    pairs = frame[["kit_id", "frequency_mhz"]].drop_duplicates().merge(coax, on="kit_id")
    numbers = pairs[["k1", "k2", "frequency_mhz", "length_m"]].to_numpy(float)
    pairs["loss_db"] = lines.matched_loss_db(*numbers.T)
    least = pairs.groupby(["kit_id", "frequency_mhz"], as_index=False)["loss_db"].min()
    found = frame[["kit_id", "frequency_mhz"]].merge(least, on=["kit_id", "frequency_mhz"], how="left")
    return found["loss_db"].where(frame["has_coax"], 0.0).fillna(0.0)


def fall_zone(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pd.DataFrame]:
    """How far (m) the mast of each post that plans one must stand from a power line."""
    frame = con.execute("select post_id, mast_m from post where mast_m > 0").df()
    above_m = float(policy.facts["antenna_above_mast_m"])
    frame["clear_m"] = clearance.fall_zone_m(frame["mast_m"].to_numpy(float), above_m)
    return {"fall_zone": frame[["post_id", "clear_m"]]}
