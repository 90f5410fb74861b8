"""Whose action it is to put a file in force, whichever way it comes."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

import pandas as pd

from dashboard.access import Action, Person
from data import schema
from data.store import OWNER
from data.upload import Upload
from rules.engine import Finding

LINE = re.compile(r" \(line \d+\)$")
OWN_FILES = ("inventory", "kits", "rehearsals")  # that members may send of themselves
SHOWN_MEMBERS = 5
"""Members of whom it is told at once what a new list mended and brought."""
OTHERS = {"assignments": Action.ASSIGN, "loans": Action.LEND}  # that others than the coordinator send


def asked(sent: Upload) -> tuple[Action, str]:
    """What someone must be allowed to do to send a file, and on whose: their own rows, or all of the club's."""
    assert sent.frame is not None
    whose = sorted(set(sent.frame[OWNER[sent.stem]])) if sent.stem in OWN_FILES else []
    if len(whose) == 1:
        return Action.SEND_KIT, whose[0]
    return OTHERS.get(sent.stem, Action.SEND_CLUB), ""


def whose(sent: Sequence[Upload]) -> str:
    """The one member whose lists files are; "" where they are of several or of the club."""
    members = {asked(one)[1] for one in sent}
    return members.pop() if len(members) == 1 else ""


def sent_by(me: Person) -> list[str]:
    """Kinds of file that someone may send: all of the club's, or of themselves and what their role is for."""
    own = OWN_FILES if me.may(Action.SEND_KIT, me.member) else ()
    return [stem for stem in schema.FILES if stem in own or me.may(OTHERS.get(stem, Action.SEND_CLUB))]


def in_counts(changes: pd.DataFrame) -> str:
    """How many rows a file adds and removes and how many cells it changes, as `Store.changes` has them, in words."""
    counts = changes["change"].value_counts()
    added, removed, cells = (int(counts.get(word, 0)) for word in ("added", "removed", "changed"))
    return f"{added} added, {removed} removed, {cells} cell{'' if cells == 1 else 's'} changed"


def what_becomes(me: Person) -> str:
    """What can be done with what stood before, as the end of a sentence."""
    return "can be restored" if me.may(Action.RESTORE) else "is kept, and the coordinator can restore it"


def moved(before: Sequence[Finding], after: Sequence[Finding]) -> tuple[list[Finding], list[Finding]]:
    """What was not met and is no longer found, and what is not met only now, each in the order of its list.

    A thing that only stands on another line of the list is the same; what is not known any more is not mended.
    """
    return _only_in(before, after), _only_in(
        [f for f in after if _is_bad(f)], [f for f in before if _is_bad(f)]
    )


def moved_in_words(before: Sequence[Finding], after: Sequence[Finding]) -> list[tuple[str, list[Finding]]]:
    """What a new list mended, or what it leaves out, and what it brought, each under what it is called."""
    named = zip(("mended or gone", "new"), moved(before, after), strict=True)
    return [(f"{len(found)} {word}", found) for word, found in named if found]


def _is_bad(finding: Finding) -> bool:
    return finding.status == "not met"


def _only_in(here: Sequence[Finding], there: Sequence[Finding]) -> list[Finding]:
    """Findings not met of one list, less those that the other holds."""
    left = Counter(map(_same, there))
    found = []
    for finding in filter(_is_bad, here):
        left[_same(finding)] -= 1
        if left[_same(finding)] < 0:
            found.append(finding)
    return found


def _same(finding: Finding) -> tuple[str, str, str | None, str | None]:
    """What a finding is known by in two lists."""
    return finding.rule, LINE.sub("", finding.subject), finding.member, finding.kit
