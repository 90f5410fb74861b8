"""One browser for all tests here, for each file a server over the invented club, for each test a fresh, watched page."""

import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect, sync_playwright

from data import demo, upload
from data.store import Store

from ..tools import program

TOP = Path(__file__).parents[2]
BROWSERS = ("chromium", "chromium-browser", "google-chrome")
FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
SETTLED = """() => {
    const app = document.querySelector('[data-testid=stApp]');
    return app && app.dataset.testConnectionState === 'CONNECTED' && app.dataset.testScriptState === 'notRunning'
        && !document.querySelector('[data-testid=stSkeleton],[data-testid=stSpinner],[data-stale=true]');
}"""
# On a deep link the framework's page looks for its server under the page's own path first, then at the root.
PROBE = re.compile(r"/[a-z]+/_stcore/(health|host-config)$")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def club_file(folder: Path) -> None:
    """The invented club in a folder, as `club.duckdb`."""
    demo.write(folder)
    store = Store(folder / "club.duckdb")
    for path in sorted(folder.glob("*.csv")):
        store.accept(upload.read(path.name, path.read_bytes()), "demo")
    store.close()


@contextmanager
def serving(folder: Path) -> Iterator[str]:
    """A dashboard over the club of a folder, while it is needed; its address."""
    port = free_port()
    start = (
        f"from pathlib import Path; from dashboard.serve import run; run(Path('club.duckdb'), port={port})"
    )
    with (folder / "server.log").open("wb") as log:
        server = subprocess.Popen(
            [sys.executable, "-c", start],
            cwd=folder,
            env={**os.environ, "PYTHONPATH": str(TOP)},
            stdout=log,
            stderr=log,
        )
    try:
        wait_for(f"http://127.0.0.1:{port}/healthz", server, folder / "server.log")
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(20)


@pytest.fixture(scope="session")
def invented(tmp_path_factory):
    """A folder with the invented club, to copy from."""
    folder = tmp_path_factory.mktemp("invented")
    club_file(folder)
    return folder


@pytest.fixture(scope="module")
def address(invented, tmp_path_factory):
    """Address of a running dashboard over the invented club; what one file's tests leave there no other file meets."""
    folder = tmp_path_factory.mktemp("dashboard") / "club"
    shutil.copytree(invented, folder)
    with serving(folder) as running:
        yield running


def wait_for(url: str, server: subprocess.Popen, log: Path) -> None:
    until = time.monotonic() + 180
    while time.monotonic() < until and server.poll() is None:
        try:
            urllib.request.urlopen(url, timeout=5).close()
            return
        except OSError:
            time.sleep(0.1)
    raise AssertionError(f"the dashboard did not start: {log.read_text('utf-8', 'replace')[-2000:]}")


@pytest.fixture(scope="session")
def browser():
    """A real browser from this machine."""
    path = program("chromium", *BROWSERS)
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield started
        started.close()


@pytest.fixture
def page(browser, address, request):
    """A fresh page; fails the test where the console complains or anything is asked of another host."""
    options = {"viewport": {"width": 1280, "height": 1600}} | getattr(request, "param", {})
    context = browser.new_context(base_url=address, **options)
    fresh = context.new_page()
    wrong: list[str] = []
    fresh.on("console", lambda said: wrong.append(said.text) if is_complaint(said) else None)
    fresh.on("pageerror", lambda error: wrong.append(str(error)))
    here = (address, address.replace("http", "ws"), "data:", "blob:")
    fresh.on("request", lambda asked: None if asked.url.startswith(here) else wrong.append(asked.url))
    yield fresh
    context.close()
    assert wrong == []


def is_complaint(said) -> bool:
    return said.type == "error" and not PROBE.search(said.location.get("url", ""))


def settle(page: Page) -> None:
    """Wait until the script has run and everything that it shows is drawn."""
    page.wait_for_timeout(60)
    page.wait_for_function(SETTLED, timeout=120_000)


def visit(page: Page, path: str, title: str) -> None:
    """Open a page and wait for its title."""
    page.goto(path)
    expect(page.get_by_role("heading", level=1, name=title)).to_be_visible(timeout=30_000)
    settle(page)
