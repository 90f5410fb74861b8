"""How often something may be done: enough for people, too little for a program that tries everything."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable, Hashable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass


class Limit:
    """At most so many times within so many seconds, for each of those who ask.

    Parameters
    ----------
    times : how often
    seconds : within how long
    clock : seconds that only grow
    """

    def __init__(self, times: int, seconds: float, clock: Callable[[], float] = time.monotonic) -> None:
        self.times, self.seconds = times, seconds
        self._clock = clock
        self._lock = threading.Lock()
        self._done: dict[Hashable, deque[float]] = {}

    def take(self, who: Hashable, times: int = 1) -> bool:
        """Count so many times more, all of them or none; whether they were still allowed."""
        with self._lock:
            recent = self._recent(who)
            if len(recent) + times > self.times:
                return False
            if times:
                self._done[who] = recent
                recent.extend([self._clock()] * times)
            return True

    def _recent(self, who: Hashable) -> deque[float]:
        since = self._clock() - self.seconds
        for other in [name for name, done in self._done.items() if done[-1] <= since]:
            del self._done[other]
        recent = self._done.get(who, deque())
        while recent and recent[0] <= since:
            recent.popleft()
        return recent


class Opened:
    """Sessions of the browser whose page asks for files now.

    Parameters
    ----------
    seconds : how long a session that is not seen again is remembered
    clock : seconds that only grow
    """

    def __init__(self, seconds: float, clock: Callable[[], float] = time.monotonic) -> None:
        self.seconds = seconds
        self._clock = clock
        self._lock = threading.Lock()
        self._seen: dict[str, float] = {}

    def open(self, session: str) -> None:
        """Remember a session whose page asks for files."""
        with self._lock:
            now = self._clock()
            self._seen = {known: at for known, at in self._seen.items() if now - at < self.seconds}
            self._seen[session] = now

    def is_open(self, session: str) -> bool:
        """Whether a session's page asks for files."""
        with self._lock:
            return self._clock() - self._seen.get(session, -self.seconds) < self.seconds


Look = Callable[[], object]
LOOK_S = 1.0
"""Seconds after which it is looked again whether whoever waits is still there."""


def _unseen() -> None:
    """Where nobody can tell whether whoever waits has left."""


class BusyError(Exception):
    """Too much heavy work is asked for already; the message says so."""


class Turns:
    """At most so much heavy work at once: one piece for each person, the rest in the order in which it was asked for.

    Whoever has a turn may wait for nobody who still waits for one.

    Parameters
    ----------
    at_once : pieces of work
    own : pieces of one person that may wait
    waiting : pieces of all that may wait
    """

    def __init__(self, at_once: int, own: int, waiting: int) -> None:
        self.at_once, self.own, self.waiting = at_once, own, waiting
        self._changed = threading.Condition()
        self._queue: list[_Place] = []
        self._at_work: list[Hashable] = []

    @contextmanager
    def turn(
        self,
        who: Hashable,
        meanwhile: Callable[[], AbstractContextManager[Look]] = lambda: nullcontext(_unseen),
    ) -> Iterator[None]:
        """Have a turn; `meanwhile` surrounds the time that passes until it comes.

        What it gives is called every `LOOK_S` until then, and raises where whoever waits has left.

        Raises
        ------
        BusyError
            Too many wait already.
        """
        self._wait(who, meanwhile)
        try:
            yield
        finally:
            with self._changed:
                self._at_work.remove(who)
                self._changed.notify_all()

    def _wait(self, who: Hashable, meanwhile: Callable[[], AbstractContextManager[Look]]) -> None:
        place = _Place(who)
        with self._changed:
            self._queue.append(place)
            if self._is_next(place):
                self._begin(place)
                return
            own = sum(place.who == who for place in self._queue)
            if own > self.own or len(self._queue) > self.waiting:
                self._queue.remove(place)
                raise BusyError(BUSY)
        try:
            with meanwhile() as look:
                while not self._has_begun(place):
                    look()
        except BaseException:  # whoever waited has left
            with self._changed:
                if place in self._queue:
                    self._queue.remove(place)
                elif not place.is_sent_away:
                    self._at_work.remove(who)
                self._changed.notify_all()
            raise

    def _has_begun(self, place: _Place) -> bool:
        """Wait for a turn no longer than until it is time to look; whether it came."""
        with self._changed:
            if not self._changed.wait_for(lambda: place.is_sent_away or self._is_next(place), LOOK_S):
                return False
            if place.is_sent_away:
                raise BusyError(BUSY)
            self._begin(place)
            return True

    def send_away(self) -> None:
        """Let nobody wait any longer, as where the server stops."""
        with self._changed:
            for place in self._queue:
                place.is_sent_away = True
            self._queue.clear()
            self._changed.notify_all()

    def _is_next(self, place: _Place) -> bool:
        """Whether a place is the first of those whose person has nothing at work."""
        free = (other for other in self._queue if other.who not in self._at_work)
        return len(self._at_work) < self.at_once and next(free, None) is place

    def _begin(self, place: _Place) -> None:
        self._queue.remove(place)
        self._at_work.append(place.who)
        self._changed.notify_all()


@dataclass(eq=False)
class _Place:
    """A place in a queue."""

    who: Hashable
    is_sent_away: bool = False


ASKING = Opened(12 * 3_600)  # as long as a sign-in counts
CHOSEN = Limit(
    240, 3_600
)  # files to be read, put in force or not, by session of a page or person of a program
TOO_MANY_READ = f"More than {CHOSEN.times} files within an hour. Nothing was read; send the rest later."
UPLOADS = Limit(120, 3_600)  # files put in force, by person, whichever way they come
TOO_MANY_FILES = (
    f"More than {UPLOADS.times} files within an hour. Nothing more was taken; send the rest later."
)
FAILED_TOKENS = Limit(20, 600)  # keys that do not count, by address of the caller
BUSY = "Too many plans are being worked out already. Ask for this one again in a minute."
PLANS = Turns(at_once=2, own=2, waiting=10)  # plans, which take seconds
