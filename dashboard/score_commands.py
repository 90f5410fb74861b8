"""The command that judges a folder of files, and how a review is printed."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Annotated, Any

import typer

from dashboard import documents, folders, say
from dashboard.options import AsJson, Policy, Today

if TYPE_CHECKING:
    from rules.engine import Assessment, Finding

KINDS_SHOWN = ("event", "post", "member", "kit")
"""Without the club: its verdict counts its own matters alone, and would read as that of all its kits."""
VERDICT = {"not met": "not ready", "not known": "not known"}
"""Of a post, by the status of what blocks it or could."""
VERDICTS = ("ready", "ready with limits", "not ready", "not known")


def score(
    folder: folders.Place,
    as_json: AsJson = False,
    policy: Policy = None,
    today: Today = None,
    member: Annotated[
        str | None, typer.Option(metavar="MEMBER", help="Only what concerns this member.")
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="List every finding, also what is met.")] = False,
) -> None:
    """Score a club's kits from a folder of CSV files.

    Exit code: 0 scored, 1 the files have problems (printed as `check` does), 2 the folder cannot be read.
    """
    assessment, _ = folders.judged(folder, today, as_json, policy)
    findings = assessment.findings(with_met=everything)
    scores = assessment.scores().to_dict("records")
    if member:
        member = member.upper()
        if not any(row["member"] == member for row in scores):
            raise folders.fail(f'{folder}: no member "{member}". Write one as it stands in inventory.csv.')
        scores = [row for row in scores if row["member"] == member]
        findings = [finding for finding in findings if finding.member == member]
    if as_json:
        say.as_json(document(scores, findings))
    else:
        review(assessment, scores, findings)
        _members(scores, findings)
        _list(findings, everything or member is not None)


def document(scores: list[dict[str, Any]], findings: list[Finding]) -> dict[str, Any]:
    """The JSON form of a score: what is ready, and what was found."""
    return {"scores": documents.scores(scores), "findings": documents.findings(findings)}


def _range(row: dict[str, Any]) -> str:
    """A score as its range, 0 to 100: if every unknown is bad, to if every unknown is good."""
    low, high = documents.plain(row["low"]), documents.plain(row["high"])
    if low is None or high is None:
        return "-"
    return f"{low:.0f}" if round(low) == round(high) else f"{low:.0f} to {high:.0f}"


def _headline(kind: str, tally: Counter[str]) -> str:
    """How many of a kind are ready, e.g. `25 of 52 posts are ready, 7 of them with limits`."""
    limited = tally["ready with limits"]
    ready = tally["ready"] + limited
    of = f"{tally.total()} {kind}" + "s" * (tally.total() != 1)
    text = f"{ready} of {of} {'is' if 1 in (ready, tally.total()) else 'are'} ready"
    if not limited:
        return text
    return f"{text}, with limits" if ready == 1 else f"{text}, {limited} of them with limits"


def review(assessment: Assessment, scores: list[dict[str, Any]], findings: list[Finding]) -> None:
    """Print the headline, the verdicts by kind of subject, the posts in doubt, the gaps found most often."""
    shown = {kind: [row for row in scores if row["subject_kind"] == kind] for kind in KINDS_SHOWN}
    counts = {kind: Counter(row["verdict"] for row in rows) for kind, rows in shown.items() if rows}
    told = [_headline(kind, counts[kind]) for kind in ("post", "kit") if kind in counts]
    if told:
        say.line("; ".join(told) + ".", "bold")
    say.table(
        "How ready is the club?",
        ("", *VERDICTS),
        [(kind, *(tally[verdict] for verdict in VERDICTS)) for kind, tally in counts.items()],
    )
    if shown["post"]:
        reasons = _reasons(assessment, findings)
        say.table(
            "Posts that are not ready, and why",
            ("post", "verdict", "score", "why, first of all"),
            [
                (
                    row["subject"],
                    row["verdict"],
                    _range(row),
                    reasons.get((row["subject"], row["verdict"]), ""),
                )
                for row in shown["post"]
                if row["verdict"] in VERDICT.values()
            ],
        )
    gaps = Counter((f.title, f.severity) for f in findings if _is_grave(f))
    say.table(
        "What is wrong most often",
        ("found", "severity", "times"),
        [(title, severity, times) for (title, severity), times in gaps.most_common(10)],
    )


def _reasons(assessment: Assessment, findings: list[Finding]) -> dict[tuple[str, str], str]:
    """By post and verdict: the worst finding behind it, of the post or of a kit or person sent there."""
    sent = assessment.tuples(
        "select event || '/' || post, member.member, kit.member, kit.kit from assignment join post using (post_id) "
        "join member on member.member_id = assignment.member_id left join kit using (kit_id)"
    )
    posts_of: dict[tuple[str | None, str | None], list[str]] = {}
    for post, member, owner, kit in sent:
        for who in [(member, None), *([(owner, kit)] if kit else [])]:
            posts_of.setdefault(who, []).append(post)
    reasons: dict[tuple[str, str], str] = {}
    for finding in findings:
        verdict = VERDICT.get(finding.status)
        if verdict is None or finding.severity != "blocks":
            continue
        posts = [finding.subject] if finding.post else posts_of.get((finding.member, finding.kit), [])
        for post in posts:
            reasons.setdefault((post, verdict), finding.sentence.removeprefix(f"{post}: "))
    return reasons


def _members(scores: list[dict[str, Any]], findings: list[Finding]) -> None:
    """Print every member's verdict, and what to mend first."""
    first: dict[str, str] = {}
    for finding in findings:
        if finding.member and _is_grave(finding):
            first.setdefault(finding.member, finding.sentence)
    say.table(
        "By member (score 0 to 100; a range where something is not known)",
        ("member", "verdict", "score", "to mend first"),
        [
            (row["subject"], row["verdict"], _range(row), first.get(row["subject"], ""))
            for row in scores
            if row["subject_kind"] == "member"
        ],
    )


def _is_grave(finding: Finding) -> bool:
    """Whether a finding stops or limits its subject, and is known to."""
    return finding.status == "not met" and finding.severity != "advice"


def _list(findings: list[Finding], everything: bool) -> None:
    """Print findings, worst first: all of them, or only what blocks or limits and is not met."""
    listed = [f for f in findings if everything or _is_grave(f)]
    for finding in listed:
        mark = finding.status if finding.status != "not met" else finding.severity
        say.line(f"{mark}: {finding.sentence}", say.STYLES.get(mark, ""))
        if finding.fix:
            say.line(f"    {finding.fix}")
    if rest := len(findings) - len(listed):
        say.line(f"{rest} more, advice or not known: --all lists them, --member MEMBER lists one member's.")
