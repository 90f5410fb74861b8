"""Which radio can work which post, and how many independent stations each kit makes there."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from rules.facts.select import Select
from rules.facts.station_count import stations, working
from rules.facts.station_parts import DC_ROLES, ROLES
from rules.facts.stations import ITEMS, mating
from rules.facts.teams import Team, suits, teams
from rules.policy import Policy

TEAM = pa.schema(
    {
        "want_id": pa.int64(), "kit_id": pa.int64(), "item_ids": pa.list_(pa.int64()), "is_band": pa.bool_(),
        "is_mode": pa.bool_(), "is_strong": pa.bool_(), "rf_watts": pa.float64(),
    }
)  # fmt: skip

BAND_PART = """
    select k.* exclude (given), k.given.item_id, k.given.bands, k.given.does
    from (
        select want_id, kit_id, any_value(each_band) as each_band, any_value(asked) as asked,
            flatten(list(on_bands) filter (may_give)) as may_bands,
            case when bool_and(is_told) filter (may_give) then flatten(list(does) filter (may_give))
                else any_value(asked) end as may_does,
            max_by({'item_id': item_id, 'bands': sure_bands, 'does': does},
                (len(sure_bands), -coalesce(amps_tx, 0), -item_id)) filter (gives) as given
        from (
            select s.*, d.is_told, w.each_band, case when w.modes is null then [] else w.asked end as asked,
                h.on_bands, h.sure_bands, i.amps_tx,
                list_intersect(d.modes, w.asked) as does, w.modes is null or len(does) > 0 as is_in_mode,
                len(h.sure_bands) > 0 and s.is_strong and is_in_mode as gives,
                h.item_id is not null and s.is_strong is distinct from false and (is_in_mode or not d.is_told) as may_give
            from split_suit as s join asked_want as w using (want_id) left join heard as h using (want_id, item_id)
            join radio_mode as d using (item_id) join item as i using (item_id)
        )
        group by want_id, kit_id having bool_and(is_band is false) and bool_or(may_give)
    ) as k
    """


def suit(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """What posts ask (want), and how far each radio of a kit that could go there suits it.

    A radio suits where it can stand on a complete station of its kit, with an antenna on each of the post's bands; an
    antenna that does not tell its bands leaves that open, a radio with its own antenna counts by its own bands. Of a kit
    that makes no station at all, or for certain none, no_complete_station says that: there the radio alone is asked.

    Where no one radio of a kit has all of a post's bands, several that are on at once may have them between them (`_teams`):
    these then suit as they do together. A relay is one radio. Of a kit that has not all of them, band_part tells what one radio
    of it gives to a post that several kits hold.
    """
    con.execute(
        """
        create or replace temp table told_want as
            select post_id, bands like '% %' and duty is distinct from 'relay' as may_split,
                dense_rank() over (order by bands, modes, rf_watts_min, power_setting, may_split) as want_id from post;
        create or replace temp table asked_want as
            select distinct want_id, bands, modes, rf_watts_min, power_setting, may_split,
                string_split(replace(modes, 'ssb_processed', 'ssb'), ' ') as asked, string_split(coalesce(bands, ''), ' ') as each_band
            from told_want join post using (post_id);
        create or replace temp table asked_of as
            select want_id, kit_id from asked_want
            cross join (select kit_id from kit join member using (member_id)
                where is_available and not exists (from sent_only))
            union select want_id, kit_id from assignment join told_want using (post_id) where kit_id is not null
        """
    )
    of = """
        (select distinct kit_id, unnest(each_band) as band from asked_of join asked_want using (want_id))
        join station using (kit_id) where stations_high > 0
        """
    which = """i.role not in ('radio', 'antenna') or l.band = ''
        or coalesce(list_contains(string_split(i.bands, ' '), l.band), true)"""
    con.register("flow_radio", working(*_by_lot(con, "suit_lot", policy, "kit_id, band", of, which)))
    con.execute(
        """
        create or replace temp table heard as
            select item_id, want_id, count(*) = any_value(len(each_band)) as is_maybe_on_all,
                count(*) filter (is_certain) = any_value(len(each_band)) as is_on_all, bool_or(is_certain) as is_on_one,
                list(band) filter (may_split) as on_bands, list(band) filter (may_split and is_certain) as sure_bands
            from flow_radio join suit_lot on suit_lot.lot_id = flow_radio.kit_id join asked_want on list_contains(each_band, band)
            group by item_id, want_id
        """
    )
    con.unregister("flow_radio")
    radios = """
        select a.want_id, i.item_id, i.kit_id,
            case when w.bands is null then true else list_has_all(string_split(i.bands, ' '), w.each_band) end
                and is_sure and case when is_alone or h.is_on_all then true when h.is_maybe_on_all then is_open
                    else false end as is_band,
            case when w.modes is null or list_has_all(d.modes, w.asked) then true when d.is_told then false end as is_mode,
            case when w.bands is null then true else list_has_any(string_split(i.bands, ' '), w.each_band) end
                and is_sure and case when is_alone or h.is_on_one then true when h.item_id is not null then is_open
                    else false end as is_tuned,
            watts as rf_watts, case when w.rf_watts_min is null then true when rated_watts < w.rf_watts_min then false
                else watts >= w.rf_watts_min end as is_strong
        from item as i join radio_mode as d using (item_id) join asked_of as a on a.kit_id = i.kit_id
        join asked_want as w on w.want_id = a.want_id
        left join station as t on t.kit_id = i.kit_id
        left join heard as h on h.item_id = i.item_id and h.want_id = a.want_id,
            lateral (select nullif(i.condition = 'ok', false) as is_sure, coalesce(t.stations_high, 0) = 0 as is_alone,
                case when t.stations_low = 0 then true end as is_open,
                -- one that tells of no low setting counts at full power
                case when w.power_setting = 'low' then least(i.rf_watts_low, i.rf_watts) else i.rf_watts end as rated_watts,
                case when is_sure then rated_watts end as watts)
        """
    parts = {}
    if con.execute("select exists (from asked_want where may_split)").fetchall()[0][0]:
        con.execute(f"create or replace temp table split as {radios} where w.may_split")
        con.register("found_team", _teams(con, policy))
        con.execute("create or replace temp table team as from found_team")
        con.unregister("found_team")
        con.execute(
            """
            create or replace temp table split_suit as select s.* replace (
                    case when is_one then t.is_band else s.is_band end as is_band,
                    case when is_one then t.is_mode else s.is_mode end as is_mode,
                    case when is_one then t.rf_watts else s.rf_watts end as rf_watts,
                    case when is_one then t.is_strong else s.is_strong end as is_strong
                ), case when is_one then len(t.item_ids) end as at_once
            from split as s left join team as t using (want_id, kit_id), lateral (select list_contains(t.item_ids, s.item_id) as is_one)
            """
        )
        radios += " where w.may_split is not true union all by name from split_suit"
        parts = {"band_part": Select(BAND_PART)}
    return {"want": Select("select post_id, want_id from told_want"), "suit": Select(radios), **parts}


def _teams(con: duckdb.DuckDBPyConnection, policy: Policy) -> pa.Table:
    """The radios of each kit that have a post's bands between them, where no one radio of it has them all: a row for each want and kit.

    On at once, each stands on a station of its own; where they could only share what feeds them, it is not known whether
    they do. Of several teams that counts which suits best, if it does so better than any one radio; of these which draws least.
    """
    kits = con.execute(
        """
        select s.want_id, s.kit_id, any_value(w.each_band), any_value(case when w.modes is not null then w.asked end),
            list({'item_id': s.item_id, 'on_bands': h.on_bands,
                'does': coalesce(list_intersect(d.modes, w.asked), []), 'is_told': d.is_told,
                'is_band': s.is_band, 'is_mode': s.is_mode, 'is_strong': s.is_strong, 'rf_watts': s.rf_watts, 'amps_tx': i.amps_tx}
                order by s.item_id)
        from split as s join asked_want as w using (want_id) join heard as h using (want_id, item_id)
        join radio_mode as d using (item_id) join item as i using (item_id)
        group by s.want_id, s.kit_id
        having bool_or(s.is_band) is not true and list_has_all(flatten(list(h.on_bands)), any_value(w.each_band))
        """
    ).fetchall()
    single = {
        (want_id, kit_id): max(
            suits(radio["is_band"], radio["is_mode"], radio["is_strong"]) for radio in radios
        )
        for want_id, kit_id, _, _, radios in kits
    }
    found = [
        (want_id, kit_id, team)
        for want_id, kit_id, bands, modes, radios in kits
        for team in teams(bands, modes, radios)
    ]
    if not found:
        return TEAM.empty_table()
    best: dict[tuple[int, int], tuple[Any, bool | None, Team]] = {}
    for (*key, team), low, high in zip(found, *_stations_of(con, policy, found), strict=True):
        is_band = low >= len(team.item_ids) or None
        order = suits(is_band, team.is_mode, team.is_strong), -team.amps_tx
        want, kit = key
        if high >= len(team.item_ids) and order > best.get((want, kit), [(single[want, kit], np.inf)])[0]:
            best[want, kit] = order, is_band, team
    rows = [
        {"want_id": want, "kit_id": kit, "is_band": is_band} | {name: getattr(team, name) for name in TEAM.names[2:] if name != "is_band"}
        for (want, kit), (_, is_band, team) in best.items()
    ]  # fmt: skip
    return pa.Table.from_pylist(rows, TEAM)


def _stations_of(
    con: duckdb.DuckDBPyConnection, policy: Policy, found: Sequence[tuple[int, int, Team]]
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Independent stations that the radios of each team make at once on its bands, and at most, where these share what feeds them.

    Parameters
    ----------
    found : a want, a kit and a team of it
    """
    of = np.repeat(np.arange(len(found)), [len(team.seats) for *_, team in found])
    seated = {
        "no": np.arange(len(of)),
        "kit_id": pa.array([kit_id for _, kit_id, team in found for _ in team.seats], pa.int64()),
        "item_ids": pa.array([team.item_ids for *_, team in found for _ in team.seats], pa.list_(pa.int64())),
        "on_bands": pa.array([seat for *_, team in found for seat in team.seats], pa.list_(pa.string())),
    }
    con.register("seated", pa.table(seated))
    which = "i.role <> 'radio' or list_contains(l.item_ids, i.item_id)"
    changed = """replace (case when i.role = 'radio' then 1 else i.quantity end as quantity,
        case when i.role = 'radio' and i.bands is not null then l.on_bands[list_position(l.item_ids, i.item_id)]
            else i.bands end as bands)"""
    items, *rest = _by_lot(con, "team_lot", policy, ", ".join(seated), "seated", which, changed=changed)
    con.unregister("seated")
    many = pc.if_else(pc.is_in(items["role"], pa.array(DC_ROLES)), len(ROLES), 1)
    shared = items.set_column(
        items.column_names.index("quantity"), "quantity", pc.multiply(items["quantity"], many)
    )
    low = stations(items, *rest).per_kit["stations_low"].to_numpy()
    high = stations(shared, *rest).per_kit["stations_high"].to_numpy()
    begin = np.searchsorted(of, np.arange(len(found)))
    return np.minimum.reduceat(low, begin), np.minimum.reduceat(high, begin)


def way(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """Independent stations of each kit for its post: those whose radio suits, on an antenna of each of the bands.

    Of a kit in which all radios and antennas suit they are those of the fact station; else they are counted
    again without the others, on each band, and those of the poorest band count; of radios that have the bands
    between them each on its own. A radio of which it is not known whether it suits is taken as one of which
    nobody knows whether it works. Power is left out: a weaker radio is a second way on the air.
    """
    con.execute(
        """
        create or replace temp table asked_way as
            select pk.post_kit_id, pk.kit_id, want_id from post_kit as pk join post as p using (post_id) join want using (post_id)
            where pk.kit_id is not null and (pk.is_assigned or p.needs_two_ways);
        create or replace temp table narrowed as   -- kits in which something does not suit on all bands, and whether a radio does
            with asked as (
                select distinct kit_id, want_id, string_split(bands, ' ') as each_band
                from asked_way join (select want_id, any_value(bands) as bands from want join post using (post_id)
                    group by want_id) using (want_id)
            )
            select kit_id, want_id, any_value(each_band) as each_band, bool_or(is_radio and is_fit is distinct from false) as is_there
            from (
                select a.*, case when s.at_once is null or not (s.is_band and s.is_mode) then s.is_band
                    and s.is_mode end as is_fit, true as is_radio
                from asked as a join suit as s using (kit_id, want_id)
                union all
                select a.*, list_has_all(string_split(i.bands, ' '), each_band), false
                from asked as a join item as i using (kit_id)
                where i.role = 'antenna' and i.is_usable and i.bands is not null and each_band is not null
            )
            group by kit_id, want_id having bool_or(is_fit is distinct from true)
        """
    )
    of = """
        (select kit_id, want_id, unnest(coalesce(each_band, [''])) as band from narrowed where is_there)
        join station using (kit_id) where stations_high > 0
        """
    suits = """
        left join (select item_id, want_id, is_band and is_mode as is_fit from suit) as s on s.item_id = i.item_id
            and s.want_id = l.want_id
        """
    which = """(i.role <> 'radio' or s.is_fit is distinct from false)
        and (i.role not in ('radio', 'antenna') or l.band = '' or coalesce(list_contains(string_split(i.bands, ' '), l.band), true))"""
    changed = "replace (case when i.role <> 'radio' or s.is_fit then i.is_usable end as is_usable)"
    flow = stations(*_by_lot(con, "way_lot", policy, "kit_id, want_id, band", of, which, suits, changed))
    con.register("flow_kit", flow.per_kit)
    con.register("flow_weak", flow.weak)
    con.execute(
        """
        create or replace temp table counted as
            with line as (
                select l.kit_id, l.want_id, i.line, bool_and(w.is_doubtful) as is_doubtful
                from flow_weak as w join way_lot as l on l.lot_id = w.kit_id join item as i using (item_id) group by all
            )
            select n.*, coalesce(w.weak_lines, []) as weak_lines, coalesce(w.doubtful_lines, []) as doubtful_lines
            from (
                select l.kit_id, want_id, min(stations_low) as stations_low, min(stations_high) as stations_high
                from flow_kit as f join way_lot as l on l.lot_id = f.kit_id group by l.kit_id, want_id
            ) as n left join (
                select kit_id, want_id, list(line order by line) as weak_lines,
                    list(line order by line) filter (is_doubtful) as doubtful_lines
                from line group by kit_id, want_id
            ) as w using (kit_id, want_id)
        """
    )
    con.unregister("flow_kit")
    con.unregister("flow_weak")
    rows = """
        select a.post_kit_id, case when n.kit_id is null then t.stations_low else coalesce(c.stations_low, 0) end as stations_low,
            case when n.kit_id is null then t.stations_high else coalesce(c.stations_high, 0) end as stations_high,
            coalesce(case when n.kit_id is null then t.weak_lines else c.weak_lines end, []) as weak_lines,
            coalesce(case when n.kit_id is null then t.doubtful_lines else c.doubtful_lines end, []) as doubtful_lines
        from asked_way as a left join station as t using (kit_id) left join narrowed as n using (kit_id, want_id)
        left join counted as c using (kit_id, want_id)
        """
    return {"way": Select(rows)}


def far_radio(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """HF radios that can stand on a complete station of their kit with an HF antenna, where a post has poor
    coverage or nobody said how good it is.

    An antenna that does not tell its bands, or anything else that is not known, leaves it open.
    """
    con.execute(
        "create or replace temp table hf as select list(band) as bands from band where high_mhz <= 30"
    )
    of = """
        (
            select distinct kit_id from item cross join hf
            where role = 'radio' and is_usable and list_has_any(string_split(item.bands, ' '), hf.bands)
                and exists (from post where coalesce(rf_grade, 'poor') = 'poor')
        )
        """
    which = """i.role not in ('radio', 'antenna')
        or coalesce(list_has_any(string_split(i.bands, ' '), hf.bands), i.role = 'antenna')"""
    con.register(
        "flow_radio", working(*_by_lot(con, "far_lot", policy, "kit_id", of, which, "cross join hf"))
    )
    con.execute(
        "create or replace temp table far_reached as "
        "select l.kit_id, f.item_id, f.is_certain from flow_radio as f join far_lot as l on l.lot_id = f.kit_id"
    )
    con.unregister("flow_radio")
    return {"far_radio": Select("from far_reached")}


def _by_lot(
    con: duckdb.DuckDBPyConnection, lot: str, policy: Policy, by: str, of: str, which: str, joined: str = "", changed: str = ""
) -> tuple[pa.Table, pa.Table, float, npt.NDArray[np.int64]]:  # fmt: skip
    """What `working` and `stations` take, each lot in the place of a kit; the lots are left in a temporary table.

    Parameters
    ----------
    lot : the name of that table
    by : the columns that make a lot, kit_id and what is asked of it
    of : what the lots are read from
    which : the items (i) of a lot (l) that count, with what is joined
    changed : what of their columns is replaced
    """
    count = con.execute(
        f"create or replace temp table {lot} as select row_number() over (order by {by}) - 1 as lot_id, {by} from {of}; "
        f"select count(*) from {lot}"
    ).fetchall()[0][0]
    items = con.sql(
        f"select l.lot_id as kit_id, i.* exclude (kit_id) {changed} from ({ITEMS}) as i join {lot} as l using (kit_id) {joined} "
        f"where {which}",
        params={"roles": list(ROLES)},
    ).to_arrow_table()
    return items, mating(), float(policy.facts["converter_share"]), np.arange(count)
