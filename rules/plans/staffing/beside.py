"""A plan beside the coordinator's own assignments, and put into a copy of the club that the rules judge again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations, pairwise
from typing import Any

import numpy as np
import pandas as pd

from data import schema
from rules.engine import Assessment, assess
from rules.plans.in_turn import Best
from rules.plans.staffing.event import Event, read_event
from rules.plans.staffing.plan import Plan, people_wanted, read_locked, roster_of, told_rows
from rules.plans.staffing.program import Seated
from rules.plans.staffing.roster import Roster


def gaps(posts: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """The times at which a post has too few people or no kit.

    Parameters
    ----------
    posts : post, opens, closes, people
    rows : post, member, from, to, has_station

    Returns
    -------
    post, from, to, people_short, is_station_missing; times on end are joined
    """
    found: list[list[Any]] = []
    for post in posts.to_dict("records"):
        own = rows[rows["post"] == post["post"]]
        edges = sorted(
            {
                post["opens"],
                post["closes"],
                *(t for t in [*own["from"], *own["to"]] if post["opens"] < t < post["closes"]),
            }
        )
        for start, end in pairwise(edges):
            here = own[(own["from"] <= start) & (own["to"] >= end)]
            short = max(0, int(post["people"]) - here["member"].nunique())
            is_missing = not here["has_station"].any()
            if short or is_missing:
                if (
                    found
                    and found[-1][0] == post["post"]
                    and found[-1][2] == start
                    and found[-1][3:] == [short, is_missing]
                ):
                    found[-1][2] = end
                else:
                    found.append([post["post"], start, end, short, is_missing])
    return pd.DataFrame(found, columns=["post", "from", "to", "people_short", "is_station_missing"])


def compare(plan: Plan, assessment: Assessment) -> pd.DataFrame:
    """The plan beside the coordinator's assignments: one row per measure, with both values and which is better."""
    here, told = read_event(assessment, plan.event), as_it_stands(assessment, plan.event)
    kept, _ = read_locked(here, told)
    roster, *_ = roster_of(assessment, here, kept, plan.terms)
    told = (
        plan.rows.iloc[0:0]
        if not kept
        else told_rows(here, roster, Seated([], np.zeros(0), np.zeros(0), Best(np.zeros(0), (), (), 0.0)))
    )
    mine, theirs = _measures(here, roster, plan.rows), _measures(here, roster, told)
    return pd.DataFrame(
        [(name, mine[name], theirs[name]) for name in mine], columns=["measure", "plan", "coordinator"]
    )


def as_it_stands(assessment: Assessment, event: str) -> pd.DataFrame:
    """The assignments of an event as they were sent: post, member, kit, kit_owner, from, to."""
    return assessment.frame(
        'select post.post, member.member, kit.kit, kit.member as kit_owner, a.starts as "from", a.ends as "to" from assignment as a '
        "join post using (post_id) join member on member.member_id = a.member_id left join kit on kit.kit_id = a.kit_id "
        "where post.event = ? order by a.assignment_id",
        [event],
    )


def wanted(assessment: Assessment, event: str) -> pd.DataFrame:
    """The posts of an event with the people that a plan seeks for each: post, opens, closes, people, is_critical."""
    return wanted_of(read_event(assessment, event))


def wanted_of(here: Event) -> pd.DataFrame:
    posts = here.posts[["post", "opens", "closes", "is_critical"]].copy()
    posts["people"] = people_wanted(here.posts)
    return posts


def _measures(here: Event, roster: Roster, rows: pd.DataFrame) -> dict[str, float]:
    posts = wanted_of(here)
    able = rows[rows["answer"] != "cannot"]
    found = gaps(posts, able.assign(has_station=able["kit"].notna())).merge(
        posts[["post", "is_critical"]], on="post", how="left"
    )
    hours = (found["to"] - found["from"]).dt.total_seconds() / 3600 if len(found) else pd.Series(dtype=float)
    person_h = hours * found["people_short"]
    no_station = hours * found["is_station_missing"].astype(float)
    critical = found["is_critical"].astype(bool)
    worked = (
        ((rows["to"] - rows["from"]).dt.total_seconds() / 3600).groupby(rows["member"]).sum()
        if len(rows)
        else pd.Series(dtype=float)
    )
    return {
        "person-hours open at critical posts": float(person_h[critical].sum()),
        "person-hours open": float(person_h.sum()),
        "post-hours without a station": float(no_station.sum()),
        "posts with something open": float(found["post"].nunique()),
        "rows that cannot": float((rows["answer"] == "cannot").sum()),
        "rows not known": float((rows["answer"] == "not known").sum()),
        "rows with limits": float((rows["answer"] == "with limits").sum()),
        "people in two places": float(_people_twice(here, roster, rows)),
        "kits in two places": float(_kits_twice(here, roster, rows)),
        "people": float(len(worked)),
        "most hours of one person": float(worked.max()) if len(worked) else 0.0,
        "kits lent": float(rows["kit_owner"].notna().sum()),
    }


def _people_twice(here: Event, roster: Roster, rows: pd.DataFrame) -> int:
    """People who are at two places at once, another event is one, or have less between two than the way takes."""
    travel_min = roster.terms.travel_min
    found = set()
    for name, own in rows.groupby("member"):
        member, spans = here.member_at[name], _spans(here, own)
        ways = [int(roster.way_min(member, post)) for post, *_ in spans]
        away = [(start - way, end + way) for who, start, end, way in roster.away if who == member]
        is_twice = any(
            post != other and _meet(span, and_then, max(travel_min, abs(way - back)))
            for ((post, *span), way), ((other, *and_then), back) in combinations(
                zip(spans, ways, strict=True), 2
            )
        ) or any(
            _meet(span, gone, max(travel_min, way))
            for (_, *span), way in zip(spans, ways, strict=True)
            for gone in away
        )
        if is_twice:
            found.add(name)
    return len(found)


def _kits_twice(here: Event, roster: Roster, rows: pd.DataFrame) -> int:
    """Kits that are at two places at once, another event is one, or are to be taken from one to the other in no time."""
    travel_min = roster.terms.travel_min
    held = rows[rows["kit"].notna()]
    found = 0
    for names, own in held.groupby([held["kit_owner"].fillna(held["member"]), "kit"]):
        spans = _spans(here, own)
        away = [(start, end) for kit, start, end in roster.kits_away if kit == here.kit_at[names]]
        found += any(
            post != other and _meet(span, and_then, travel_min)
            for (post, *span), (other, *and_then) in combinations(spans, 2)
        ) or any(_meet(span, gone, travel_min) for _, *span in spans for gone in away)
    return found


def _spans(here: Event, rows: pd.DataFrame) -> list[tuple[int, int, int]]:
    """Rows as post, start and end in the roster's numbers."""
    return [
        (here.post_at[post], here.minute(start), here.minute(end))
        for post, start, end in zip(rows["post"], rows["from"], rows["to"], strict=True)
    ]


def _meet(span: Sequence[int], other: Sequence[int], way: int) -> bool:
    """Whether two times (start, end) overlap, with less than the way between them."""
    return span[0] < other[1] + way and other[0] < span[1] + way


def apply(plan: Plan, frames: Mapping[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """A copy of the frames in which the event's assignments are the plan's."""
    given = frames.get("assignments")
    if given is None:
        given = schema.empty("assignments")
    rows = plan.rows[["post", "member", "kit", "kit_owner", "from", "to", "travel_h"]].copy()
    rows["event"] = plan.event
    rows["file"] = "plan"
    rows["line"] = range(1, len(rows) + 1)
    rows = rows.reindex(columns=given.columns).astype(given.dtypes.to_dict())
    others = given[given["event"] != plan.event]
    parts = [part for part in (others, rows) if len(part)]
    return {**frames, "assignments": pd.concat(parts, ignore_index=True) if parts else given.iloc[0:0]}


def rescore(plan: Plan, frames: Mapping[str, pd.DataFrame], assessment: Assessment) -> Assessment:
    """Judge a copy of the club with the plan put in, by the same rules, policy and day."""
    return assess(apply(plan, frames), assessment.policy, assessment.today, assessment.rules)
