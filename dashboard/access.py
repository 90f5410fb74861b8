"""Who may do what. Every page, download, route and plan asks here before it shows or changes anything."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import streamlit as st


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

    def may(self, action: Action, member: str = "") -> bool:
        """Whether an action is theirs, on what belongs to a member if one is named."""
        is_own = bool(member) and member == self.member and self.role is not Role.VIEWER
        return self.role in BY_ROLE[action] or (is_own and action in OWN)


HERE = Person("coordinator", Role.COORDINATOR)  # whoever sits at the machine that serves only itself


def person() -> Person:
    """Who looks at this page; looked up on every run."""
    return HERE


def require(action: Action, member: str = "") -> Person:
    """Who looks at this page, if they may do this; else the page says so and ends."""
    asking = person()
    if not asking.may(action, member):
        st.warning(f"As {asking.role}, you may not {action}. Ask the coordinator.")
        st.stop()
    return asking
