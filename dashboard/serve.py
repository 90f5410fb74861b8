"""The web server: the dashboard as an ASGI app, for this machine only, with safe headers on every answer."""

from __future__ import annotations

import base64
import gc
import hashlib
import importlib.metadata
import ipaddress
import re
import threading
import webbrowser
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import streamlit
import uvicorn
from starlette.datastructures import Headers, MutableHeaders
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from streamlit.web.server.starlette.starlette_app import App

from dashboard import standing

HERE = Path(__file__).parent
LOCAL_NAMES = ("localhost", "127.0.0.1", "[::1]")


def _inline_scripts() -> str:
    """Hashes of the scripts that the framework's own page carries inline, as a policy names them."""
    page = (Path(streamlit.__file__).parent / "static" / "index.html").read_bytes()
    scripts = re.findall(rb"<script>(.*?)</script>", page, re.DOTALL)
    return " ".join(f"'sha256-{base64.b64encode(hashlib.sha256(s).digest()).decode()}'" for s in scripts)


POLICY = "; ".join(
    (
        "default-src 'self'",
        f"script-src 'self' {_inline_scripts()}",
        "style-src 'self' 'unsafe-inline'",
        "img-src 'self' data: blob:",
        "font-src 'self' data:",
        "connect-src 'self'",
        "worker-src 'self' blob:",
        "object-src 'none'",
        "base-uri 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
}


class HostError(ValueError):
    """An address that other machines could reach; the message says what to write."""


class Guard:
    """Answers only to this machine's own names, and puts the security headers on every answer."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":  # the websocket's host is checked by server.allowedHosts
            await self.app(scope, receive, send)
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
            await send(message)

        host = Headers(scope=scope).get("host", "")
        if host.rpartition(":")[0] not in LOCAL_NAMES and host not in LOCAL_NAMES:
            refusal = PlainTextResponse("This dashboard answers only at localhost.\n", status_code=421)
            await refusal(scope, receive, send_guarded)
            return
        await self.app(scope, receive, send_guarded)


def prewarm() -> None:
    """Import what the first page would, work the club out, keep it all out of later garbage collections."""
    import altair  # noqa: F401
    import pyarrow.pandas_compat  # noqa: F401

    from dashboard import charts, parts  # noqa: F401

    standing.club().standing()
    gc.collect()
    gc.freeze()


async def _health(request: Request) -> JSONResponse:
    try:
        version, is_ok = standing.club().store.version(), True
    except Exception:  # whatever is wrong with the store, the answer is that it is not well
        version, is_ok = None, False
    body = {
        "version": importlib.metadata.version("kitmuster"),
        "store": "ok" if is_ok else "failed",
        "store_version": version,
    }
    return JSONResponse(body, status_code=200 if is_ok else 503)


def asgi(store_path: Path) -> App:
    """The dashboard over one store, which is opened here and closed when the app stops.

    Raises
    ------
    data.store.StoreError
        The store cannot be opened.
    """
    standing.open_club(store_path)

    @asynccontextmanager
    async def lifespan(app: App) -> AsyncIterator[dict[str, Any]]:
        try:
            prewarm()
            yield {}
        finally:
            standing.close_club()

    return App(
        HERE / "app.py",
        lifespan=lifespan,
        routes=[Route("/healthz", _health)],
        middleware=[Middleware(Guard)],
    )


def check_host(host: str) -> None:
    """Refuse an address that is not this machine's own.

    Raises
    ------
    HostError
        The host is not a loopback address.
    """
    try:
        is_local = host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        is_local = False
    if not is_local:
        raise HostError(
            f'host: "{host}" is not an address of this machine alone, and there is no sign-in yet. '
            "Write 127.0.0.1."
        )


def run(db: Path, host: str = "127.0.0.1", port: int = 8501, open_browser: bool = False) -> None:
    """Serve the dashboard until it is stopped.

    Raises
    ------
    HostError
        The host is not a loopback address.
    data.store.StoreError
        The store cannot be opened.
    """
    check_host(host)
    server = uvicorn.Server(
        uvicorn.Config(
            asgi(db),
            host=host,
            port=port,
            ws="websockets-sansio",
            timeout_graceful_shutdown=10,
            access_log=False,
            log_level="warning",
            server_header=False,
        )
    )
    if open_browser:
        name = f"[{host}]" if ":" in host else host
        threading.Thread(target=_open_when_up, args=(server, f"http://{name}:{port}/"), daemon=True).start()
    server.run()


def _open_when_up(server: uvicorn.Server, address: str) -> None:
    pause = threading.Event()
    while not server.started and not server.should_exit:
        pause.wait(0.05)
    if server.started:
        webbrowser.open(address)
