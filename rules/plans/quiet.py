"""Keep what the solver prints off standard output, where a command's JSON may stand.

HiGHS 1.12 prints a line for each solution that it mends, whatever it is told about its log; the line comes from C, so
that only the descriptor can be turned away.
"""

from __future__ import annotations

import ctypes
import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

_LOCK = threading.Lock()
_KEPT: list[int] = []
"""The real standard output, once for each solver at work; the last to end puts it back."""


@contextmanager
def quiet() -> Iterator[None]:
    """Standard output goes nowhere until the block ends, in every thread."""
    with _LOCK:
        sys.stdout.flush()
        _KEPT.append(os.dup(1) if not _KEPT else os.dup(_KEPT[0]))
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.close(nowhere)
    try:
        yield
    finally:
        with _LOCK:
            ctypes.CDLL(None).fflush(None)
            kept = _KEPT.pop()
            if not _KEPT:
                os.dup2(kept, 1)
            os.close(kept)
