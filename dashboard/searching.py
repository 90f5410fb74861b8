"""Find members, kits, things, events, posts, rules and findings by words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from dashboard import lending, units
from dashboard.access import Action, Sight
from dashboard.standing import Standing

KINDS = {
    "member": "members",
    "kit": "kits",
    "thing": "things",
    "event": "events",
    "post": "posts",
    "rule": "rules",
    "finding": "findings",
}
MOST = 10
LONGEST = 100


@dataclass(frozen=True)
class Entry:
    """One thing that can be found.

    Attributes
    ----------
    kind : key of KINDS
    title, more : what is shown of it
    page : file of the page that shows it, and `query` what its address asks for
    member : whose it is, "" for nobody's
    is_closed : whether it speaks of several members' kits, so that only who sees every kit finds it
    """

    kind: str
    title: str
    more: str
    page: str
    query: dict[str, str] = field(compare=False)
    member: str = ""
    text: str = field(default="", compare=False)
    is_closed: bool = False

    def is_seen(self, sight: Sight) -> bool:
        """Whether it may be found."""
        return sight.me.may(Action.SEE_KIT) if self.is_closed else sight.is_full(self.member)


@dataclass(frozen=True)
class Found:
    """The best entries of one kind, and how many there are in all."""

    kind: str
    entries: list[Entry]
    count: int


def index(now: Standing) -> list[Entry]:
    """Everything that can be found, in the reader's units, made once for each version of the club and choice of units."""
    return now.kept.once(("search", units.is_us()), lambda: [*_told(now), *_findings(now)])


def _entry(
    kind: str, title: str, more: str, page: str, query: dict[str, str], member: str = "", words: str = ""
) -> Entry:
    return Entry(kind, title, more, f"views/{page}.py", query, member, f"{title} {more} {words}".casefold())


def _told(now: Standing) -> Iterable[Entry]:
    for row in now.scores.itertuples():
        if row.subject_kind == "member":
            yield _entry("member", row.subject, row.verdict, "kit", {"member": row.subject}, row.subject)
        elif row.subject_kind == "kit":
            asked = {"member": row.member, "kit": row.kit}
            yield _entry("kit", row.kit, f"{row.member}, {row.verdict}", "kit", asked, row.member)
    things = now.assessment.tuples(
        "select i.item_id, i.item, member, kit, label from item as i join kit using (kit_id) join kind using (kind)"
    )
    away = lending.away(now)
    for item_id, item, member, kit, label in things:
        lent = f"; {away[item_id]}" if item_id in away else ""
        asked = {"member": member, "kit": kit}
        yield _entry("thing", item, f"{label}; {member}, {kit}{lent}", "kit", asked, member)
    for row in now.assessment.table("event").itertuples():
        yield _entry("event", row.event, "", "events", {"event": row.event})
    for row in now.of("post").itertuples():
        asked = {"event": row.event, "post": row.post}
        yield _entry("post", row.post, f"{row.event}, {row.verdict}", "events", asked)
    for rule in now.assessment.rules:
        yield _entry(
            "rule", rule.title, units.said(rule.why), "rulebook", {"rule": rule.name}, words=rule.family
        )


def _findings(now: Standing) -> Iterable[Entry]:
    for found in now.assessment.findings():
        page, asked = "rulebook", {"rule": found.rule}
        if found.member:
            page, asked = "kit", {"member": found.member} | ({"kit": found.kit} if found.kit else {})
        elif found.event:
            page, asked = "events", {"event": found.event} | ({"post": found.post} if found.post else {})
        said = units.in_finding(found.sentence, found)
        entry = _entry("finding", said, f"{found.title}; {found.status}", page, asked, found.member or "")
        yield replace(entry, is_closed=found.member is None)


def search(entries: Sequence[Entry], words: str, sight: Sight) -> list[Found]:
    """What holds every one of the words, by kind; what begins with the first word comes first.

    Parameters
    ----------
    sight : what the one who asks may see; kits and findings that are not shared are not found
    """
    asked = words.casefold()[:LONGEST].split()
    if not asked:
        return []
    hits: dict[str, list[Entry]] = {}
    for entry in entries:
        if all(word in entry.text for word in asked) and entry.is_seen(sight):
            hits.setdefault(entry.kind, []).append(entry)
    found = []
    for kind in KINDS:
        if of_kind := hits.get(kind):
            of_kind.sort(key=lambda entry: (not entry.text.startswith(asked[0]), entry.kind != "finding"))
            found.append(Found(kind, of_kind[:MOST], len(of_kind)))
    return found
