"""What the server writes down: one JSON line for each event, without secrets, gear or names.

A line of ours holds only what its caller chose to tell. Of what other libraries log, and of every error, the
place in the code and the kind of error are kept, never the words: those may hold a cell, a path or a token.
"""

from __future__ import annotations

import json
import logging
import traceback
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

OURS = "kitmuster"
TRUSTED = (OURS, "uvicorn")
_log = logging.getLogger(OURS)


class JsonLines(logging.Formatter):
    """A record as one line of JSON: time (UTC), level, logger, event, and what was told besides."""

    def format(self, record: logging.LogRecord) -> str:
        """The line."""
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
        }
        is_trusted = record.name.split(".")[0] in TRUSTED
        line["event"] = record.getMessage() if is_trusted else f"{record.filename}:{record.lineno}"
        line |= getattr(record, "told", {})
        if record.exc_info and record.exc_info[1]:
            line |= _error(record.exc_info[1])
        return json.dumps(line, ensure_ascii=False, default=str)


def _error(error: BaseException) -> dict[str, Any]:
    frames = traceback.extract_tb(error.__traceback__)
    return {
        "error": type(error).__name__,
        "at": [f"{Path(frame.filename).name}:{frame.lineno} {frame.name}" for frame in frames[-8:]],
    }


def event(name: str, **told: object) -> None:
    """Write down that something happened. What is told must be free of what people wrote."""
    _log.info(name, extra={"told": told})


def failed(name: str, error: BaseException, **told: object) -> None:
    """Write down that something failed, and where."""
    _log.error(name, exc_info=error, extra={"told": told})


def begin(is_chatty: bool) -> None:
    """Write JSON lines on standard error: every event, or only warnings and errors."""
    handler = logging.StreamHandler()
    handler.setFormatter(JsonLines())
    logging.basicConfig(level=logging.WARNING, handlers=[handler], force=True)
    _log.setLevel(logging.INFO if is_chatty else logging.WARNING)
    take_over()


def take_over() -> None:
    """Give every handler that a library has made for itself the same form."""
    for name in list(logging.root.manager.loggerDict):
        for handler in logging.getLogger(name).handlers:
            handler.setFormatter(JsonLines())
