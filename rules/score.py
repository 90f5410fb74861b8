"""What would change a verdict: the rules that move it most, and what to ask of each member first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any, NamedTuple

import pandas as pd

from rules.engine import Assessment, Finding
from rules.verdicts import SEVERITIES, VERDICTS

ROWS = """
    select rule_no, severity_no, ok, own
    from judgement
    join (
        select subject_kind, subject_id, from_kind, from_id, 0 as own from bearing
        union all
        select p.subject_kind, p.subject_id, b.from_kind, b.from_id, if(p.part_kind = 'kit', part_id, -part_id)
        from part as p join bearing as b on b.subject_kind = p.part_kind and b.subject_id = p.part_id
    ) as e on e.from_kind = judgement.subject_kind and e.from_id = judgement.subject_id
    join subject as s on s.subject_kind = e.subject_kind and s.subject_id = e.subject_id
    where s.subject_kind = $kind and s.subject = $subject
"""

SENT = """
    select k.kit, m.member = $1 as is_sent
    from assignment as a join member as m using (member_id) left join kit as k on k.kit_id = a.kit_id and k.member = $1
    where m.member = $1 or k.member = $1
"""


class Answer(NamedTuple):
    """One judgement that bears on a subject; `own` is 0, or the kit (above 0) or post (below 0) it comes through."""

    rule_no: int
    severity_no: int
    ok: bool | None
    own: int


def answers(assessment: Assessment, subject_kind: str, subject: str) -> list[Answer]:
    """Every judgement that bears on one kit, member, post or event."""
    rows = assessment.tuples(ROWS, {"kind": subject_kind, "subject": subject})
    return [Answer(*row) for row in rows]


def verdict(given: Iterable[Answer]) -> str:
    """Verdict of a subject: its own answers; the best of a member's kits; the worst of an event's posts."""
    rank: dict[int, int] = {}
    for answer in given:
        if answer.ok is False:
            place = (0, 2, 3)[answer.severity_no]
        else:
            place = 1 if answer.ok is None and answer.severity_no == 0 else 3
        rank[answer.own] = min(rank.get(answer.own, 3), place)
    kits = [place for own, place in rank.items() if own > 0]
    least = [place for own, place in rank.items() if own <= 0] + ([max(kits)] if kits else [])
    return VERDICTS[min(least, default=3)]


def changes(assessment: Assessment, subject_kind: str, subject: str) -> pd.DataFrame:
    """What putting right each rule would do to one kit, member, post or event; what moves the verdict first.

    Returns
    -------
    DataFrame
        One row per rule that is not met or not known: rule, title, severity, not_met, not_known (counts of things),
        low_points and high_points (points of 100 that the low and the high end of the score gain), verdict_after.
    """
    given = answers(assessment, subject_kind, subject)
    weights = [assessment.policy.weight[word] for word in SEVERITIES]

    def weigh(some: Iterable[Answer]) -> float:
        return sum(weights[answer.severity_no] for answer in some)

    whole = weigh(given)
    found: list[dict[str, Any]] = []
    for number in sorted({answer.rule_no for answer in given if answer.ok is not True}):
        rule = assessment.rules[number]
        open_ones = [answer for answer in given if answer.rule_no == number and answer.ok is not True]
        bad = [answer for answer in open_ones if answer.ok is False]
        found.append(
            {
                "rule": rule.name,
                "title": rule.title,
                "severity": rule.severity,
                "not_met": len(bad),
                "not_known": len(open_ones) - len(bad),
                "low_points": round(100 * weigh(open_ones) / whole, 1),
                "high_points": round(100 * weigh(bad) / whole, 1),
                "verdict_after": verdict(a._replace(ok=True) if a.rule_no == number else a for a in given),
            }
        )
    found.sort(
        key=lambda row: (
            -VERDICTS.index(row["verdict_after"]),
            SEVERITIES.index(row["severity"]),
            -row["low_points"],
        )
    )
    columns = [
        "rule",
        "title",
        "severity",
        "not_met",
        "not_known",
        "low_points",
        "high_points",
        "verdict_after",
    ]
    return pd.DataFrame(found, columns=columns)


def unknowns(assessment: Assessment, subject_kind: str, subject: str, count: int = 5) -> pd.DataFrame:
    """What is worth finding out first of one kit, member, post or event: at most `count` rules with what is not known.

    First where the verdict would differ most between finding it in order and finding it not; among these where more
    points of the score hang on it.

    Returns
    -------
    DataFrame
        One row per rule: rule, title, severity, not_known (count of things), points (of 100, by which the range of the
        score narrows), verdict_if_met and verdict_if_not (the rest left as it is; a rule that judges what is told
        alone, as metres of wire before a fuse, is not foreseen).
    """
    given = answers(assessment, subject_kind, subject)
    weights = [assessment.policy.weight[word] for word in SEVERITIES]
    whole = sum(weights[answer.severity_no] for answer in given)
    found: list[dict[str, Any]] = []
    for number, times in Counter(answer.rule_no for answer in given if answer.ok is None).items():
        rule = assessment.rules[number]
        if_met, if_not = (
            verdict(a._replace(ok=ok) if a.rule_no == number and a.ok is None else a for a in given)
            for ok in (True, False)
        )
        weight = times * weights[SEVERITIES.index(rule.severity)]
        found.append(
            {
                "rule": rule.name,
                "title": rule.title,
                "severity": rule.severity,
                "not_known": times,
                "points": round(100 * weight / whole, 1) if whole else 0.0,
                "verdict_if_met": if_met,
                "verdict_if_not": if_not,
            }
        )
    found.sort(
        key=lambda row: (
            VERDICTS.index(row["verdict_if_not"]) - VERDICTS.index(row["verdict_if_met"]),
            -row["points"],
            SEVERITIES.index(row["severity"]),
            row["rule"],
        )
    )
    columns = ["rule", "title", "severity", "not_known", "points", "verdict_if_met", "verdict_if_not"]
    return pd.DataFrame(found[:count], columns=columns)


def next_steps(assessment: Assessment, member: str, count: int = 3) -> list[Finding]:
    """What a member should mend or tell first: one finding for each of at most `count` rules.

    Blocks come before limits before advice; among these what is found at a post before what is found in a kit that is
    sent to one or of a member who is, and that before the rest; then what is not met before what is not known, and
    rules that the member breaks in many places before those in few. What the coordinator alone can mend is asked of no member;
    it stands with the posts.
    """
    sent = assessment.tuples(SENT, [member])
    sent_kits = {kit for kit, _ in sent if kit} | {None for _, is_sent in sent if is_sent}
    of_others = {rule.name for rule in assessment.rules if rule.mended_by == "coordinator"}
    found = [
        one
        for one in assessment.findings("s.member = ?", [member])
        if one.status == "not known" or one.rule not in of_others
    ]
    often = Counter(finding.rule for finding in found)

    def order(finding: Finding) -> tuple[int, int, bool, int]:
        is_there = finding.kit in sent_kits
        return (
            SEVERITIES.index(finding.severity), 0 if finding.subject_kind == "post" else 2 - is_there,
            finding.status == "not known", -often[finding.rule],
        )  # fmt: skip

    first: dict[str, Finding] = {}
    for finding in sorted(found, key=order):
        first.setdefault(finding.rule, finding)
    return list(first.values())[:count]
