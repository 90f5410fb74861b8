"""The web server: the dashboard as an ASGI app, with safe headers on every answer.

Without a sign-in it serves this machine only.
"""

from __future__ import annotations

import base64
import gc
import hashlib
import importlib.metadata
import ipaddress
import re
import threading
import webbrowser
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import streamlit
import uvicorn
from starlette.datastructures import Headers, MutableHeaders
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse
from starlette.routing import Mount, Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from streamlit import config
from streamlit.web.server.starlette.starlette_app import App

from dashboard import folders, logs, sign_in, standing, websocket
from dashboard.api import api
from dashboard.operation import Door, Limits, Operation
from dashboard.sign_in import SignIn

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
    """Answers only to the dashboard's own names, and puts the security headers on every answer.

    Parameters
    ----------
    names : machines that browsers may ask for, as they write them
    is_encrypted : whether browsers come over https, so that cookies may travel no other way
    """

    def __init__(self, app: ASGIApp, names: Sequence[str] = LOCAL_NAMES, is_encrypted: bool = False) -> None:
        self.app, self.names, self.is_encrypted = app, names, is_encrypted

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":  # the websocket's host is checked by server.allowedHosts
            await self.app(scope, receive, send)
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                if self.is_encrypted:
                    headers["Strict-Transport-Security"] = "max-age=31536000"
                    message["headers"] = [_sealed(*header) for header in message["headers"]]
            await send(message)

        host = Headers(scope=scope).get("host", "").lower()
        if host.rpartition(":")[0] not in self.names and host not in self.names:
            said = f"This dashboard answers only at {self.names[0]}.\n"
            refusal = PlainTextResponse(said, status_code=421)
            await refusal(scope, receive, send_guarded)
            return
        await self.app(scope, receive, send_guarded)


def _sealed(name: bytes, value: bytes) -> tuple[bytes, bytes]:
    """A header of an answer; one that sets a cookie lets it travel only encrypted."""
    is_open = name.lower() == b"set-cookie" and b"; secure" not in value.lower()
    return name, value + b"; Secure" if is_open else value


def prewarm() -> None:
    """Import what the first page would, work the club out, keep it all out of later garbage collections."""
    import altair  # noqa: F401
    import pyarrow.pandas_compat  # noqa: F401

    from dashboard import charts, parts  # noqa: F401

    try:
        standing.club().standing()
    except Exception as error:  # files that mend a club that cannot be judged must find a server
        logs.failed("judging failed", error)
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


async def _season(request: Request) -> RedirectResponse:
    """To the season, which is the first page and so stands at the root, with all that was asked of it."""
    query = request.url.query
    return RedirectResponse(f"/?{query}" if query else "/", 302)


def asgi(store_path: Path, club: SignIn | None = None, operation: Operation | None = None) -> App:
    """The dashboard over one store, which is opened here and closed when the app stops.

    Parameters
    ----------
    club : how people sign in; without it whoever sits at this machine is the coordinator
    operation : what the server does besides showing pages

    Raises
    ------
    data.database.StoreError
        The store cannot be opened.
    dashboard.sign_in.SignInError
        The secret of the cookies cannot be used.
    """
    operation = operation or Operation()
    names, auth = (*LOCAL_NAMES,), {}
    if club is not None:
        secret = sign_in.cookie_secret(store_path)
        names, auth = (club.host, *LOCAL_NAMES), {"auth": club.auth(secret)}
    standing.open_club(store_path, has_sign_in=club is not None)

    @asynccontextmanager
    async def lifespan(app: App) -> AsyncIterator[dict[str, Any]]:
        try:
            prewarm()
            async with operation.running(store_path):
                yield {}
        finally:
            standing.close_club()

    app = App(
        HERE / "app.py",
        lifespan=lifespan,
        routes=[
            Route("/healthz", _health),
            Route("/season", _season),
            *operation.routes(),
            Mount("/api", api()),
        ],
        middleware=[
            operation.watch(),
            Middleware(Guard, names=names, is_encrypted=club is not None and club.is_encrypted),
            Middleware(Limits),
            Middleware(Door),
        ],
        on_script_error=operation.trouble(),
        secrets=auth,
    )
    config.set_option("server.allowedHosts", list(names))
    if club is not None:
        config.set_option("server.cookieSecret", secret)  # seals the cookie of a sign-in under way, too
    return app


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
            f'host: "{host}" is not an address of this machine alone, and nobody would have to sign in. '
            "Write 127.0.0.1, or say with --club how people sign in."
        )


def run(
    db: Path,
    host: str = "127.0.0.1",
    port: int = 8501,
    open_browser: bool = False,
    club: SignIn | None = None,
    metrics_token: str = "",
    is_chatty: bool = False,
) -> None:
    """Serve the dashboard until it is stopped.

    Parameters
    ----------
    club : how people sign in; without it whoever sits at this machine is the coordinator
    metrics_token : what a program must carry that reads the counts; without it nobody reads them
    is_chatty : write down every event, not only what went wrong

    Raises
    ------
    HostError
        The host is not a loopback address, and nobody has to sign in.
    data.database.StoreError
        The store cannot be opened.
    dashboard.sign_in.SignInError
        The secret of the cookies cannot be used.
    """
    if club is None:
        check_host(host)
    logs.begin(is_chatty)
    folders.keep_private()
    near = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)
    address = f"http://{f'[{near}]' if ':' in near else near}:{port}"
    server = uvicorn.Server(
        uvicorn.Config(
            asgi(db, club, Operation(address, metrics_token)),
            host=host,
            port=port,
            ws=websocket.Protocol,
            timeout_graceful_shutdown=10,
            access_log=False,
            log_config=None,
            log_level="warning",
            server_header=False,
        )
    )
    if open_browser:
        threading.Thread(target=_open_when_up, args=(server, f"{address}/"), daemon=True).start()
    server.run()


def _open_when_up(server: uvicorn.Server, address: str) -> None:
    pause = threading.Event()
    while not server.started and not server.should_exit:
        pause.wait(0.05)
    if server.started:
        webbrowser.open(address)
