"""Who is at a post with whom, in the dark or by day, whether their licence covers it, and how near it comes to their limits."""

from __future__ import annotations

from datetime import date

import duckdb
import numpy as np
import pandas as pd

from data import reference
from rules.facts.select import Select
from rules.physics import sun
from rules.policy import Policy

HF_BELOW_MHZ = 30.0
"""Below this a licence must include HF; 47 CFR 97.301."""


def company(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """The fewest other people at the post during each assignment.

    Company can only become less where someone leaves, so it is counted when the assignment starts and whenever
    another one at the post ends within it.
    """
    rows = Select(
        """
        with moment as (
            select assignment_id, post_id, member_id, starts as at from assignment
            union
            select a.assignment_id, a.post_id, a.member_id, b.ends
            from assignment as a join assignment as b on b.post_id = a.post_id and b.ends > a.starts and b.ends < a.ends
        ), counted as (
            select m.assignment_id, m.post_id, m.member_id, m.at, count(distinct b.member_id) as others
            from moment as m
            left join assignment as b on b.post_id = m.post_id and b.member_id <> m.member_id
                and b.starts <= m.at and b.ends > m.at
            group by all
        )
        select assignment_id, post_id, member_id, min(others) as others from counted group by assignment_id, post_id, member_id
        """
    )
    return {"company": rows}


def shift(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """The shift that each assignment is a part of.

    A shift goes on, at whichever post of whichever event, until the member has the policy's rest; its hours (h) are those
    on duty within 24, breaks left out and what overlaps counted once.
    """
    rows = Select(
        """
        with turn as (
            select *, max(ends) over (partition by member_id order by starts,
                assignment_id rows between unbounded preceding and 1 preceding) as before
            from assignment_utc
        ), numbered as (
            select *, greatest(starts, coalesce(before, starts)) as since, count(*) filter (
                before is null or date_diff('minute', before, starts) >= 60 * $rest_h)
                    over (partition by member_id order by starts, assignment_id) as shift_no
            from turn
        ), day as (   -- no 24 hours hold more than some that begin with a turn
            select a.member_id, a.shift_no, a.starts,
                sum(greatest(0, date_diff('minute', b.since, least(b.ends, a.starts + interval 24 hours)))) / 60.0 as hours
            from (select distinct member_id, shift_no, starts from numbered) as a
            join numbered as b on b.member_id = a.member_id and b.shift_no = a.shift_no
                and b.starts >= a.starts and b.starts < a.starts + interval 24 hours
            group by a.member_id, a.shift_no, a.starts
        ), longest as (
            select member_id, shift_no, max(hours) as shift_h from day group by member_id, shift_no
        )
        select assignment_id, post_id, member_id, shift_no, shift_h
        from numbered join longest using (member_id, shift_no)
        """,
        {"rest_h": float(policy.facts["rest_h"])},
    )
    return {"shift": rows}


def watch(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pd.DataFrame]:
    """Whether a kit's member would be alone at a post, until when, for how many dark hours (h), and covered by a licence.

    - Whoever is sent is taken for their own hours there (the view own_turn), their kit for the hours of all who bring it.
    - A kit that is not assigned, with its member, is taken for the hours of the post; it makes its member alone where the post
      wants one operator and has nobody.
    - Whoever is covered by a licence covers the others too while they are there, in turns as well. A post that names no band is
      taken to want VHF, one on HF that names no mode single-sideband voice.

    NULL: the event's place or hours from UTC, or the licence class, were not told; of a kit, there is none.
    """
    windows = con.execute(
        """
        with turn as (   -- of people, then of kits
            select t.post_kit_id, a.post_id, null::integer as kit_id, a.starts, a.ends from assignment as a
            join own_turn as t using (assignment_id)
            union all select null, post_id, kit_id, starts, ends from assignment where kit_id is not null
        ), numbered as (
            select *, count(*) filter (is_apart) over (partition by post_kit_id, post_id, kit_id order by starts, ends) as span
            from (
                select *, starts > max(ends) over before as is_apart
                from turn window before as (partition by post_kit_id, post_id, kit_id order by starts,
                    ends rows between unbounded preceding and 1 preceding)
            )
        ), stay as (   -- hours that overlap are one
            select post_kit_id, post_id, kit_id, min(starts) as starts, max(ends) as ends from numbered
            group by post_kit_id, post_id, kit_id, span
            union all select null, post_id, null, opens, closes from post
        )
        select s.post_kit_id, s.post_id, s.kit_id, e.lat, e.lon,
            utc_of(s.starts, e.clock_min, e.clocks_change, e.clock_after_min) as starts,
            utc_of(s.ends, e.clock_min, e.clocks_change, e.clock_after_min) as ends
        from stay as s join post as p using (post_id) join event as e on e.event_id = p.event_id
        where e.lat is not null and e.lon is not null and e.utc_offset_h is not null
        """
    ).df()
    windows["dark_h"] = 0.0
    if len(windows):
        place = (windows["lat"].to_numpy(float), windows["lon"].to_numpy(float))
        span = (windows["starts"].to_numpy(), windows["ends"].to_numpy())
        below_deg = float(policy.facts["twilight_deg"])
        windows["dark_h"] = np.atleast_1d(sun.dark_hours(*place, *span, below_deg=below_deg))
    con.register("night", windows)
    con.register("licence", reference.table("licences"))
    con.register("privilege", reference.table("privileges"))
    rows = con.execute(
        """
        with wanted as (
            select p.post_id, b.band, coalesce(b.low_mhz < $hf_below_mhz, false) as is_hf,
                p.modes is not null as is_told, string_split(coalesce(p.modes, 'ssb'), ' ') as asked
            from post as p left join band as b on list_contains(string_split(p.bands, ' '), b.band)
        ), permitted as (
            select w.post_id, l.licence_class,
                bool_and(case when v.modes is not null
                    and not (l.has_hf_voice and not w.is_told) then list_has_all(string_split(v.modes, ' '), w.asked)
                    when w.is_hf then l.has_hf_voice else l.has_vhf end) as is_covered
            from wanted as w cross join licence as l left join privilege as v on v.licence_class = l.licence_class and v.band = w.band
            group by w.post_id, l.licence_class
        ), covered as (
            select b.post_id, b.member_id, l.is_covered
            from (select post_id, member_id from post_kit union select post_id, member_id from assignment) as b
            join member as m using (member_id)
            left join permitted as l on l.post_id = b.post_id and l.licence_class = m.licence_class
        ), staff as (
            select a.*, n.others, c.is_covered
            from assignment as a join company as n using (assignment_id)
            join covered as c on c.post_id = a.post_id and c.member_id = a.member_id
        ), able as (   -- at each moment at which somebody comes or goes
            select distinct t.post_id, t.instant, t.member_id from present as t
            join covered as c using (post_id, member_id) where c.is_covered
        ), beside as (
            select own.post_id, own.member_id, own.instant, count(o.member_id) > 0 as is_helped
            from present as own left join able as o on o.post_id = own.post_id and o.instant = own.instant
                and o.member_id <> own.member_id
            group by own.post_id, own.member_id, own.instant
        ), helped as (
            select s.assignment_id, bool_and(b.is_helped) as is_helped
            from staff as s join beside as b on b.post_id = s.post_id and b.member_id = s.member_id
                and b.instant >= s.starts and b.instant < s.ends
            group by s.assignment_id
        ), shift as (
            select t.post_kit_id, max(s.ends) as ends, min(s.others) = 0 as is_alone, bool_and(h.is_helped) as is_helped
            from staff as s join helped as h using (assignment_id) join own_turn as t using (assignment_id) group by t.post_kit_id
        ), brought as (
            select post_id, kit_id, min(others) = 0 as is_alone from staff where kit_id is not null group by post_id, kit_id
        ), dark as (
            select post_kit_id, post_id, kit_id, sum(dark_h) as dark_h from night group by post_kit_id, post_id, kit_id
        ), free as (   -- a kit that is not assigned joins whoever is
            select post_id, coalesce(bool_or(is_covered), false) as is_helped from staff group by post_id
        )
        select pk.post_kit_id, coalesce(s.ends, p.closes) as ends, coalesce(s.is_alone, is_first) as is_alone,
            coalesce(o.dark_h, d.dark_h) as dark_h, coalesce(o.dark_h, d.dark_h) > $least_dark_h as is_dark,
            c.is_covered or coalesce(s.is_helped, f.is_helped, false) as has_licence,
            case when pk.kit_id is not null then coalesce(b.is_alone, is_first) end as is_kit_alone,
            case when pk.kit_id is not null then coalesce(n.dark_h, d.dark_h) end as kit_dark_h
        from post_kit as pk
        join post as p using (post_id)
        join covered as c on c.post_id = pk.post_id and c.member_id = pk.member_id
        left join shift as s using (post_kit_id)
        left join brought as b on b.post_id = pk.post_id and b.kit_id = pk.kit_id
        left join free as f on f.post_id = pk.post_id
        left join dark as o on o.post_kit_id = pk.post_kit_id
        left join dark as n on n.post_id = pk.post_id and n.kit_id = pk.kit_id and n.post_kit_id is null
        left join dark as d on d.post_id = pk.post_id and d.kit_id is null and d.post_kit_id is null,
            lateral (select p.operators <= 1 and f.post_id is null as is_first)
        """,
        {"hf_below_mhz": HF_BELOW_MHZ, "least_dark_h": float(policy.facts["least_dark_h"])},
    ).df()
    con.unregister("night")
    con.unregister("licence")
    con.unregister("privilege")
    return {"watch": rows}


def hardship(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """How many of the hard things that a post asks are near a limit that the member has set, or have none.

    A long walk, cold, heat, dark hours, being alone, and what one carries by oneself. Near is from a share of the limit for the
    walk and the load and within some degrees of those for cold and heat; the dark, and being alone, are near a limit where the
    member does not wish them. What is near a limit that is set is hard for that member, be it no frost and no long walk for
    others.
    """
    names = ("near_limit_share", "near_limit_c", "short_walk_km", "hard_cold_c", "hard_heat_c")
    rows = Select(
        """
        select pk.post_kit_id, count(*) filter (near) as near_limits, string_agg(factor, ', ' order by factor) filter (near) as near,
            count(*) filter (near is null) as limits_unset,
            string_agg(factor, ', ' order by factor) filter (near is null) as unset_limits, coalesce(bool_or(is_past), false) as is_past
        from (select *, case when carrier_id = member_id and carriers is null then weighed_kg end as alone_kg from post_kit) as pk
        join watch as w using (post_kit_id)
        join post as p using (post_id)
        join event as e on e.event_id = p.event_id
        join member as m on m.member_id = pk.member_id,
        lateral (
            select unnest(['walk', 'cold', 'heat', 'dark', 'alone', 'carry']) as factor,
                unnest([p.walk_km > $short_walk_km, e.temp_min_c < $hard_cold_c, e.temp_max_c > $hard_heat_c,
                    w.is_dark, w.is_alone, false]) as is_asked,
                unnest([p.walk_km > $near_limit_share * m.walk_limit_km, e.temp_min_c < m.cold_limit_c + $near_limit_c,
                    e.temp_max_c > m.heat_limit_c - $near_limit_c, w.is_dark and not m.night_ok,
                    w.is_alone and not m.solo_ok, pk.alone_kg > $near_limit_share * m.carry_limit_kg]) as near,
                unnest([p.walk_km > m.walk_limit_km, e.temp_min_c < m.cold_limit_c, e.temp_max_c > m.heat_limit_c,
                    not m.night_ok, not m.solo_ok, pk.alone_kg > m.carry_limit_kg]) as is_past
        )
        where is_asked or near
        group by pk.post_kit_id
        """,
        {name: float(policy.facts[name]) for name in names},
    )
    return {"hardship": rows}
