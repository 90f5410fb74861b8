"""Who is at a post with whom, in the dark or by day, and whether their licence covers it."""

from __future__ import annotations

from datetime import date

import duckdb
import numpy as np
import pandas as pd

from data import reference
from rules.facts.select import Select
from rules.physics import sun
from rules.policy import Policy

TWILIGHT_DEG = -6.0
"""Height of the sun below which work outdoors needs a lamp: the end of civil twilight. NREL/TP-560-34302."""
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
        select assignment_id, post_id, member_id, min(others) as others from counted group by all
        """
    )
    return {"company": rows}


def watch(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pd.DataFrame]:
    """Whether a kit's member would be alone at a post, for how many dark hours (h), and covered by a licence.

    Assigned kits are taken for the hours of their assignments, others for the hours of the post; a kit that is not
    assigned makes its member alone where the post wants one operator and has nobody. The licence of someone who is
    there for all of the time covers the others too. A post that names no band is taken to want VHF.
    NULL: the event's place or hours from UTC, or the licence class, were not told.
    """
    windows = con.execute(
        """
        select distinct e.event_id, w.starts as begins, w.ends as stops, e.lat, e.lon,
            w.starts - to_minutes(cast(60 * e.utc_offset_h as integer)) as starts,
            w.ends - to_minutes(cast(60 * e.utc_offset_h as integer)) as ends
        from (
            select post_id, starts, ends from assignment where kit_id is not null
            union select post_id, opens, closes from post
        ) as w join post as p using (post_id) join event as e on e.event_id = p.event_id
        where e.lat is not null and e.lon is not null and e.utc_offset_h is not null
        """
    ).df()
    windows["dark_h"] = 0.0
    if len(windows):
        place = (windows["lat"].to_numpy(float), windows["lon"].to_numpy(float))
        span = (windows["starts"].to_numpy(), windows["ends"].to_numpy())
        windows["dark_h"] = np.atleast_1d(sun.dark_hours(*place, *span, below_deg=TWILIGHT_DEG))
    con.register("night", windows)
    con.register("licence", reference.table("licences"))
    rows = con.execute(
        """
        with wanted as (
            select p.post_id, coalesce(bool_or(b.low_mhz < $hf_below_mhz), false) as is_hf_wanted,
                coalesce(bool_or(b.low_mhz >= $hf_below_mhz), p.bands is null) as is_vhf_wanted
            from post as p left join band as b on list_contains(string_split(p.bands, ' '), b.band)
            group by p.post_id, p.bands
        ), covered as (
            select w.post_id, b.member_id,
                (l.has_hf_voice or not w.is_hf_wanted) and (l.has_vhf or not w.is_vhf_wanted) as is_covered
            from (select post_id, member_id from post_kit union select post_id, member_id from assignment) as b
            join wanted as w using (post_id) join member as m using (member_id)
            left join licence as l on l.licence_class = m.licence_class
        ), dark as (
            select w.post_id, w.kit_id, sum(n.dark_h) as dark_h
            from (
                select post_id, kit_id, starts, ends from assignment where kit_id is not null
                union select post_id, null, opens, closes from post
            ) as w join post as p using (post_id)
            join night as n on n.event_id = p.event_id and n.begins = w.starts and n.stops = w.ends
            group by w.post_id, w.kit_id
        ), staff as (
            select a.*, n.others, c.is_covered
            from assignment as a join company as n using (assignment_id)
            join covered as c on c.post_id = a.post_id and c.member_id = a.member_id
        ), shift as (
            select s.post_id, s.kit_id, min(s.others) = 0 as is_alone, bool_and(exists (
                from staff as o where o.post_id = s.post_id and o.member_id <> s.member_id and o.is_covered
                and o.starts <= s.starts and o.ends >= s.ends)) as is_helped
            from staff as s where s.kit_id is not null group by s.post_id, s.kit_id
        ), free as (   -- a kit that is not assigned joins whoever is
            select post_id, coalesce(bool_or(is_covered), false) as is_helped from staff group by post_id
        )
        select pk.post_kit_id, coalesce(s.is_alone, p.operators <= 1 and f.post_id is null) as is_alone,
            d.dark_h, c.is_covered or coalesce(s.is_helped, f.is_helped, false) as has_licence
        from post_kit as pk
        join post as p using (post_id)
        join covered as c on c.post_id = pk.post_id and c.member_id = pk.member_id
        left join shift as s on s.post_id = pk.post_id and s.kit_id = pk.kit_id
        left join free as f on f.post_id = pk.post_id
        left join dark as d on d.post_id = pk.post_id and d.kit_id is not distinct from s.kit_id
        """,
        {"hf_below_mhz": HF_BELOW_MHZ},
    ).df()
    con.unregister("night")
    con.unregister("licence")
    return {"watch": rows}
