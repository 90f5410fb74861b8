"""What the rules say of a plan: it is put into a copy of the club and judged there, with whoever is sent to other events."""

from __future__ import annotations

import pandas as pd

from rules.engine import Assessment, Finding
from rules.plans.staffing.copies import Copy
from rules.plans.staffing.event import Event

BLOCKED = ["post", "member", "kit", "title", "why", "fix"]
TOO_FEW = {"hours_without_anyone", "net_control_alone", "alone_at_a_remote_post", "nobody_brings_a_station"}
"""Rules on a post that say what the plan says itself, of seats that are open or that rest on something not known."""


def judged(
    assessment: Assessment, here: Event, rows: pd.DataFrame, uncovered: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """What still blocks the posts of an event when a plan is put in, and what is not known of a post as a whole.

    Parameters
    ----------
    rows, uncovered : of the plan

    Returns
    -------
    blocked : post, member and kit (where it is theirs and not the whole post's), title and sentence (why) of the rule, and
        what mends it (fix)
    open : post, ask; rules that might block a post as a whole
    """
    copy = Copy(assessment)
    try:
        _put_in(copy, assessment, here, rows)
        numbers = [*copy.on("post_kit", "post"), *copy.again]
        copy.answer([number for number in numbers if assessment.rules[number].severity == "blocks"])
        found = Assessment(copy.con, assessment.rules, assessment.policy, assessment.today).findings(
            "j.severity_no = 0 and (j.subject_kind, j.subject_id) in "
            "(select from_kind, from_id from bearing join post on post_id = subject_id and subject_kind = 'post' where event = ?)",
            [here.name],
        )
    finally:
        copy.close()
    is_open = set(uncovered["post"])
    blocked, asks = [], []
    for finding in found:
        if finding.rule in TOO_FEW and finding.post in is_open:
            continue
        if finding.status == "not met":
            told = (finding.member, finding.kit, finding.title, finding.sentence, finding.fix)
            blocked += [(post, *told) for post in _posts_of(finding, rows)]
        elif finding.member is None and finding.rule not in TOO_FEW:
            asks.append((finding.post, finding.title.lower()))
    return (
        pd.DataFrame(sorted(blocked, key=lambda row: here.post_at[row[0]]), columns=BLOCKED),
        pd.DataFrame(sorted(asks, key=lambda row: here.post_at[row[0]]), columns=["post", "ask"]),
    )


def _put_in(copy: Copy, assessment: Assessment, here: Event, rows: pd.DataFrame) -> None:
    """Let the event's posts stand with the plan's assignments, and the posts of other events that its people or kits are sent to."""
    source = assessment.con.cursor()
    event = int(here.place["event_id"])
    post_at = dict(zip(here.posts["post"], here.posts["post_id"], strict=True))
    member_at = dict(zip(here.members["member"], here.members["member_id"], strict=True))
    pairs = zip(here.kits["member"], here.kits["kit"], strict=True)
    kit_at = dict(zip(pairs, here.kits["kit_id"], strict=True))
    owner = rows["kit_owner"].fillna(rows["member"])
    kits = [kit_at.get(pair) for pair in zip(owner, rows["kit"], strict=True)]
    first = source.execute("select coalesce(max(assignment_id), 0) + 1 from assignment").fetchall()[0][0]
    sent = pd.DataFrame(
        {
            "assignment_id": range(first, first + len(rows)),
            "event_id": event,
            "post_id": rows["post"].map(post_at),
            "member_id": rows["member"].map(member_at),
            "kit_id": pd.array(kits, dtype="Int64"),
            "starts": rows["from"],
            "ends": rows["to"],
            "travel_h": rows["travel_h"],
        }
    )
    theirs = {
        "event": event,
        "members": [int(member) for member in sent["member_id"]],
        "kits": [int(kit) for kit in kits if kit is not None],
    }
    away = source.execute(
        "from assignment where event_id <> $event and post_id in (select post_id from assignment "
        "where list_contains($members, member_id) or list_contains($kits, kit_id))",
        theirs,
    ).df()
    posts = source.execute(
        "from post where event_id = ? or list_contains(?, post_id)",
        [event, [int(post) for post in away["post_id"]]],
    ).df()
    copy.con.execute("insert into sent_only values (true)")
    copy.send(posts, away)
    if len(sent):
        copy.put("assignment", sent)


def _posts_of(finding: Finding, rows: pd.DataFrame) -> list[str]:
    """The posts of the plan that a finding bears on."""
    if finding.post is not None:
        return [finding.post]
    whose = rows["member"] if finding.kit is None else rows["kit_owner"].fillna(rows["member"])
    is_theirs = whose.eq(str(finding.member))
    if finding.kit is not None:
        is_theirs &= rows["kit"].eq(finding.kit)
    return list(dict.fromkeys(rows.loc[is_theirs, "post"]))
