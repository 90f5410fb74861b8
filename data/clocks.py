"""Local times of events by one clock, UTC: by the time zone that an event tells, else by its hours from UTC."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from functools import cache, lru_cache
from importlib import resources
from itertools import pairwise
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import pandas as pd
import pyarrow as pa

from data.column_values import plain

# Area and city; names of fixed hours have their sign the other way round.
NAME = re.compile(r"(?!Etc/)[A-Z][A-Za-z]{1,20}(/[A-Za-z0-9_+-]{1,30}){1,2}")
AROUND = timedelta(days=2)
"""A post opens less than a day before its event, and people come less than one before that."""
STEP, STEPS = timedelta(days=14), 60
"""No clocks change twice within a step; in two years every zone shows how often it does."""
MINUTE = timedelta(minutes=1)
LOCAL = pa.timestamp("us")
EXAMPLE = "America/Denver"
MOMENTS = ("starts", "ends", "action_starts")
"""Local times of an event."""


class Wrong(NamedTuple):
    """A cell that does not go with the time zone: its column, its value, what is wrong with it, what to write."""

    column: str
    value: str
    problem: str
    fix: str


class Clocks(NamedTuple):
    """How far the clocks of an event are ahead of UTC.

    Attributes
    ----------
    before_min, after_min : minutes ahead until they change, and from then on
    change : local time from which the second counts, the end of the hour that they skip or show twice; None: they do not change
    """

    before_min: int
    change: datetime | None
    after_min: int

    def ahead(self, local: datetime) -> int:
        """Minutes ahead at a local time; one that comes twice is the first."""
        return self.after_min if self.change is not None and local >= self.change else self.before_min

    def utc(self, local: datetime) -> datetime:
        """A local time by UTC; one that is left out is when they change, as in the macro utc_of of tables.sql."""
        utc = local - self.ahead(local) * MINUTE
        return utc if self.change is None or local >= self.change else min(utc, self.change - self._most)

    def local(self, utc: datetime) -> datetime:
        """The local time of a moment of UTC."""
        is_after = self.change is not None and utc + self._most >= self.change
        return utc + (self.after_min if is_after else self.before_min) * MINUTE

    @property
    def _most(self) -> timedelta:
        return max(self.before_min, self.after_min) * MINUTE


@cache
def known() -> dict[str, str]:
    """Time zones by what people write for them: area and city in small letters, or the city alone."""
    listed = resources.files("tzdata").joinpath("zones").read_text("utf-8").split()
    zones = sorted(zone for zone in listed if NAME.fullmatch(zone))
    return {zone.casefold().rpartition("/")[2]: zone for zone in reversed(zones)} | {
        zone.casefold(): zone for zone in zones
    }


def is_known(zone: str) -> bool:
    """Whether a time zone has this name."""
    return known().get(zone.casefold()) == zone


def _ahead(zone: ZoneInfo, utc: datetime) -> int:
    """Minutes by which clocks of a zone are ahead at a moment of UTC."""
    offset = utc.replace(tzinfo=UTC).astimezone(zone).utcoffset()
    assert offset is not None
    return round(offset / MINUTE)


@lru_cache(1024)
def of_zone(name: str, starts: datetime, ends: datetime) -> Clocks:
    """The clocks of a time zone in the days around an event."""
    zone, first, last = ZoneInfo(name), starts.replace(second=0, microsecond=0) - AROUND, ends + AROUND
    before, after = _ahead(zone, first), _ahead(zone, last)
    if before == after:
        return Clocks(before, None, before)
    minutes = range((last - first) // MINUTE)
    at = bisect_left(minutes, True, key=lambda minute: _ahead(zone, first + minute * MINUTE) != before)
    turned = first + at * MINUTE
    return Clocks(before, turned + max(before, after) * MINUTE, after)


def changes(name: str, starts: datetime, ends: datetime) -> int:
    """How often clocks of a zone change in the days around an event, as far as its first two years tell."""
    zone, last = ZoneInfo(name), ends + AROUND
    steps = min((last - starts + AROUND) // STEP, STEPS)
    at = [*(starts - AROUND + step * STEP for step in range(steps + 1)), last]
    return sum(one != other for one, other in pairwise(_ahead(zone, moment) for moment in at))


def shown(name: str, local: datetime) -> datetime:
    """A local time as clocks of a zone show it: another where they are set forward over it."""
    zone = ZoneInfo(name)
    return local.replace(tzinfo=zone).astimezone(UTC).astimezone(zone).replace(tzinfo=None)


def is_twice(name: str, local: datetime) -> bool:
    """Whether clocks of a zone show a time twice, as they are set back over it."""
    zone = ZoneInfo(name)
    first, second = (local.replace(tzinfo=zone, fold=fold).utcoffset() for fold in (0, 1))
    return first != second and shown(name, local) == local


def wrong(zone: str, offset_h: float | None, moments: Mapping[str, datetime | None]) -> Iterator[Wrong]:
    """What does not go with the time zone of an event: its name, the hours from UTC, times that its clocks do not show."""
    if not is_known(zone):
        meant = known().get("_".join(zone.split()).casefold())
        instead = meant or f"area and city, for example {EXAMPLE}, or leave the cell empty"
        yield Wrong("time_zone", zone, "not a time zone", f"Write {instead}.")
        return
    for name, local in moments.items():
        yield from left_out(zone, name, local)
    starts, ends = moments["starts"], moments["ends"]
    if starts is None or ends is None or starts >= ends:
        return
    if changes(zone, starts, ends) > 1:
        problem = f"after clocks of {zone} have changed more than once"
        yield Wrong("ends", written(ends), problem, "Write it as several events, or leave time_zone empty.")
        return
    ahead_h = of_zone(zone, starts, ends).ahead(starts) / 60
    if offset_h is not None and offset_h != ahead_h:
        problem = f"not what clocks of {zone} are from UTC then, {ahead_h:g} h"
        fix = f"Write {ahead_h:g}, or clear one of the two cells."
        yield Wrong("utc_offset_h", f"{offset_h:g}", problem, fix)


def left_out(zone: str, column: str, local: datetime | None) -> Iterator[Wrong]:
    """A time that clocks of a zone leave out."""
    if local is not None and (later := shown(zone, local)) != local:
        problem = f"a time that clocks of {zone} leave out, as they are set forward"
        yield Wrong(column, written(local), problem, f"Write {written(later)}, or the time that is meant.")


def written(local: datetime) -> str:
    """A local time as files write it."""
    return f"{local:%Y-%m-%dT%H:%M}"


def at_start_h(zone: str | None, offset_h: float, starts: datetime | None) -> float:
    """Hours from UTC with which an event starts, by its time zone, else as told (NaN where they are not)."""
    if zone is None or starts is None or not is_known(zone):
        return offset_h
    return of_zone(zone, starts, starts).ahead(starts) / 60


def told(zone: str | None, offset_h: float | None, starts: datetime, ends: datetime) -> Clocks | None:
    """The clocks of an event by its time zone, else by its hours from UTC; None where it tells neither."""
    if zone is not None and is_known(zone):
        return of_zone(zone, starts, ends)
    ahead = None if offset_h is None else round(60 * offset_h)
    return None if ahead is None else Clocks(ahead, None, ahead)


def of_row(event: Mapping[str, Any] | pd.Series[Any], until: datetime | None = None) -> Clocks:
    """The clocks by which the hours of an event are counted, a row of its typed frame; without a time zone they never change.

    Parameters
    ----------
    until : a local time after its end up to which they are asked for
    """
    zone, ends = event["time_zone"], event["ends"].to_pydatetime()
    last = ends if until is None else max(ends, until)
    clock = None if pd.isna(zone) else told(zone, None, event["starts"].to_pydatetime(), last)
    return clock or Clocks(0, None, 0)


def with_clocks(events: pa.Table) -> pa.Table:
    """Events with their clocks (clock_min, clocks_change, clock_after_min), and utc_offset_h with which they start.

    One that tells neither a time zone nor hours from UTC is taken to have the clocks with which the event nearest in time that
    does starts; its utc_offset_h stays open.
    """
    zones, offsets, starts, ends = (
        plain(events[name].combine_chunks()) for name in ("time_zone", "utc_offset_h", "starts", "ends")
    )
    begin, end = (moments.cast(LOCAL).to_pylist() for moments in (starts, ends))
    each = list(map(told, zones.to_pylist(), offsets.to_pylist(), begin, end))
    ahead = [clock and clock.ahead(first) for clock, first in zip(each, begin, strict=True)]
    sure = sorted((first, here) for first, here in zip(begin, ahead, strict=True) if here is not None)
    for place, first in enumerate(begin):
        if each[place] is None:
            at = bisect_left(sure, (first,))
            near = sure[max(at - 1, 0) : at + 1] or [(first, 0)]
            _, here = min(near, key=lambda other: abs(other[0] - first))
            each[place] = Clocks(here, None, here)
    before, change, after = zip(*each, strict=True) if each else ((), (), ())
    columns = {
        "utc_offset_h": pa.array([None if here is None else here / 60 for here in ahead], pa.float64()),
        "clock_min": pa.array(before, pa.int32()),
        "clocks_change": pa.array(change, LOCAL),
        "clock_after_min": pa.array(after, pa.int32()),
    }
    rest = events.drop_columns(["utc_offset_h"])
    return pa.table({**dict(zip(rest.column_names, rest.columns, strict=True)), **columns})
