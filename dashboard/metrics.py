"""What the running dashboard counts: requests, failures, and how the store and its backups stand.

Labels are a short fixed list of words, so that nothing that people wrote or asked for becomes a name here.
"""

from __future__ import annotations

import time
from pathlib import Path

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram
from prometheus_client.openmetrics.exposition import CONTENT_TYPE_LATEST, generate_latest

from dashboard import standing
from data import backup

CONTENT_TYPE = CONTENT_TYPE_LATEST
PARTS = ("_stcore", "api", "app", "control", "healthz", "media", "metrics", "readyz", "static")
METHODS = ("DELETE", "GET", "HEAD", "OPTIONS", "PATCH", "POST", "PUT")


class Metrics:
    """The counts of one server."""

    def __init__(self) -> None:
        self._registry = CollectorRegistry()
        self._requests = Counter(
            "kitmuster_requests", "Requests answered.", ("method", "part", "status"), registry=self._registry
        )
        self._seconds = Histogram(
            "kitmuster_request_seconds",
            "Time from request to the end of its answer.",
            ("part",),
            unit="seconds",
            registry=self._registry,
        )
        self._failures = Counter(
            "kitmuster_failures", "Pages and requests that failed.", ("where",), registry=self._registry
        )
        gauges = {
            "kitmuster_store_version": ("Changes accepted so far.", _version),
            "kitmuster_backups": ("Copies of the database kept.", lambda: len(_copies())),
            "kitmuster_newest_backup_age_seconds": ("Age of the newest copy; NaN without one.", _age),
        }
        for name, (says, told) in gauges.items():
            Gauge(name, says, registry=self._registry).set_function(told)

    def answered(self, method: str, path: str, status: int, seconds: float) -> None:
        """Count one answer."""
        part = part_of(path)
        method = method if method in METHODS else "other"
        self._requests.labels(method, part, f"{status // 100}xx").inc()
        self._seconds.labels(part).observe(seconds)

    def failed(self, where: str) -> None:
        """Count one failure of a page or a request."""
        self._failures.labels(where).inc()

    def text(self) -> bytes:
        """Everything in the text form of OpenMetrics."""
        return generate_latest(self._registry)


def part_of(path: str) -> str:
    """Which part of the dashboard a path belongs to; `page` for all others."""
    first = path.lstrip("/").partition("/")[0]
    return first if first in PARTS else "page"


def _version() -> float:
    try:
        return standing.club().store.version()
    except Exception:  # a store that does not answer is no reason to lose every other number
        return float("nan")


def _copies() -> list[Path]:
    path = standing.club().store.path
    return backup.listed(path) if path else []


def _age() -> float:
    copies = _copies()
    return time.time() - copies[-1].stat().st_mtime if copies else float("nan")
