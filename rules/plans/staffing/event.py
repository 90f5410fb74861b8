"""One event as an assessment tells it: its posts, the members, their kits, and when what is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any

import pandas as pd

from data.clocks import MINUTE, Clocks
from rules.engine import Assessment
from rules.facts.posts import CARRIED


@dataclass
class Event:
    """What an assessment tells of one event, in the order of the roster's numbers.

    `post_at`, `member_at` and `kit_at` are the numbers, by name (of a kit with its member's) and by id.
    """

    name: str
    zero: datetime
    posts: pd.DataFrame
    members: pd.DataFrame
    kits: pd.DataFrame
    place: pd.Series
    is_carried: list[bool]
    """By post, whether what is brought there is carried."""
    leave: list[tuple[int, int, datetime, datetime]] = field(default_factory=list)
    """What the loan book lends to others: places of the kit and the member, from when until when."""

    def __post_init__(self) -> None:
        self.post_at = _places(self.posts["post"], self.posts["post_id"])
        self.member_at = _places(self.members["member"], self.members["member_id"])
        self.kit_at = _places(zip(self.kits["member"], self.kits["kit"], strict=True), self.kits["kit_id"])

    def has_leave(self, kit: int, member: int, start: datetime, end: datetime) -> bool:
        """Whether a kit is lent to a member by the loan book for all of a time."""
        return any(
            (lent, borrower) == (kit, member) and out <= start and end < due
            for lent, borrower, out, due in self.leave
        )

    @cached_property
    def clocks(self) -> Clocks:
        change = self.place["clocks_change"]
        return Clocks(
            int(self.place["clock_min"]),
            None if pd.isna(change) else change.to_pydatetime(),
            int(self.place["clock_after_min"]),
        )

    def minute(self, at: datetime) -> int:
        """Minutes from the first opening to a local time, as they pass where clocks change."""
        return self.minute_utc(self.clocks.utc(at))

    def minute_utc(self, at: datetime) -> int:
        """The same to a moment of UTC."""
        return round((at - self.clocks.utc(self.zero)) / MINUTE)

    def moment(self, minute: int) -> datetime:
        """The local time so many minutes after the first opening."""
        return self.clocks.local(self.clocks.utc(self.zero) + minute * MINUTE)


def _places(*called: Iterable[Any]) -> dict[Any, int]:
    """The place of each of some things, by each thing that it is called."""
    return {name: place for names in called for place, name in enumerate(names)}


class NoSuchEventError(ValueError):
    """An event that no file names, or that has no posts; the message says what to write."""


def read_event(assessment: Assessment, event: str) -> Event:
    known = [name for (name,) in assessment.tuples("select event from event order by event")]
    if event not in known:
        raise NoSuchEventError(
            f'"{event}" is not an event. Write one of: {", ".join(known)}.'
            if known
            else f'"{event}" is not an event: none is listed. Send events.csv and posts.csv.'
        )
    posts = assessment.frame("from post where event = ? order by post_id", [event])
    if posts.empty:
        raise NoSuchEventError(f'"{event}" has no posts. Add them to posts.csv.')
    carried = assessment.tuples(
        f"select {CARRIED.format('post')} from post where event = ? order by post_id", [event]
    )
    members = assessment.frame("from member order by member_id")
    kits = assessment.frame("from kit order by kit_id")
    place = assessment.frame("from event where event = ?", [event]).iloc[0]
    zero = posts["opens"].min().to_pydatetime()
    here = Event(event, zero, posts, members, kits, place, [is_carried for (is_carried,) in carried])
    here.leave = [
        (here.kit_at[kit], here.member_at[borrower], out, due)
        for kit, borrower, out, due in assessment.tuples(
            "select kit_id, borrower, out::timestamp, due::timestamp + interval 1 day from leave order by all"
        )
        if borrower in here.member_at
    ]
    return here
