"""Every post with every available kit and with who is sent there without one, and the dark hours of every event."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any

import duckdb
import numpy as np
import pandas as pd

from rules.facts.select import Select
from rules.physics import sun
from rules.policy import Policy

CARRIED = "({0}.access in ('walk', 'carry') or {0}.is_on_foot and not {0}.is_remote)"
"""Whether what is brought to a post is carried: on the way there, or by whoever holds it on foot. A car that goes to a remote
post carries it."""
OVER_NIGHT = "cast({0} as date) < cast({1} - to_minutes(cast(60 * $night_until_h as integer)) as date)"
"""Whether a stay goes on past the policy's hour of the morning after it began: nobody walks out the same evening."""

HOURS = "min(comes) as starts, max(goes) as ends, sum(minutes) / 60.0 as need_h"
TURNS = """(
    select *, greatest(date_diff('minute', greatest(starts, coalesce(max(ends) over before, starts)), ends), 0) as minutes,
        starts >= max(ends) over before + to_minutes(cast(60 * $home as integer)) as is_fresh
    from assignment_utc window before as (partition by post_id, {0} order by starts,
        assignment_id rows between unbounded preceding and 1 preceding)
)"""
"""Assignments with their minutes, those left out that an earlier one of the same kit, or person, at the post has already, and
whether a night at home (the policy's hours) lies before."""
BROUGHT = f"""assigned as (
    select post_id, kit_id, first(member_id order by starts, assignment_id) as member_id, min(comes) as starts, max(goes) as ends,
        max(hours) as need_h
    from (
        select *, sum(minutes) over (partition by post_id, kit_id, nights) / 60.0 as hours
        from (
            select *, count(*) filter (is_fresh) over (partition by post_id, kit_id order by starts, assignment_id) as nights
            from {TURNS.format("kit_id")} where kit_id is not null
        )
    ) group by post_id, kit_id
), stayed as (   -- a stay goes on until a night at home
    select post_id as at_post, member_id as who, bool_or({OVER_NIGHT.format("comes", "goes")}) as is_over_night
    from (
        select post_id, member_id, min(comes) as comes, max(goes) as goes
        from (
            select *, count(*) filter (is_fresh) over (partition by post_id, member_id order by starts, assignment_id) as stay
            from {TURNS.format("member_id")}
        ) group by post_id, member_id, stay
    ) group by post_id, member_id
), brought as (
    -- who brings a kit for the same hours as others shares its load with them, unless one thing of it is too heavy
    -- for each
    select *, count(*) over at_once > 1 and coalesce(module_kg, 0) <= max(own_kg) over at_once as is_shared,
        if(is_shared, sum(own_kg) over at_once, max(own_kg) over at_once) as limit_kg,
        if(is_shared, count(*) over at_once, null) as carriers
    from (
        select post_id, kit_id, b.member_id, b.starts, b.ends, min(assignment_id) as first_id,
            any_value(m.carry_limit_kg) as told_kg, any_value(h.module_kg) as module_kg,
            any_value(h.weight_kg) as kit_kg,
            any_value(least(p.carry_limit_kg,
                coalesce(m.carry_limit_kg, if(s.is_over_night, $overnight_load_kg, $day_load_kg)))) as own_kg
        from assigned as a join assignment as b using (post_id, kit_id) join member as m on m.member_id = b.member_id
        join stayed as s on s.at_post = a.post_id and s.who = b.member_id join post as p using (post_id)
        join holding as h using (kit_id) group by post_id, kit_id, b.member_id, b.starts, b.ends
    ) window at_once as (partition by post_id, kit_id, starts, ends)
)"""
"""The hours of each kit that is sent to a post, and who brings it there when, alone or with others for the same
hours (carriers), up to which load."""


def post_kit(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """Every post with every kit of an available member: bands, power at the post's setting and weight against what it asks.

    Bands and modes: a kit has the band when one radio in use, or several at once, reach every band of the post on stations of the
    kit (`ways.suit`), and the mode when such a one does all of its modes too, with the modem or tracker of its kit. A post that
    names none takes any radio. NULL where no radio does for certain, and one does not tell its bands, modes or power or may not
    work.

    Hours: assigned kits need those of their assignment, the most between two nights at home of one that is there on several days;
    others the whole time that the post is open.

    Who brings it (member_id): the first of all where several do in turn, of whom the one who can carry least is the carrier,
    and before one who told no limit, who by their own word cannot carry it.
    Several who bring it for the same hours are carriers together, with their limits added up, where the strongest can carry its
    heaviest module. A kit that is not assigned is its owner's to bring. Who is sent to a post and is the member of no kit there
    has a row of their own, without a kit, for their own hours.

    Weight: that of all the kits that the person who brings this one brings at the same time. A member without a limit is asked to
    carry a day's load, or a night's where one stint goes over the night; nobody more than the post allows each.
    """
    rows = Select(
        f"""
        with {BROUGHT}, carried as (
            -- of those in turn the ones who can carry least; before who told none, those whom it is too heavy for by
            -- their own word
            select post_id, kit_id, first({{'id': member_id, 'limit_kg': limit_kg, 'people': carriers, 'starts': starts, 'ends': ends}}
                order by coalesce(told_kg < kit_kg and limit_kg < kit_kg, false) desc, limit_kg, starts, ends,
                    if(is_shared, coalesce(told_kg, 0), -own_kg), first_id) as carrier
            from brought group by post_id, kit_id
        ), together as (
            -- with the kits that the same people bring there at the same time; one that others help with is weighed
            -- as theirs
            select c.post_id, c.kit_id, round(sum(h.weight_kg), 3) as weight_kg,
                bool_and(h.is_weight_known) as is_weight_known, bool_or(h.is_weight_assumed) as is_weight_assumed, count(*) as kits
            from (
                select distinct a.post_id, a.kit_id, b.kit_id as other_id
                from brought as a join carried as c using (post_id, kit_id) join brought as b
                    on b.post_id = a.post_id and b.member_id = a.member_id and b.starts < a.ends and b.ends > a.starts
                where (a.member_id = c.carrier.id or a.is_shared and a.starts = c.carrier.starts and a.ends = c.carrier.ends)
                    and (a.is_shared or not b.is_shared or b.kit_id = a.kit_id)
            ) as c join holding as h on h.kit_id = c.other_id group by c.post_id, c.kit_id
        ), paired as (   -- apart, as one condition on both would look at every post with every kit
            select post_id, kit_id from assigned
            union select post_id, kit_id from post
            cross join (from kit join member using (member_id) where is_available and not exists (from sent_only))
        ), reach as (
            select want_id, kit_id, bool_or(is_band) as has_band, bool_or(is_band is null) as is_band_open,
                bool_or(is_fit) as has_mode, bool_or(is_fit is null) as is_mode_open,
                -- of radios that may all suit or not, kit_without_the_band or kit_without_the_mode says that
                bool_or(is_strong and (is_fit or is_open)) as has_watts,
                bool_or(is_strong is distinct from false and is_fit is distinct from false) as is_power_open,
                max(rf_watts) filter (is_fit is distinct from false) as rf_watts
            from (
                select *, is_band and is_mode as is_fit,
                    is_fit is null and not coalesce(bool_or(is_fit) over (partition by want_id, kit_id), false) as is_open
                from suit
            ) group by want_id, kit_id
        ), judged as (
            select p.post_id, k.kit_id, coalesce(a.member_id, k.member_id) as member_id, m.member_id as carrier_id,
                a.kit_id is not null as is_assigned, coalesce(a.starts, p.opens) as starts,
                coalesce(a.ends, p.closes) as ends,
                coalesce(a.need_h, p.shift_h) as need_h,
                case when r.has_band then true when r.is_band_open then null else false end as has_band,
                case when r.has_mode then true when r.is_mode_open then null else false end as has_mode,
                case when p.rf_watts_min is null or r.has_watts then true when r.is_power_open then null else false end as has_watts,
                r.rf_watts,
                case when {CARRIED.format("p")} then coalesce(t.weight_kg, h.weight_kg) end as weighed_kg,
                case when coalesce(t.is_weight_known, h.is_weight_known) then weighed_kg end as carried_kg,
                coalesce(t.is_weight_assumed, h.is_weight_assumed) as is_weight_assumed,
                nullif(t.kits, 1) as carried_kits,
                case when {CARRIED.format("p")}
                     then coalesce(c.carrier.limit_kg, least(p.carry_limit_kg, coalesce(m.carry_limit_kg,
                         if({OVER_NIGHT.format("p.opens", "p.closes")}, $overnight_load_kg, $day_load_kg)))) end as carry_limit_kg,
                c.carrier.people as carriers
            from paired join post as p using (post_id) join kit as k using (kit_id)
            join holding as h using (kit_id)
            left join assigned as a using (post_id, kit_id)
            left join together as t using (post_id, kit_id)
            left join carried as c using (post_id, kit_id)
            join member as m on m.member_id = coalesce(c.carrier.id, k.member_id)
            left join want as w on w.post_id = p.post_id
            left join reach as r on r.kit_id = k.kit_id and r.want_id = w.want_id
            union all by name
            select post_id, member_id, true as is_assigned, {HOURS}
            from {TURNS.format("member_id")} anti join assigned using (post_id, member_id) group by post_id, member_id
        )
        select row_number() over (order by post_id, kit_id, member_id) as post_kit_id, * from judged
        """,
        _values(policy),
    )
    return {"post_kit": rows}


def loads(
    con: duckdb.DuckDBPyConnection, policy: Policy, post_ids: Collection[int]
) -> dict[int, dict[str, Any]]:
    """What everyone who brings a kit to one of these posts on foot carries there, by assignment_id.

    As in post_kit, but of each turn by itself: weighed_kg with the other kits that they bring at the same time, whether that is all
    of it (is_weighed), the limit (carry_limit_kg), and how many share both, if several do (carriers).
    """
    found = con.cursor().execute(
        f"""
        with {BROUGHT}, turn as (
            select *, if(is_shared, min(first_id) over (partition by post_id, kit_id, starts, ends), first_id) as turn_id
            from brought where list_contains($post_ids, post_id)
        ), together as (
            select turn_id, round(sum(h.weight_kg), 3) as weighed_kg, bool_and(h.is_weight_known) as is_weighed
            from (
                select distinct a.turn_id, b.kit_id from turn as a join turn as b
                    on b.post_id = a.post_id and b.member_id = a.member_id and b.starts < a.ends and b.ends > a.starts
                where a.is_shared or not b.is_shared or b.kit_id = a.kit_id
            ) join holding as h using (kit_id) group by turn_id
        )
        select a.assignment_id, g.weighed_kg, g.is_weighed, t.carriers, if(t.is_shared, t.limit_kg, t.own_kg) as carry_limit_kg
        from turn as t join together as g using (turn_id) join post as p using (post_id)
        join assignment as a on a.post_id = t.post_id and a.kit_id = t.kit_id and a.member_id = t.member_id
            and a.starts = t.starts and a.ends = t.ends
        where {CARRIED.format("p")}
        """,
        {"post_ids": list(post_ids), **_values(policy)},
    )
    names = [column[0] for column in found.description]
    return {row[0]: dict(zip(names[1:], row[1:], strict=True)) for row in found.fetchall()}


def _values(policy: Policy) -> dict[str, Any]:
    """What BROUGHT and what follows from it ask of the policy."""
    names = ("day_load_kg", "overnight_load_kg", "night_until_h")
    return {name: float(policy.facts[name]) for name in names} | {"home": float(policy.facts["home_h"])}


def darkness(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, pd.DataFrame]:
    """Hours in which it is dark (h) while each event runs, for its packet; events without place or hours from UTC have none."""
    events = con.execute(
        "select event_id, lat, lon, utc_of(starts, clock_min, clocks_change, clock_after_min) as starts, "
        "utc_of(ends, clock_min, clocks_change, clock_after_min) as ends from event "
        "where lat is not null and lon is not null and utc_offset_h is not null"
    ).df()
    hours = np.zeros(len(events))
    if len(events):
        place = (events["lat"].to_numpy(float), events["lon"].to_numpy(float))
        span = (events["starts"].to_numpy(), events["ends"].to_numpy())
        hours = np.atleast_1d(sun.dark_hours(*place, *span, below_deg=float(policy.facts["twilight_deg"])))
    return {"darkness": pd.DataFrame({"event_id": events["event_id"], "dark_h": hours})}
