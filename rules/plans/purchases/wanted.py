"""Which kits want which kinds of things: what their findings ask for, and what their stations lack."""

from __future__ import annotations

from rules.engine import Assessment
from rules.plans.trials import Answers, Key

MENDING_KIND = "json_extract_string(evidence, '$.mending_kind')"
"""The kind of thing that a finding's evidence says mends it; NULL where it names none (`offers.remedy`)."""
LINK_KINDS = {
    "source": ("battery_lifepo4",),
    "radio": ("handheld",),
    "dc_path": ("dc_lead", "dc_adapter"),
    "antenna": ("jpole", "mag_mount"),
    "rf_path": ("coax", "rf_pigtail", "rf_adapter"),
}
"""Kinds that can give a kit the link that its station lacks (words of the fact station)."""
Wanted = dict[int, dict[str, set[int]]]
"""By kit and kind that could close something: the items that ask for it."""


def wanted_kinds(assessment: Assessment, before: Answers) -> Wanted:
    """By kit: the kinds that could close something, with the items that ask for each."""
    kit_of_item = assessment.table("item").set_index("item_id")["kit_id"].to_dict()
    wanted: Wanted = {}
    in_doubt = set()
    sent, named = kits_at(assessment), _mending_kinds(assessment)
    for key in before.not_met():
        rule_no, subject_kind, a, b = key
        if subject_kind == "club":
            continue
        rule = assessment.rules[rule_no]
        if subject_kind == "post":
            for kit_id in sent.get(a, ()):
                wanted.setdefault(kit_id, {}).setdefault(str(rule.remedy["kind"]), set())
            continue
        kit_id = kit_of_item[a] if subject_kind == "item" else a if subject_kind == "kit" else b
        if kind := named.get(key, rule.remedy.get("kind")):
            wanted.setdefault(kit_id, {}).setdefault(kind, set()).update(
                {a} if subject_kind == "item" else ()
            )
        elif rule.family == "redundancy" and subject_kind == "kit":
            in_doubt.add(kit_id)
    station = assessment.table("station")
    for kit_id, link, spare in station[["kit_id", "missing_link", "spare_kind"]].itertuples(index=False):
        if kit_id in in_doubt:
            for kind in {*LINK_KINDS.get(link or "", ()), *({spare} if spare else ())}:
                wanted.setdefault(kit_id, {}).setdefault(kind, set())
    return wanted


def _mending_kinds(assessment: Assessment) -> dict[Key, str]:
    """By finding on a kit or a kit at a post: the kind that its evidence names, where the rule leaves it to what is found."""
    asked = [number for number, rule in enumerate(assessment.rules) if "mending_kind" in rule.sql]
    rows = assessment.tuples(
        f"select rule_no, subject_kind::varchar, coalesce(post_id, subject_id), coalesce(kit_id, 0), {MENDING_KIND} "
        "from judgement left join post_kit on subject_kind = 'post_kit' and post_kit_id = subject_id "
        "where not ok and rule_no in (select unnest(?))",
        [asked],
    )
    return {(rule_no, on, a, b): kind for rule_no, on, a, b, kind in rows if kind}


def kits_at(assessment: Assessment) -> dict[int, set[int]]:
    """The kits sent to each post."""
    rows = assessment.tuples(
        "select post_id, list(distinct kit_id) from assignment where kit_id is not null group by 1"
    )
    return {post: set(kits) for post, kits in rows}


def short_wh(assessment: Assessment) -> dict[int, float]:
    """By kit: the most energy (Wh) that a rule with a remedy in Wh says is short."""
    short: dict[int, float] = {}
    for (kit_id, _), wh in _short(assessment, "capacity_wh").items():
        short[kit_id] = max(short.get(kit_id, 0.0), wh)
    return short


def short_pieces(assessment: Assessment) -> dict[tuple[int, str], int]:
    """By kit and kind: the most pieces that a rule with a remedy in pieces says are short."""
    return {key: int(pieces) for key, pieces in _short(assessment, "pieces").items()}


def _short(assessment: Assessment, size: str) -> dict[tuple[int, str], float]:
    """By kit and kind of a remedy: the most that a rule says is short, in a word of evidence that its remedy names."""
    short: dict[tuple[int, str], float] = {}
    for number, rule in enumerate(assessment.rules):
        if name := rule.remedy.get(size):
            kit = {
                "kit": "subject_id",
                "post_kit": "(select kit_id from post_kit where post_kit_id = subject_id)",
            }
            rows = assessment.tuples(
                f"select {kit[rule.subject]}, coalesce({MENDING_KIND}, ?), "
                f"max(cast(json_extract_string(evidence, '$.{name}') as double)) "
                f"from judgement where rule_no = {number} and not ok group by 1, 2",
                [rule.remedy["kind"]],
            )
            for kit_id, kind, most in rows:
                key = (kit_id, kind)
                short[key] = max(short.get(key, 0.0), most or 0.0)
    return short
