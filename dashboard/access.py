"""Who may do what. Every page, download, route and plan asks here before it shows or changes anything."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from functools import cached_property
from typing import Any

import streamlit as st

from dashboard import replay
from dashboard.standing import club
from data.people import Known, among
from rules.engine import Finding


class Role(StrEnum):
    """What a person is to the club."""

    COORDINATOR = "coordinator"
    QUARTERMASTER = "quartermaster"
    EVENT_LEAD = "event lead"
    MEMBER = "member"
    VIEWER = "viewer"


class Action(StrEnum):
    """What can be done; read after "may"."""

    SEE_SEASON = "see how the club stands"
    SEE_KIT = "see a member's kit in full"
    SEND_KIT = "send a member's lists"
    SEND_CLUB = "send the club's lists"
    SEE_EVENTS = "see events and plans"
    ASSIGN = "assign people to posts"
    REPORT = "report after an event"
    SEE_PURCHASES = "see what to buy"
    LEND = "lend club gear"
    INSPECT = "inspect kits"
    SEE_RULES = "read the rules"
    SET_POLICY = "change the policy"
    SEE_RECORDS = "read the records"
    RESTORE = "restore what was sent before"
    MANAGE_PEOPLE = "say who may do what"
    TAKE_OUT = "take everything of a member out, or erase it"


ALL = frozenset(Role)
BY_ROLE: dict[Action, frozenset[Role]] = {
    Action.SEE_SEASON: ALL,
    Action.SEE_KIT: frozenset({Role.COORDINATOR, Role.QUARTERMASTER}),
    Action.SEND_KIT: frozenset({Role.COORDINATOR}),
    Action.SEND_CLUB: frozenset({Role.COORDINATOR}),
    Action.SEE_EVENTS: ALL,
    Action.ASSIGN: frozenset({Role.COORDINATOR, Role.EVENT_LEAD}),
    Action.REPORT: frozenset({Role.COORDINATOR, Role.EVENT_LEAD}),
    Action.SEE_PURCHASES: frozenset({Role.COORDINATOR, Role.QUARTERMASTER}),
    Action.LEND: frozenset({Role.COORDINATOR, Role.QUARTERMASTER}),
    Action.INSPECT: frozenset({Role.COORDINATOR, Role.QUARTERMASTER}),
    Action.SEE_RULES: ALL,
    Action.SET_POLICY: frozenset({Role.COORDINATOR}),
    Action.SEE_RECORDS: frozenset({Role.COORDINATOR}),
    Action.RESTORE: frozenset({Role.COORDINATOR}),
    Action.MANAGE_PEOPLE: frozenset({Role.COORDINATOR}),
    Action.TAKE_OUT: frozenset({Role.COORDINATOR}),
}
# What every signed-in person may do with what is their own.
OWN = frozenset({Action.SEE_KIT, Action.SEND_KIT, Action.REPORT, Action.INSPECT, Action.TAKE_OUT})


@dataclass(frozen=True)
class Person:
    """Who is at the other end.

    Attributes
    ----------
    name : how the records call them
    role : what they are to the club
    member : their call sign or member number, "" where they are none
    """

    name: str
    role: Role
    member: str = ""

    @property
    def drawn_as(self) -> Hashable:
        """What stands for them where something is drawn once."""
        return self.name, self.role, self.member

    @property
    def called(self) -> str:
        """What they are to the club, within a sentence: `an event lead`; of a member also that they have no call sign."""
        is_nobody = self.role is Role.MEMBER and not self.member
        article = "an" if self.role is Role.EVENT_LEAD else "a"
        return f"{article} {self.role}" + (" without a call sign or member number" if is_nobody else "")

    def may(self, action: Action, member: str = "") -> bool:
        """Whether an action is theirs, on what belongs to a member if one is named."""
        is_own = bool(member) and member == self.member and self.role is not Role.VIEWER
        return self.role in BY_ROLE[action] or (is_own and action in OWN)


HERE = Person("coordinator", Role.COORDINATOR)  # whoever sits at the machine that serves only itself
CONSENT = (
    "The coordinator and the quartermaster see your lists in full, event leads see what bears on the posts that "
    "they fill, and others see what the coordinator shares: the verdict of each kit unless you were told otherwise. "
    "Lists are kept until you or the coordinator erase them, in backups until these are deleted. You can take "
    "everything out, withdraw or have it erased at any time on the page who may do what?"
)
SIGNED_IN_FOR = timedelta(hours=12)  # a sign-in that is older counts no more, whatever its cookie says


def of(known: Known) -> Person:
    """Someone of the club, as what they may do is asked."""
    return Person(known.name, Role(known.role), known.member)


def login_of(claims: Mapping[str, Any]) -> str:
    """By which name the sign-in vouches for someone: an address that it says is theirs, else the subject; "" for none.

    Where a provider does not say that it has verified an address, anyone may have written it there.
    Source: OpenID Connect Core 1.0, sections 5.1 and 5.7.
    """
    email = claims.get("email")
    if email and claims.get("email_verified") in (True, "true"):
        return str(email)
    return str(claims.get("sub") or "")


def known(claims: Mapping[str, Any], now: datetime) -> Known | None:
    """Who signed in, if they belong to the club and the sign-in still counts.

    A sign-in counts for `SIGNED_IN_FOR` and until its owner signs out anywhere, so that a cookie kept by
    someone else opens nothing afterwards. Who they are to the club stands in the store alone.

    Parameters
    ----------
    claims : what the provider vouches for; `iat` is when it did, in seconds since 1970
    """
    at = claims.get("iat")
    if not claims.get("is_logged_in") or not isinstance(at, int | float):
        return None
    found = among(club().known(), login_of(claims))
    signed_in = datetime.fromtimestamp(at, UTC)
    if found is None or not now - SIGNED_IN_FOR < signed_in < now + timedelta(minutes=5):
        return None
    return None if found.valid_from and signed_in <= found.valid_from else found


def signed_in() -> Known | None:
    """Who of the club looks at this page; None for nobody, or where there is no sign-in."""
    return known(st.user.to_dict(), datetime.now(UTC)) if club().has_sign_in else None


def person() -> Person | None:
    """Who looks at this page, looked up on every run; None for someone who does not belong to the club."""
    replay.refuse("who looks")
    if not club().has_sign_in:
        return HERE
    found = signed_in()
    return of(found) if found else None


def plans_events(me: Person) -> bool:
    """Whether someone sees what bears on the posts whoever brings it, as they fill them or see every kit."""
    return me.may(Action.ASSIGN) or me.may(Action.SEE_KIT)


def sends_lists(me: Person) -> bool:
    """Whether someone may send any list, and so is asked to agree to how lists are kept."""
    return me.may(Action.SEND_CLUB) or me.may(Action.SEND_KIT, me.member)


def require(action: Action, member: str = "") -> Person:
    """Who looks at this page, if they may do this; else the page says so and ends."""
    asking = person()
    if asking is None:
        ask_to_sign_in()
        st.stop()
    if not asking.may(action, member):
        st.warning(f"As {asking.called}, you may not {action}. Ask the coordinator.")
        st.stop()
    return asking


def held(make: Callable[[], bytes]) -> Callable[[], bytes]:
    """What makes a download when it is asked for, as long as whoever the page was drawn for may do what they might.

    A download that is made late runs apart from the page, where nobody is signed in. So this keeps for whom the
    page was drawn, and makes nothing once they were removed, changed their role or signed out.
    """
    asked_for = signed_in()

    def made() -> bytes:
        if club().has_sign_in and asked_for not in club().known():
            raise PermissionError("This page has run out. Load it again.")
        return make()

    return made


def ask_to_sign_in() -> None:
    """The way in, for someone who has not signed in or does not belong to the club."""
    st.title("Sign in")
    login = login_of(st.user.to_dict()) if st.user.get("is_logged_in") else ""
    if login and among(club().known(), login) is None:
        if said := st.session_state.pop("people-erased", ""):
            st.success("What was held on you is erased, and you can sign in no more.")
            st.text(said)
            st.button("Sign out", on_click=st.logout, key="sign-out-erased")
            return
        st.warning("This sign-in is not on the club's list of people. Ask the coordinator to add:")
        st.text(login)
        st.button("Sign in as someone else", on_click=st.logout, key="sign-out-stranger")
        return
    st.text(
        "Kit Muster holds the club's kit lists, which only people of the club see."
        if not login
        else "Your sign-in has run out."
    )
    st.button("Sign in", type="primary", on_click=st.login, key="sign-in")


def sign_out() -> None:
    """End every sign-in of whoever looks at this page, on every machine."""
    leaving = signed_in()
    if leaving is not None:
        club().people.sign_out(leaving.person_id)
    st.logout()


class Share(StrEnum):
    """How much of a member's kits others see."""

    NONE = "none"
    VERDICTS = "verdicts"  # with the names of kits, without what is in them or why
    FULL = "full"


@dataclass(frozen=True)
class Sight:
    """What one person sees of everyone's kits.

    Attributes
    ----------
    shares : how far kits are shared, by member; under "" the club's usual
    """

    me: Person
    shares: Mapping[str, str]

    @cached_property
    def drawn_as(self) -> Hashable:
        """What stands for it where something is drawn once: the same for all who see the same of every member."""
        if self.me.may(Action.SEE_KIT):
            return "everything"
        own = "" if self.me.role is Role.VIEWER else self.me.member
        return own, tuple(sorted(self.shares.items()))

    def of(self, member: str) -> Share:
        """How much they see of a member's kits."""
        if self.me.may(Action.SEE_KIT, member):
            return Share.FULL
        return Share(self.shares.get(member, self.shares[""]))

    def is_full(self, member: str | None) -> bool:
        """Whether they see everything about a member, or about what is nobody's."""
        return not member or self.of(member) is Share.FULL

    def reads(self, finding: Finding) -> bool:
        """Whether they see a finding; one on a post, an event or the club speaks of several members' kits."""
        if finding.member is None:
            return self.me.may(Action.SEE_KIT)
        return self.is_full(finding.member)

    def name(self, member: str) -> str:
        """A member as they may be named: not at all where nothing is shared."""
        return "a member" if self.of(member) is Share.NONE else member


def sight(me: Person) -> Sight:
    """What someone sees of everyone's kits, as it is shared now."""
    replay.refuse("what is shared")
    return Sight(me, club().shares())
