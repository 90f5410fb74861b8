"""How often something may be done: enough for people, too little for a program that tries everything."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable, Hashable


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

    def is_reached(self, who: Hashable) -> bool:
        """Whether someone has to wait."""
        with self._lock:
            return len(self._recent(who)) >= self.times

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


ASKING = Opened(12 * 3_600)  # as long as a sign-in counts
CHOSEN = Limit(240, 3_600)  # files chosen on a page, put in force or not, by session
UPLOADS = Limit(120, 3_600)  # files put in force, by person, whichever way they come
TOO_MANY_FILES = (
    f"More than {UPLOADS.times} files within an hour. Nothing more was taken; send the rest later."
)
FAILED_TOKENS = Limit(20, 600)  # keys that do not count, by address of the caller
