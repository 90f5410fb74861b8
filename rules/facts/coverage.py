"""Who covers each post hour by hour, with which stations, and what the kits beside one another bring."""

from __future__ import annotations

from datetime import date

import duckdb

from rules.facts.select import Select
from rules.policy import Policy

HAVE_ALL = """coalesce(count(distinct b.kit_id) {1} > 1
    and list_has_all(flatten(list(b.{0}bands) {1}), any_value(b.each_band))
    and list_has_all(flatten(list(b.{0}does) {1}), any_value(b.asked)), false)"""
"""Whether several kits (b: rows of band_part) have the bands and modes of a post between them, each by one radio, or may (may_)."""

SPANS = """
    moment as (
        select post_id, opens as at from post union select post_id, closes from post
        union select p.post_id, unnest([a.starts, a.ends]) from assignment as a join post as p using (post_id)
    ), cut as (
        select m.post_id, p.event_id, m.at as starts, lead(m.at) over (partition by m.post_id order by m.at) as ends
        from moment as m join post as p using (post_id) where m.at between p.opens and p.closes
    ), span as (
        select c.*, row_number() over () as span_id,
            date_diff('minute', utc_of(c.starts, e.clock_min, e.clocks_change, e.clock_after_min),
                utc_of(c.ends, e.clock_min, e.clocks_change, e.clock_after_min)) / 60.0 as hours
        from cut as c left join event as e on e.event_id = c.event_id where c.ends > c.starts
    ), manned as (
        select s.span_id, a.assignment_id, a.member_id, a.kit_id
        from span as s join assignment as a on a.post_id = s.post_id and a.starts <= s.starts and a.ends >= s.ends
    )"""
"""By post, from each moment at which somebody comes or goes until the next: who is there."""
BROUGHT = """
    sent as (
        select distinct a.post_id, a.kit_id, p.bands, coalesce(p.post_type = 'net_control', false) as is_net
        from assignment as a join post as p using (post_id)
    ), aerial as (   -- by kit that makes a station, else no_complete_station says that: its antennas for a band of the post
        select a.post_id, a.kit_id, coalesce(sum(a.quantity) filter (a.is_on_band and a.is_sure), 0) as low,
            coalesce(sum(a.quantity) filter (a.is_on_band is distinct from false), 0) as high
        from (
            select a.post_id, a.kit_id, i.quantity, i.condition = 'ok' as is_sure,
                a.bands is null or list_has_any(string_split(i.bands, ' '), string_split(a.bands, ' ')) as is_on_band
            from sent as a join station as t on t.kit_id = a.kit_id and t.stations_high > 0
            left join item as i on i.kit_id = a.kit_id and i.role = 'antenna' and i.is_usable
        ) as a group by a.post_id, a.kit_id
    ), radio as (
        select a.post_id, a.kit_id, i.quantity, i.rf_plug is not distinct from 'builtin' as is_whole,
            s.is_tuned and (s.is_strong or not a.is_net) as is_there
        from sent as a join want using (post_id)
        join suit as s on s.kit_id = a.kit_id and s.want_id = want.want_id join item as i using (item_id)
        where coalesce(i.rf_watts, 1) > 0
    ), tuned as (
        select r.post_id, r.kit_id,
            coalesce(sum(quantity) filter (is_there and is_whole), 0)
                + least(coalesce(sum(quantity) filter (is_there and not is_whole), 0), any_value(n.low)) as radios_low,
            coalesce(sum(quantity) filter (is_there is distinct from false and is_whole), 0)
                + least(coalesce(sum(quantity) filter (is_there is distinct from false and not is_whole), 0), any_value(n.high)) as radios_high
        from radio as r left join aerial as n on n.post_id = r.post_id and n.kit_id = r.kit_id
        group by r.post_id, r.kit_id
    ), joint as (   -- one station, and one way, of several kits
        select p.span_id, cast({held} as integer) as stations_low, cast({may_hold} as integer) as stations_high,
            cast({last} as integer) as ways_low, cast({may_last} as integer) as ways_high
        from (select distinct span_id, kit_id from manned where kit_id is not null) as p
        join span as s using (span_id) join want using (post_id)
        join band_part as b on b.want_id = want.want_id and b.kit_id = p.kit_id
        join post_kit as pk on pk.post_id = s.post_id and pk.kit_id = p.kit_id
        left join runtime as t on t.post_kit_id = pk.post_kit_id
        group by p.span_id
    ), brought as (
        select p.span_id, sum(r.radios_low) as radios_low, sum(r.radios_high) as radios_high,
            sum(w.stations_low) as stations_low, sum(w.stations_high) as stations_high,
            sum(t.ways_low) as ways_low, sum(t.ways_high) as ways_high
        from (select distinct span_id, kit_id from manned where kit_id is not null) as p
        join span as s using (span_id)
        join post_kit as pk on pk.post_id = s.post_id and pk.kit_id = p.kit_id
        left join way as w on w.post_kit_id = pk.post_kit_id
        left join runtime as t on t.post_kit_id = pk.post_kit_id
        left join tuned as r on r.post_id = s.post_id and r.kit_id = p.kit_id
        group by p.span_id
    ), counted as (
        select s.*, coalesce(n.people, 0) as people, coalesce(b.stations_low, 0) + coalesce(j.stations_low, 0) as stations_low,
            coalesce(b.stations_high, 0) + coalesce(j.stations_high, 0) as stations_high,
            coalesce(b.ways_low, 0) + coalesce(j.ways_low, 0) as ways_low,
            coalesce(b.ways_high, 0) + coalesce(j.ways_high, 0) as ways_high,
            coalesce(b.radios_low, 0) as radios_low, coalesce(b.radios_high, 0) as radios_high
        from span as s
        left join (select span_id, count(distinct member_id) as people from manned group by span_id) as n using (span_id)
        left join brought as b using (span_id)
        left join joint as j using (span_id)
    )""".format(
    held=HAVE_ALL.format("", ""),
    may_hold=HAVE_ALL.format("may_", ""),
    last=HAVE_ALL.format("", "filter (t.is_on_mains or t.runtime_low_h >= t.need_h)"),
    may_last=HAVE_ALL.format(
        "may_", "filter (t.is_on_mains is true or (t.runtime_high_h < t.need_h) is not true)"
    ),
)
"""By such a span: people, stations, ways and radios there."""
ALONE = """
    lone as (
        select distinct c.span_id, c.post_id, p.member_id, c.starts, c.ends, c.hours
        from counted as c join manned as p using (span_id) where c.people = 1
    ), run as (
        select *, count(*) filter (is_new) over (partition by post_id, member_id order by starts) as run_no
        from (
            select *, lag(ends) over (partition by post_id, member_id order by starts) is distinct from starts as is_new from lone
        )
    ), alone as (
        select post_id, max(hours) as hours
        from (select post_id, sum(hours) as hours from run group by post_id, member_id, run_no)
        group by post_id
    )"""
"""By post: the longest that one person is alone there."""
ON_DUTY = """
    turn as (
        select *, coalesce(starts > max(ends) over (partition by member_id order by starts, assignment_id
            rows between unbounded preceding and 1 preceding), true) as is_new
        from assignment_utc
    ), numbered as (
        select *, count(*) filter (is_new) over (partition by member_id order by starts, assignment_id) as shift_no
        from turn
    ), on_duty as (
        select *, date_diff('minute', min(starts) over one, max(ends) over one) / 60.0 as hours
        from numbered window one as (partition by member_id, shift_no)
    )"""
"""By assignment: the hours on duty of which it is a part."""


def coverage(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """Each post's hours (h) without anyone and with too few, from when on, its longest shifts, and its least stations and radios.

    A post's opening time is cut wherever somebody comes or goes; between two cuts nothing changes.

    - A shift goes on where a person's next assignment begins before or when the last one ends, at whichever post of whichever
      event.
    - Who is alone has company at last when somebody comes, be it for an hour; then it begins anew.
    - Stations are those that the kits that are there make for the post (`ways.way`), ways those of them that last, at posts that
      need two (`runtime.runtime`); several kits that have the bands of the post between them are one more.
    - Radios are all of theirs that send on one of its bands and can be fed and heard there, but no more of a kit than it has
      antennas for these, and at net control those with the power that is asked; least while somebody is there.

    What is not known counts for the high end only.
    """
    rows = Select(
        f"""
        with {SPANS}, {BROUGHT}, {ALONE}, {ON_DUTY}
        select p.post_id, count(distinct a.member_id) as people,
            any_value(g.uncovered_h) as uncovered_h, any_value(g.short_h) as short_h, any_value(g.first_gap) as first_gap,
            any_value(g.first_short) as first_short, any_value(g.least_people) as least_people,
            any_value(g.stations_low) as stations_low,
            any_value(g.stations_high) as stations_high, any_value(g.ways_low) as ways_low, any_value(g.ways_high) as ways_high,
            any_value(g.radios_low) as radios_low,
            any_value(g.radios_high) as radios_high, max(a.hours) as longest_shift_h, any_value(l.hours) as longest_alone_h
        from post as p
        left join on_duty as a using (post_id)
        left join alone as l using (post_id)
        left join (
            select c.post_id, coalesce(sum(c.hours) filter (c.people = 0), 0) as uncovered_h,
                coalesce(sum(c.hours) filter (c.people < q.operators), 0) as short_h,
                min(c.starts) filter (c.people = 0) as first_gap, min(c.starts) filter (c.people < q.operators) as first_short,
                min(c.people) as least_people,
                min(c.stations_low) filter (c.people > 0) as stations_low,
                min(c.stations_high) filter (c.people > 0) as stations_high,
                min(c.ways_low) filter (c.people > 0) as ways_low, min(c.ways_high) filter (c.people > 0) as ways_high,
                min(c.radios_low) filter (c.people > 0) as radios_low, min(c.radios_high) filter (c.people > 0) as radios_high
            from counted as c join post as q using (post_id) group by c.post_id
        ) as g on g.post_id = p.post_id
        group by p.post_id
        """
    )
    return {"coverage": rows}


def beside(con: duckdb.DuckDBPyConnection, policy: Policy, today: date) -> dict[str, Select]:
    """Whether other kits, in turn or all the while, bring the bands, the modes and the power that the post asks
    in all of an assigned kit's time.

    Only a kit that makes a station helps; NULL where one may. Kits that have the bands between them, that kit
    or others, bring them too.
    """
    rows = Select(
        """
        with stint as (
            select distinct pk.post_kit_id, t.post_id, t.kit_id, t.instant
            from post_kit as pk join present as t on t.post_id = pk.post_id and t.kit_id = pk.kit_id
        ), helped as (
            select s.post_kit_id, s.instant, bool_or(is_sure and o.has_band) as has_band,
                bool_or(o.has_band is distinct from false) as may_have_band,
                bool_or(is_sure and o.has_mode) as has_mode, bool_or(o.has_mode is distinct from false) as may_have_mode,
                bool_or(is_sure and is_strong) as has_watts, bool_or(is_strong is distinct from false) as may_have_watts
            from stint as s
            join present as b on b.post_id = s.post_id and b.instant = s.instant and b.kit_id <> s.kit_id
            join post_kit as o on o.post_id = b.post_id and o.kit_id = b.kit_id
            join station as t on t.kit_id = b.kit_id and t.stations_high > 0,
                lateral (select t.stations_low > 0 as is_sure, o.has_mode and o.has_watts as is_strong)
            group by s.post_kit_id, s.instant
        ), joint as (
            select s.post_kit_id, s.instant, {held} as is_held, {may_hold} as may_be_held
            from stint as s
            join present as a on a.post_id = s.post_id and a.instant = s.instant
            join want on want.post_id = s.post_id join band_part as b on b.want_id = want.want_id and b.kit_id = a.kit_id
            group by s.post_kit_id, s.instant
        )
        select s.post_kit_id,
            case when bool_and(coalesce(is_held or h.has_band, false)) then true
                when not bool_and(coalesce(may_be_held or h.may_have_band, false)) then false end as has_band_beside,
            case when bool_and(coalesce(is_held or h.has_mode, false)) then true
                when not bool_and(coalesce(may_be_held or h.may_have_mode, false)) then false end as has_mode_beside,
            case when bool_and(coalesce(is_held or h.has_watts, false)) then true
                when not bool_and(coalesce(may_be_held or h.may_have_watts, false)) then false end as has_watts_beside
        from stint as s left join helped as h using (post_kit_id, instant) left join joint as j using (post_kit_id, instant)
        group by s.post_kit_id
        """.format(held=HAVE_ALL.format("", ""), may_hold=HAVE_ALL.format("may_", ""))
    )
    return {"beside": rows}
