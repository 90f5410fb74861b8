"""The commands that open the dashboard: of the club, and of an invented one."""

from __future__ import annotations

import contextlib
import signal
import socket
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard import folders, say, score_commands
from dashboard.options import AsJson

if TYPE_CHECKING:
    from dashboard.sign_in import SignIn

Port = Annotated[int, typer.Option(min=1, max=65535, help="Port to listen on.")]
Browser = Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page in a browser.")]


def serve(
    db: Annotated[
        Path | None, typer.Option(metavar="PATH", help="The club's database; made if not there.")
    ] = None,
    host: Annotated[str, typer.Option(help="Address of this machine to listen on.")] = "127.0.0.1",
    port: Port = 8501,
    browser: Browser = False,
    club: Annotated[
        Path | None, typer.Option(metavar="FILE", help="How people sign in (TOML); else only this machine.")
    ] = None,
    metrics_token: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Holds what a program must carry to read /metrics.")
    ] = None,
    is_chatty: Annotated[
        bool, typer.Option("--log", help="Write a JSON line on standard error for each request and event.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Serve the club's dashboard until it is stopped."""
    from dashboard import sign_in
    from data.backup import opened
    from data.database import StoreError, default_path

    path = db or default_path()
    try:
        opened(path).close()
        told = sign_in.read(club) if club else None
        if told:
            sign_in.cookie_secret(path)
    except (StoreError, sign_in.SignInError) as error:
        raise folders.fail(str(error)) from None
    token = _token(metrics_token) if metrics_token else ""
    _run(path, host, port, browser, as_json, told, token, is_chatty)


def _token(path: Path) -> str:
    """The token in a file; one that is short could be guessed."""
    try:
        token = path.read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError):
        raise folders.fail(f"{path}: cannot be read. Write the name of a file with a token.") from None
    if len(token) < 20 or not token.isascii() or not token.isprintable():
        raise folders.fail(f"{path}: write a token of 20 or more letters and digits into it.")
    return token


def _run(
    path: Path,
    host: str,
    port: int,
    open_browser: bool,
    as_json: bool,
    club: SignIn | None = None,
    metrics_token: str = "",
    is_chatty: bool = False,
) -> None:
    """Serve a database, saying first where; an address that cannot be served is said plainly."""
    from dashboard.serve import HostError, check_host, run

    try:
        if club is None:
            check_host(host)
        with socket.create_server((host, port), family=socket.AF_INET6 if ":" in host else socket.AF_INET):
            pass
    except HostError as error:
        raise folders.fail(str(error)) from None
    except OSError as error:
        raise folders.fail(f"port {port}: {error.strerror}. Choose another with --port {port + 1}.") from None
    address = f"{club.address}/" if club else f"http://{f'[{host}]' if ':' in host else host}:{port}/"
    if as_json:
        say.as_json({"dashboard": address})
    else:
        say.line(f"Dashboard: {address} (stop it with Ctrl+C)")
    with contextlib.suppress(KeyboardInterrupt):
        run(path, host, port, open_browser, club, metrics_token, is_chatty)


def demo(
    port: Port = 8501,
    browser: Browser = True,
    folder: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Keep the demo club's CSV files in this new folder.")
    ] = None,
    is_served: Annotated[
        bool, typer.Option("--serve/--no-serve", help="Serve the dashboard, or stop after the review.")
    ] = True,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the review as one JSON document and stop.")
    ] = False,
) -> None:
    """Show an invented club's season: its review here, then its dashboard in a browser."""
    if folder and folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise folders.fail(f"{folder}: is not an empty folder. Write the name of a new one.")
    with tempfile.TemporaryDirectory(prefix="kitmuster-") as scratch:
        path = Path(scratch) / "club.duckdb"
        _load_demo(folder or Path(scratch) / "club", path, as_json)
        if folder and not as_json:
            say.line(f"The demo club's files are in {folder}.")
        if is_served and not as_json:
            # Without this, being told to stop would end the program before the scratch folder is removed.
            signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(128 + number))
            _run(path, "127.0.0.1", port, browser, as_json=False)


def _load_demo(folder: Path, db: Path, as_json: bool) -> None:
    """Write the demo club's files, put them into a database as a club would, and print the review."""
    from data import upload
    from data.demo import write
    from data.store import Store
    from rules.engine import assess

    with say.console(is_error=True).status("writing and judging the demo club"):
        try:
            files = write(folder)
        except OSError as error:
            raise folders.fail(f"{folder}: {error.strerror}. Name a folder that can be written to.") from None
        with contextlib.closing(Store(db)) as store:
            for file in files:
                store.accept(upload.read(file.name, file.read_bytes(), limits=upload.FOLDER), "demo")
            assessment = assess(store.frames())
        scores, findings = assessment.scores().to_dict("records"), assessment.findings()
    if as_json:
        say.as_json(score_commands.document(scores, findings))
    else:
        score_commands.review(assessment, scores, findings)
