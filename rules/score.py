"""What would change a verdict: the rules that move it most, and what to ask of each member first."""

from __future__ import annotations

import pandas as pd

from rules.engine import SEVERITIES, VERDICTS, Assessment, Finding

ROWS = """
    select rule_no, severity_no, ok, weight, own
    from judgement join weight using (severity_no)
    join (
        select subject_kind, subject_id, b.from_kind, b.from_id, 0 as own from bearing as b
        union all
        select 'member', kit.member_id, b.from_kind, b.from_id, kit.kit_id
        from bearing as b join kit on b.subject_kind = 'kit' and b.subject_id = kit.kit_id
        union all
        select 'event', post.event_id, b.from_kind, b.from_id, -post.post_id
        from bearing as b join post on b.subject_kind = 'post' and b.subject_id = post.post_id
    ) as e on e.from_kind = judgement.subject_kind and e.from_id = judgement.subject_id
    join subject as s on s.subject_kind = e.subject_kind and s.subject_id = e.subject_id
    where s.subject_kind = $kind and s.subject = $subject
"""


def _rank(rows: pd.DataFrame) -> int:
    """Place in VERDICTS of a set of answers."""
    if (rows["ok"].eq(False) & rows["severity_no"].eq(0)).any():
        return 0
    if (rows["ok"].isna() & rows["severity_no"].eq(0)).any():
        return 1
    return 2 if (rows["ok"].eq(False) & rows["severity_no"].eq(1)).any() else 3


def _verdict(rows: pd.DataFrame) -> str:
    """Verdict of a subject: its own answers; the best of a member's kits; the worst of an event's posts."""
    ranks = {own: _rank(part) for own, part in rows.groupby("own")}
    kits = [rank for own, rank in ranks.items() if own > 0]
    least = [rank for own, rank in ranks.items() if own <= 0] + ([max(kits)] if kits else [])
    return VERDICTS[min(least, default=3)]


def changes(assessment: Assessment, subject_kind: str, subject: str) -> pd.DataFrame:
    """What putting right each rule would do to one kit, member, post or event; what moves the verdict first.

    Returns
    -------
    DataFrame
        One row per rule that is not met or not known: rule, title, severity, not_met, not_known (counts of things),
        low_points and high_points (points of 100 that the low and the high end of the score gain), verdict_after.
    """
    cursor = assessment.con.cursor()
    rows = cursor.execute(ROWS, {"kind": subject_kind, "subject": subject}).df()
    rows["ok"] = rows["ok"].astype("boolean")
    whole = rows["weight"].sum()
    found = []
    for number, part in rows[~rows["ok"].fillna(False)].groupby("rule_no"):
        rule = assessment.rules[int(number)]
        mended = rows.copy()
        mended.loc[mended["rule_no"] == number, "ok"] = True
        bad = part["ok"].eq(False).fillna(False)
        found.append(
            (
                rule.name, rule.title, rule.severity, int(bad.sum()), int((~bad).sum()),
                round(100 * part["weight"].sum() / whole, 1), round(100 * part.loc[bad, "weight"].sum() / whole, 1),
                _verdict(mended),
            )
        )  # fmt: skip
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
    frame = pd.DataFrame(found, columns=columns)
    order = frame.assign(
        rank=-frame["verdict_after"].map({word: place for place, word in enumerate(VERDICTS)}).astype(int),
        heavy=frame["severity"].map({word: place for place, word in enumerate(SEVERITIES)}).astype(int),
        gain=-frame["low_points"],
    )
    return frame.loc[order.sort_values(["rank", "heavy", "gain"]).index].reset_index(drop=True)


def next_steps(assessment: Assessment, member: str, count: int = 3) -> list[Finding]:
    """What a member should mend or tell first: one finding for each of at most `count` rules.

    Findings on an assignment come before the rest, blocks before limits before advice, what is not met before what is
    not known, and rules that the member breaks in many places before those in few.
    """
    first: dict[str, Finding] = {}
    often: dict[str, int] = {}
    for finding in assessment.findings("s.member = ?", [member]):
        first.setdefault(finding.rule, finding)
        often[finding.rule] = often.get(finding.rule, 0) + 1

    def order(finding: Finding) -> tuple[int, bool, bool, int]:
        return (
            SEVERITIES.index(finding.severity), finding.subject_kind != "post", finding.status == "not known",
            -often[finding.rule],
        )  # fmt: skip

    return sorted(first.values(), key=order)[:count]
