"""What the first visit costs a reader: until words stand on the page, until its charts do, and what goes over the wire.

Run with `uv run python -m tests.bench.bench_first_visit [MEMBERS]`; it takes the browser from the path. A real server
serves a club of 300 members on this machine, so no time of a network is in the figures, and nothing between them packs
the files. Each visit has a browser with nothing kept but the last, which comes again.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from playwright.sync_api import BrowserContext, CDPSession, expect, sync_playwright

from tests.bench.bench_pages import fill, load
from tests.browser.conftest import BROWSERS, FLAGS, serving, settle

TITLE = "Is the club ready for the season?"


def watched(line: CDPSession) -> Counter[str]:
    """Bytes that arrive from now on, packed as they travel: `files`, and `socket` as unpacked text of its messages."""
    arrived: Counter[str] = Counter()
    line.send("Network.enable")
    line.on("Network.loadingFinished", lambda told: arrived.update(files=int(told["encodedDataLength"])))
    line.on(
        "Network.webSocketFrameReceived",
        lambda told: arrived.update(
            socket=len(told["response"]["payloadData"]) * 3 // 4
        ),  # it is told in base64
    )
    return arrived


def visit(context: BrowserContext, address: str, which: str) -> None:
    """Print one visit of the season page."""
    page = context.new_page()
    arrived = watched(context.new_cdp_session(page))
    began = time.perf_counter()
    page.goto(address, wait_until="commit")
    expect(page.get_by_role("heading", level=1, name=TITLE)).to_be_visible(timeout=60_000)
    words_ms = 1000 * (time.perf_counter() - began)
    settle(page)
    whole_ms = 1000 * (time.perf_counter() - began)
    painted_ms = page.evaluate("performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? NaN")
    print(
        f"  {which:28} first paint {painted_ms:6.0f} ms   words {words_ms:6.0f} ms   whole {whole_ms:6.0f} ms   "
        f"files {arrived['files'] / 1000:6.0f} kB   socket {arrived['socket'] / 1000:5.0f} kB unpacked"
    )
    page.close()


def main(members: int = 300) -> None:
    """Fill a club, serve it, print the figures."""
    browser = next(filter(None, map(shutil.which, BROWSERS)), None)
    if browser is None:
        sys.exit("no Chromium on this machine")
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        fill(Path(place), members)
        started = playwright.chromium.launch(executable_path=browser, args=FLAGS)
        with serving(Path(place)) as address:
            print(f"season page, {load()}")
            for which in ("after the server started", "another reader", "another reader"):
                context = started.new_context()
                visit(context, address, which)
            visit(context, address, "the same reader again")
            print(f"{load()} at the end")
        started.close()


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
