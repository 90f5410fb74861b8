"""Whose action it is to put a file in force, whichever way it comes."""

from __future__ import annotations

from dashboard.access import Action
from data.store import OWNER
from data.upload import Upload

OWN_FILES = ("inventory", "kits", "rehearsals")  # that members may send of themselves
OTHERS = {"assignments": Action.ASSIGN, "loans": Action.LEND}  # that others than the coordinator send


def asked(sent: Upload) -> tuple[Action, str]:
    """What someone must be allowed to do to send a file, and on whose: their own rows, or all of the club's."""
    assert sent.frame is not None
    whose = sorted(set(sent.frame[OWNER[sent.stem]])) if sent.stem in OWN_FILES else []
    if len(whose) == 1:
        return Action.SEND_KIT, whose[0]
    return OTHERS.get(sent.stem, Action.SEND_CLUB), ""
