"""Whose action it is to put a file in force, whichever way it comes."""

from __future__ import annotations

from dashboard.access import Action, Person
from data import schema
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


def sent_by(me: Person) -> list[str]:
    """Kinds of file that someone may send: all of the club's, or of themselves and what their role is for."""
    own = OWN_FILES if me.may(Action.SEND_KIT, me.member) else ()
    return [stem for stem in schema.FILES if stem in own or me.may(OTHERS.get(stem, Action.SEND_CLUB))]


def what_becomes(me: Person) -> str:
    """What can be done with what stood before, as the end of a sentence."""
    return "can be restored" if me.may(Action.RESTORE) else "is kept, and the coordinator can restore it"
