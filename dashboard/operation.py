"""Running the dashboard for months: readiness, counts, log, limits, a copy of the database every day."""

from __future__ import annotations

import asyncio
import secrets
import shutil
import time
from collections import defaultdict, deque
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dashboard import control, limits, logs, standing
from dashboard.metrics import CONTENT_TYPE, Metrics, part_of
from dashboard.trouble import Trouble
from data import backup
from data.database import StoreError

ROOM = 100 << 20  # bytes that must be free on the disk for the dashboard to call itself ready
WRITES = 300  # requests that change something, of one client in one minute
MINUTE_S = 60.0
CLIENTS = 10_000  # clients that are remembered at once
DAY_S = 24 * 3600.0
SETTLE_S = 60.0  # a server that is started over and over makes no copies
SHUT = ("/_stcore/metrics", "/_stcore/agent")
FILES = "/_stcore/upload_file/"
LONGEST_BODY = 6 << 20  # bytes; the largest upload, and what surrounds it
PATIENCE_S = 10.0  # how long the rest of a body that is not wanted may take


@dataclass
class Operation:
    """What a server does besides showing pages.

    Attributes
    ----------
    address : where commands on this machine reach the server; "" where they cannot
    metrics_token : what a program must carry that reads the counts; "" where nobody may
    """

    address: str = ""
    metrics_token: str = ""
    metrics: Metrics = field(default_factory=Metrics)
    _secret: str = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)

    def routes(self) -> list[Route]:
        """Addresses for programs."""
        return [Route("/readyz", _ready), Route("/metrics", self._counts), *control.routes(self._secret)]

    def trouble(self) -> Trouble:
        """What shows and writes down that a page broke."""
        return Trouble(self.metrics)

    def watch(self) -> Middleware:
        """Counts and writes down every answer; stands before everything else."""
        return Middleware(Watch, metrics=self.metrics)

    @asynccontextmanager
    async def running(self, db: Path) -> AsyncIterator[None]:
        """Keep the control file there and make copies while the server runs."""
        logs.take_over()
        copying = asyncio.create_task(_copy_daily())
        logs.event("started")
        try:
            if self.address:
                with control.announced(db, self.address, self._secret):
                    yield
            else:
                yield
        finally:
            limits.PLANS.send_away()
            copying.cancel()
            with suppress(asyncio.CancelledError):
                await copying
            logs.event("stopped")

    async def _counts(self, request: Request) -> Response:
        if not self.metrics_token:
            return PlainTextResponse("Not found.\n", 404)
        if not control.is_bearer(request, self.metrics_token):
            return PlainTextResponse("This is for a program that carries the token.\n", 401)
        text = await run_in_threadpool(self.metrics.text)
        return Response(text, media_type=CONTENT_TYPE)


class Watch:
    """Counts every answer and writes down which part answered how, in what time; never what was asked for."""

    def __init__(self, app: ASGIApp, metrics: Metrics) -> None:
        self.app, self.metrics = app, metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        status, began = 500, time.perf_counter()

        async def send_watched(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self.app(scope, receive, send_watched)
        except Exception as error:
            self.metrics.failed("request")
            logs.failed("request failed", error, part=part_of(scope["path"]))
            raise
        finally:
            seconds = time.perf_counter() - began
            self.metrics.answered(scope["method"], scope["path"], status, seconds)
            logs.event(
                "answered",
                method=scope["method"],
                part=part_of(scope["path"]),
                status=status,
                ms=round(seconds * 1000, 1),
            )


class Door:
    """Shuts what the framework would answer to anyone: its own counts, and a place for files in its memory.

    A file is let in only where a page asks for it (`limits.ASKING`), and pages ask only people of the club.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        path = scope.get("path", "")
        if scope["type"] == "http" and path.startswith(SHUT):
            await PlainTextResponse("Not found.\n", 404)(scope, receive, send)
        elif scope["type"] == "http" and path.startswith(FILES) and scope["method"] != "OPTIONS":
            session = path.removeprefix(FILES).partition("/")[0]
            if not limits.ASKING.is_open(session):
                await PlainTextResponse("No page asks for this file.\n", 403)(scope, receive, send)
            elif scope["method"] == "PUT" and not limits.CHOSEN.take(session):
                await PlainTextResponse("Too many files. Send the rest later.\n", 429)(scope, receive, send)
            else:
                await self.app(scope, receive, send)
        else:
            await self.app(scope, receive, send)


class Limits:
    """Turns away bodies that are too long, and clients that send too much in a minute."""

    def __init__(self, app: ASGIApp, writes: int = WRITES) -> None:
        self.app, self.writes = app, writes
        self._sent: dict[str, deque[float]] = defaultdict(deque)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] in ("GET", "HEAD", "OPTIONS"):
            await self.app(scope, receive, send)
            return
        request, body = Request(scope), Body(receive)
        send = body.read_before(send)
        client = request.client.host if request.client else ""
        length = request.headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > LONGEST_BODY:
            too_long = (
                f"At most {LONGEST_BODY >> 20} MB can be sent at once. Send the rows in several files.\n"
            )
            await PlainTextResponse(too_long, 413)(scope, body.receive, send)
        elif not self._may(client, time.monotonic()):
            too_many = PlainTextResponse("Too much was sent in one minute. Wait, and send it again.\n", 429)
            too_many.headers["Retry-After"] = str(round(MINUTE_S))
            await too_many(scope, body.receive, send)
        else:
            await self.app(scope, body.receive, send)

    def _may(self, client: str, now: float) -> bool:
        if len(self._sent) > CLIENTS:
            self._sent.clear()
        sent = self._sent[client]
        while sent and now - sent[0] > MINUTE_S:
            sent.popleft()
        if len(sent) >= self.writes:
            return False
        sent.append(now)
        return True


class Body:
    """A body as it comes, broken off where it is longer than it may be, whatever its header said."""

    def __init__(self, receive: Receive) -> None:
        self._receive = receive
        self._length, self._is_read = 0, False

    async def receive(self) -> Message:
        """What comes next."""
        message = await self._receive()
        self._length += len(message.get("body", b""))
        self._is_read |= message["type"] != "http.request" or not message.get("more_body", False)
        if self._length > LONGEST_BODY:
            self._is_read = True
            return {"type": "http.disconnect"}
        return message

    def read_before(self, send: Send) -> Send:
        """What sends an answer once the rest of the body has been read, as far as it may be long.

        Whoever is answered while still sending, as a proxy in front, may see a broken connection and no answer.
        """

        async def send_after(message: Message) -> None:
            if message["type"] == "http.response.start":
                with suppress(TimeoutError):
                    async with asyncio.timeout(PATIENCE_S):
                        while not self._is_read:
                            await self.receive()
            await send(message)

        return send_after


async def _ready(request: Request) -> JSONResponse:
    """Whether lists can be taken in now: the store answers, and the disk has room."""
    store, disk = "ok", "ok"
    try:
        held = standing.club().store
        await run_in_threadpool(held.version)
        if held.path and shutil.disk_usage(held.path.parent).free < ROOM:
            disk = "full"
    except Exception:  # whatever is wrong with the store, the answer is that it is not ready
        store = "failed"
    is_ready = (store, disk) == ("ok", "ok")
    return JSONResponse({"ready": is_ready, "store": store, "disk": disk}, 200 if is_ready else 503)


async def _copy_daily() -> None:
    pause = SETTLE_S
    while True:
        await asyncio.sleep(pause)
        pause = DAY_S
        try:
            if await run_in_threadpool(_is_due):
                copy = await run_in_threadpool(backup.make, standing.club().store)
                logs.event("backup made", bytes=copy.stat().st_size)
        except (StoreError, OSError) as error:
            logs.failed("backup failed", error)
            pause = 3600.0


def _is_due() -> bool:
    """Whether there is no copy of the last day; one from the future, where the clock jumped, does not count."""
    path = standing.club().store.path
    if path is None:
        return False
    copies = backup.listed(path)
    return not copies or not 0 <= time.time() - copies[-1].stat().st_mtime < DAY_S - SETTLE_S
