"""What one may see of the posts of an event: verdicts, who is sent where, what each lacks and what bears on it."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from dashboard import access, charts, parts
from dashboard.standing import Standing, made_once
from rules.engine import Finding

NOTHING = "nothing that blocks or limits"
ASSIGNED = """
    select p.post, m.member, coalesce(k.kit, '') as kit, coalesce(k.member, m.member) as owner, a.starts, a.ends,
        cast(p.closes as date) < ? as is_over
    from assignment as a
    join post as p using (post_id)
    join member as m on m.member_id = a.member_id
    left join kit as k on k.kit_id = a.kit_id
    where p.event = ? order by p.post, a.starts, m.member
"""


@dataclass(frozen=True)
class Looked:
    """What one may see of the posts of an event.

    Attributes
    ----------
    scores : of the posts
    findings : on the posts and on the event
    sent : who is sent where, as `assigned`
    bearing : what bears on each post
    table : as `review`
    """

    scores: pd.DataFrame
    findings: list[Finding]
    sent: pd.DataFrame
    bearing: dict[str, list[Finding]]
    table: pd.DataFrame

    def sent_to(self, post: str) -> pd.DataFrame:
        """Who is sent to a post."""
        return self.sent[self.sent["post"] == post]


@made_once
def scores_of(now: Standing, event: str) -> pd.DataFrame:
    """The scores of the posts of an event."""
    scores = now.of("post")
    return scores[scores["event"] == event].reset_index(drop=True)


def assigned(now: Standing, event: str) -> pd.DataFrame:
    """Who is sent to which post of the event, with which kit and whose, from when to when, and whether the post is over."""
    values = [now.assessment.today, event]
    return now.assessment.frame(ASSIGNED, values)


def brought(now: Standing, sent: pd.DataFrame) -> list[Finding]:
    """Findings on the assigned people and kits themselves, which bear on their posts."""
    members = sorted({*sent["member"], *sent["owner"]})
    if not members:
        return []
    marks = ", ".join("?" * len(members))
    where = f"j.subject_kind in ('item', 'kit', 'member') and s.member in ({marks})"
    return now.findings(where, members)


def bearing_on(findings: list[Finding], sent: pd.DataFrame) -> list[Finding]:
    """Those findings on members and kits that bear on the post to which these are sent; of members none on one that is over."""
    members, pairs = (
        set(sent.loc[~sent["is_over"], "member"]),
        set(zip(sent["owner"], sent["kit"], strict=True)),
    )
    return [f for f in findings if (f.member in members if f.kit is None else (f.member, f.kit) in pairs)]


def _in_the_way(findings: list[Finding]) -> list[list[str]]:
    """What stands in the way at a post, each gap once: what blocks, what could (not known), and what limits."""
    stops = [f.title for f in findings if f.status == "not met" and f.severity == "blocks"]
    open_ = [f.titled for f in findings if f.status == "not known" and f.severity == "blocks"]
    limits = [f.title for f in findings if f.status == "not met" and f.severity == "limits"]
    return [list(dict.fromkeys(titles)) for titles in (stops, open_, limits)]


def lacks(findings: list[Finding]) -> str:
    """What stands in the way at a post, all of it."""
    return "; ".join(title for titles in _in_the_way(findings) for title in titles) or NOTHING


def in_short(findings: list[Finding]) -> str:
    """What stands in the way, as it is read among other posts: what decides the verdict by name, the rest as a count."""
    stops, open_, limits = _in_the_way(findings)
    named = stops or open_ or limits
    rest = [
        f"{len(titles)} {said}"
        for titles, said in ((open_, "not known that could block"), (limits, "that would limit"))
        if titles and titles is not named
    ]
    return "; ".join(named) + (f"; besides {parts.listed(rest)}" if rest else "") if named else NOTHING


def headline(event: str, posts: pd.DataFrame) -> str:
    """How the posts of an event stand, in one sentence."""
    verdicts = posts["verdict"].unique()
    if len(verdicts) > 1:
        return f"Of {len(posts)} posts of {event}, {parts.standing_words(posts)}."
    every = "The one post of {} is" if len(posts) == 1 else f"Each of the {len(posts)} posts of {{}} is"
    return f"{every.format(event)} {verdicts[0]}."


def review(scores: pd.DataFrame, sent: pd.DataFrame, bearing: dict[str, list[Finding]]) -> pd.DataFrame:
    """One row per post: verdict, who, score, what it lacks, and that in short."""
    return pd.DataFrame(
        {
            "post": scores["post"],
            "verdict": scores["verdict"],
            "who": [
                ", ".join(dict.fromkeys(sent[sent["post"] == post]["member"])) or "nobody"
                for post in scores["post"]
            ],
            "score": [charts.score_range(row.low, row.high) for row in scores.itertuples()],
            "lacks": [lacks(bearing[post]) for post in scores["post"]],
            "in_short": [in_short(bearing[post]) for post in scores["post"]],
        }
    )


def as_shared(sent: pd.DataFrame, seen: access.Sight) -> pd.DataFrame:
    """Assignments without the names of members and kits that are not shared."""
    return sent.assign(
        member=[seen.name(member) for member in sent["member"]],
        owner=[seen.name(owner) for owner in sent["owner"]],
        kit=[
            "" if seen.of(owner) is access.Share.NONE else kit
            for owner, kit in zip(sent["owner"], sent["kit"], strict=True)
        ],
    )


def looked_at(now: Standing, event: str, seen: access.Sight | None) -> Looked:
    """What one may see of the posts of an event; with no sight given, everything that bears on them."""

    def look() -> Looked:
        scores, sent = scores_of(now, event), assigned(now, event)
        findings, theirs = now.findings("s.event = ?", [event]), brought(now, sent)
        if seen is not None:
            findings, theirs = ([f for f in found if seen.reads(f)] for found in (findings, theirs))
            sent = as_shared(sent, seen)
        bearing = {
            post: [f for f in findings if f.post == post] + bearing_on(theirs, sent[sent["post"] == post])
            for post in scores["post"]
        }
        table = review(scores, sent, bearing)
        if seen is not None:
            table = table.replace({"lacks": {NOTHING: ""}, "in_short": {NOTHING: ""}})
        return Looked(scores, findings, sent, bearing, table)

    return now.kept.once(("posts of", event, seen and seen.drawn_as), look)
