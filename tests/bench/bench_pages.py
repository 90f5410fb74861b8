"""How long the pages of a club of 300 members take on the server: alone, and with 100 sessions open at once.

Run with `uv run python -m tests.bench.bench_pages [MEMBERS] [SESSIONS]`. A real server (`dashboard.serve`) runs as a
process of its own; sessions are websockets that speak as the framework's own page does, keep large messages as long
as it does, and wait some seconds between what they do. A figure is the time from asking to the end of the script with
all that it sent received; drawing in a browser comes on top (`tests.bench.bench_first_visit`). Aims: 50 ms for one page
alone, 150 ms for 95 of 100 with all sessions.

The clients share the machine with the server, so the load average before each part is printed beside the figures, and
for one page alone also the time that the server's own threads worked (the least, and the median), which a busy machine
stretches less.
"""

from __future__ import annotations

import asyncio
import csv
import os
import random
import statistics
import sys
import tempfile
import time
from pathlib import Path
from urllib.parse import urlencode

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.asyncio.client import ClientConnection, connect

from data import demo, upload
from data.store import Store
from tests.bench import bench_club
from tests.browser.conftest import serving

AGAIN = 15  # reruns of each page alone
REST_S = 0.02  # after each, for what the server does once a page is sent
STEPS = 6  # of each session
THINK_S = 3.0  # between two of them, on average
AIM_MS, AIM_P95_MS = 50, 150
LOOKS = ("which kit can hold which post?", "do the batteries last?", "how far must people stay?")
Visit = tuple[str, dict[str, str]]


class Session:
    """One open page of one reader."""

    def __init__(self, line: ClientConnection) -> None:
        self._line = line
        self._kept: dict[str, int] = {}  # messages by name, with the run that used them last
        self._runs, self._age = 0, 0
        self.bytes = 0

    async def ask(self, view: str, query: dict[str, str]) -> float:
        """Milliseconds until a page with these choices has been sent whole.

        Raises
        ------
        RuntimeError
            The page broke.
        """
        asked = BackMsg()
        asked.rerun_script.page_name = view
        asked.rerun_script.query_string = urlencode(query)
        asked.rerun_script.cached_message_hashes.extend(self._kept)
        began = time.perf_counter()
        await self._line.send(asked.SerializeToString())
        self.bytes = 0
        while True:
            raw = await self._line.recv(decode=False)
            self.bytes += len(raw)
            message = ForwardMsg.FromString(raw)
            kind = message.WhichOneof("type")
            if kind == "ref_hash":
                self._kept[message.ref_hash] = self._runs
            elif message.metadata.cacheable:
                self._kept[message.hash] = self._runs
            elif kind == "new_session":
                self._age = message.new_session.config.max_cached_message_age
            if kind == "delta" and message.delta.new_element.WhichOneof("type") == "exception":
                raise RuntimeError(f"{view}: {message.delta.new_element.exception.message}")
            if kind == "script_finished":
                took = 1000 * (time.perf_counter() - began)
                self._runs += 1
                self._kept = {name: run for name, run in self._kept.items() if self._runs - run <= self._age}
                return took


def worked_ms() -> float:
    """Milliseconds that all threads of the server have worked so far: the clock of another process, on Linux alone."""
    (server,) = map(int, Path(f"/proc/self/task/{os.getpid()}/children").read_text().split())
    return 1000 * time.clock_gettime(~server << 3 | 2)


def session(address: str) -> connect:
    """A websocket as the framework's page opens it."""
    return connect(
        address.replace("http", "ws") + "/_stcore/stream",
        subprotocols=["streamlit"], origin=address, max_size=None,
    )  # fmt: skip


def fill(folder: Path, members: int) -> list[Visit]:
    """The invented club in a folder, with as many more members as it takes; the pages that people open in it."""
    demo.write(folder)
    path = folder / "inventory.csv"
    header, *rows = csv.reader(path.open(encoding="utf-8", newline=""))
    own = sorted({row[header.index("member")] for row in rows})
    bench_club.write(path, members - len(own))
    _, *more = csv.reader(path.open(encoding="utf-8", newline=""))
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([header, *rows, *more])
    store = Store(folder / "club.duckdb")
    for told in sorted(folder.glob("*.csv")):
        sent = upload.read(told.name, told.read_bytes(), limits=upload.FOLDER)
        assert sent.is_accepted, [str(problem) for problem in sent.problems[:3]]
        store.accept(sent, "bench")
    event = store.frames()["posts"]["event"].iloc[0]
    store.close()
    print(f"{members} members, {len(rows) + len(more):,} things")
    kits: list[Visit] = [("kit", {"member": member}) for member in own[:5]]
    looks: list[Visit] = [("events", {"event": event, "look": look}) for look in LOOKS]
    return [("", {}), ("purchases", {}), *kits, ("events", {"event": event}), *looks]


def load() -> str:
    """The load average of the machine."""
    return f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"


def spread(times: list[float]) -> str:
    """Median and 95th percentile, ms."""
    ordered = sorted(times)
    return (
        f"p50 {statistics.median(ordered):6.1f} ms   p95 {ordered[round(0.95 * (len(ordered) - 1))]:7.1f} ms"
    )


async def alone(address: str, visits: list[Visit]) -> None:
    """Print the first run and the reruns of each page with nobody else there."""
    print(f"one session, {load()}; aim {AIM_MS} ms")
    for view, query in visits:
        async with session(address) as line:
            reader = Session(line)
            first = await reader.ask(view, query)
            first_kb = reader.bytes / 1000
            again, worked = [], []
            for _ in range(AGAIN):
                before = worked_ms()
                again.append(await reader.ask(view, query))
                await asyncio.sleep(REST_S)
                worked.append(worked_ms() - before)
            what = query.get("look") or query.get("member") or ""
            print(
                f"  {view or 'season':10}{what:32} first {first:7.1f} ms {first_kb:7.0f} kB   again {spread(again)} "
                f"{reader.bytes / 1000:6.1f} kB   server worked {min(worked):5.1f} to {statistics.median(worked):5.1f} ms"
            )


async def reader(address: str, visits: list[Visit], number: int) -> tuple[float, list[float]]:
    """One reader who arrives some time, opens a page and goes on to others."""
    draw = random.Random(number)
    await asyncio.sleep(draw.uniform(0, STEPS * THINK_S))
    async with session(address) as line:
        open_page = Session(line)
        first = await open_page.ask(*draw.choice(visits))
        later = []
        for _ in range(STEPS):
            await asyncio.sleep(draw.uniform(0.5, 1.5) * THINK_S)
            later.append(await open_page.ask(*draw.choice(visits)))
        return first, later


async def together(address: str, visits: list[Visit], sessions: int) -> None:
    """Print the reruns of many readers at once."""
    print(f"{sessions} sessions, {THINK_S:.0f} s between two pages, {load()}; aim p95 {AIM_P95_MS} ms")
    began, before = time.perf_counter(), worked_ms()
    told = await asyncio.gather(*(reader(address, visits, number) for number in range(sessions)))
    took, worked = time.perf_counter() - began, worked_ms() - before
    later = [one for _, many in told for one in many]
    print(f"  first   {spread([first for first, _ in told])}")
    print(f"  reruns  {spread(later)}   {len(later)} in {took:.0f} s, {load()} at the end")
    print(f"  the server worked {worked / (STEPS + 1) / sessions:.1f} ms for each, first runs among them")


def main(members: int = 300, sessions: int = 100) -> None:
    """Fill a club, serve it, print the figures."""
    with tempfile.TemporaryDirectory() as place:
        visits = fill(Path(place), members)
        with serving(Path(place)) as address:
            asyncio.run(alone(address, visits))
            asyncio.run(together(address, visits, sessions))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
