"""Every post of an event with every available kit and its member: can it, with limits, cannot, not known."""

from __future__ import annotations

import json
from typing import Any

import duckdb
import pandas as pd

from rules.engine import Assessment
from rules.rule import Rule, sentence

ANSWERS = ("can", "with limits", "not known", "cannot")
"""From best to worst; their places are what `answers` gives."""

BEARING = """
    with bearing as (
        select post_kit_id, 'post_kit' as subject_kind, post_kit_id as subject_id from post_kit
        union all select post_kit_id, 'kit', kit_id from post_kit
        union all select post_kit_id, 'member', member_id from post_kit
        union all select post_kit_id, 'item', item_id from post_kit join item using (kit_id)
    ), bad as (   -- limits count where they are about the post; what blocks a kit or a person blocks it everywhere
        select b.post_kit_id, j.rule_no, j.severity_no, j.ok, j.evidence, b.subject_kind, b.subject_id,
            case when j.severity_no = 0 then case when j.ok is null then 2 else 3 end else 1 end as answer
        from bearing as b join judgement as j using (subject_kind, subject_id)
        where j.ok is not true and (j.severity_no = 0 or (j.severity_no = 1 and j.subject_kind = 'post_kit' and not j.ok))
    )
"""


MEANWHILE = """
    with sent as (
        select kit_id, post_id, starts, ends from assignment_utc where kit_id is not null
        union select k.kit_id, a.post_id, a.starts, a.ends from assignment_utc as a join kit as k using (member_id)
    ), meanwhile as (   -- one row per post and kit that is sent to others in its hours, or whose member is
        select p.post_id, s.kit_id, string_agg(distinct o.event || '/' || o.post, ' and ' order by o.event || '/' || o.post) as sent_to
        from post as p join event as e using (event_id)
        join sent as s on s.starts < utc_of(p.closes, e.clock_min, e.clocks_change, e.clock_after_min)
            and s.ends > utc_of(p.opens, e.clock_min, e.clocks_change, e.clock_after_min) and s.post_id <> p.post_id
        join post as o on o.post_id = s.post_id
        group by p.post_id, s.kit_id
    )
"""


def answers(con: duckdb.DuckDBPyConnection, with_kit: bool = True) -> pd.DataFrame:
    """One row per post and kit, or per person there without one (post_kit_id): the answer as its place in ANSWERS, and why.

    `rule_nos` are all rules behind the answer, `blocking_nos` those that are not met and block,
    `unknown_nos` those that block and are not known.
    """
    return con.execute(
        BEARING
        + """
        select post_kit_id, cast(coalesce(max(answer), 0) as integer) as answer,
            coalesce(list(distinct rule_no order by rule_no) filter (answer > 0), []) as rule_nos,
            coalesce(list(distinct rule_no order by rule_no) filter (answer = 3), []) as blocking_nos,
            coalesce(list(distinct rule_no order by rule_no) filter (answer = 2), []) as unknown_nos
        from post_kit left join bad using (post_kit_id) where (kit_id is not null) = $with_kit group by post_kit_id
        """,
        {"with_kit": with_kit},
    ).df()


def post_by_kit(assessment: Assessment, event: str | None = None) -> pd.DataFrame:
    """One row per post and available kit: event, post, member, kit, answer and the titles of the rules behind it, is_assigned,
    and sent_to, the other posts in these hours to which the kit or its member is sent.

    What blocks the kit, something in it, or its member blocks it at every post; what limits counts where it is
    about the post. A kit that is not assigned is judged for all of the hours that the post is open, and as if it were sent
    nowhere else.

    Parameters
    ----------
    event : name of an event; all events unless given
    """
    con = assessment.con.cursor()
    con.register("answered", answers(con))
    rows = con.execute(
        f"{MEANWHILE} select post.event, post.post, kit.member, kit.kit, a.answer, a.rule_nos, a.blocking_nos, a.unknown_nos, "
        "pk.is_assigned, m.sent_to from answered as a join post_kit as pk using (post_kit_id) join post using (post_id) "
        "join kit on kit.kit_id = pk.kit_id left join meanwhile as m on m.post_id = pk.post_id and m.kit_id = pk.kit_id where $event is null or post.event = $event "
        "order by post.post_id, a.answer, kit.member, kit.kit",
        {"event": event},
    ).df()
    con.unregister("answered")
    rows["answer"] = [ANSWERS[place] for place in rows["answer"]]
    behind = zip(*(rows.pop(name) for name in ("blocking_nos", "unknown_nos", "rule_nos")), strict=True)
    rows["reasons"] = [_titles(assessment, *map(list, numbers)) for numbers in behind]
    return rows


def _titles(assessment: Assessment, blocking: list[int], unknown: list[int], behind: list[int]) -> list[str]:
    """Titles of the rules behind an answer, each once: what blocks, what could (not known), what limits."""
    said = {no: assessment.rules[no].title for no in blocking}
    said |= {no: f"{assessment.rules[no].title} (not known)" for no in unknown if no not in said}
    return list((said | {no: assessment.rules[no].title for no in behind if no not in said}).values())


def why(assessment: Assessment, event: str, post: str, member: str, kit: str) -> list[str]:
    """The sentences behind the answer of one kit at one post, worst first."""
    rows = assessment.tuples(
        BEARING
        + """
            select bad.rule_no, bad.ok, bad.evidence, s.subject
            from bad join post_kit as pk using (post_kit_id) join post using (post_id) join kit on kit.kit_id = pk.kit_id
            join subject as s on s.subject_kind = bad.subject_kind and s.subject_id = bad.subject_id
            where post.event = ? and post.post = ? and kit.member = ? and kit.kit = ?
            order by bad.answer desc, bad.rule_no, s.subject
            """,
        [event, post, member, kit],
    )
    place = {"member": member, "kit": kit, "event": event, "post": post}
    return [
        _say(assessment, assessment.rules[no], ok, evidence, place | {"subject": subject})
        for no, ok, evidence, subject in rows
    ]


def _say(
    assessment: Assessment, rule: Rule, ok: bool | None, evidence: str | None, place: dict[str, Any]
) -> str:
    found = json.loads(evidence) if evidence else {}
    return sentence(rule, {**found, **place, "ok": ok}, assessment.policy)
