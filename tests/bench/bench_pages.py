"""How long the pages take on the server, first run and again, with each choice that people make most.

Run with `uv run python tests/bench/bench_pages.py [KITS_FOLDER]`; the demo club unless a folder of CSV files is given.
Prints milliseconds of the script under the test client, which draws nothing; the median of several runs.
"""

from __future__ import annotations

import logging
import statistics
import sys
import tempfile
import time
from pathlib import Path

from streamlit.testing.v1 import AppTest

from dashboard import standing
from data import demo, upload

APP = str(Path(standing.__file__).parent / "app.py")
AGAIN = 7


def run(app: AppTest) -> float:
    """Milliseconds of one run."""
    began = time.perf_counter()
    app.run()
    took = 1000 * (time.perf_counter() - began)
    if app.exception:
        raise RuntimeError(app.exception[0].stack_trace)
    return took


def page(view: str, query: dict[str, str]) -> tuple[float, float]:
    """Milliseconds of the first run of a page and the median of the runs after it."""
    app = AppTest.from_file(APP, default_timeout=120)
    app.run()
    app.switch_page(f"views/{view}.py")
    for name, value in query.items():
        app.query_params[name] = value
    first = run(app)
    return first, statistics.median(run(app) for _ in range(AGAIN))


def main(folder: Path | None) -> None:
    """Open a club and print a line for each page."""
    logging.disable(logging.WARNING)
    with tempfile.TemporaryDirectory() as place:
        here = Path(place)
        if folder is None:
            demo.write(here)
        club = standing.open_club(here / "club.duckdb")
        for path in sorted((folder or here).glob("*.csv")):
            club.store.accept(upload.read(path.name, path.read_bytes()), "bench")
        began = time.perf_counter()
        now = club.standing()
        print(f"standing {1000 * (time.perf_counter() - began):.0f} ms, {len(now.of('kit'))} kits")
        kit = now.of("kit").iloc[0]
        pages: list[tuple[str, dict[str, str]]] = [
            ("season", {}),
            ("kit", {"member": kit["member"], "kit": kit["kit"]}),
            ("send", {}),
            ("purchases", {}),
            ("rulebook", {}),
        ]
        events = now.of("post")
        if len(events):
            name = events["event"].iloc[0]
            looks = ("what does each post lack?", "which kit can hold which post?", "do the batteries last?")
            pages += [("events", {"event": name, "look": look}) for look in looks]
        for view, query in pages:
            first, again = page(view, query)
            print(f"{view:10} {query.get('look', ''):32} first {first:6.0f} ms   again {again:6.1f} ms")
        standing.close_club()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
