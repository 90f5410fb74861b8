"""The dashboard over months: ready or not, counted, written down without secrets, copied and stopped in order."""

from __future__ import annotations

import asyncio
import json
import logging
import os
import re
import shutil
import signal
import socket
import stat
import subprocess
import sys
import time
import urllib.error
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from pathlib import Path
from types import SimpleNamespace

import duckdb
import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from starlette.testclient import TestClient
from streamlit.testing.v1 import AppTest

from dashboard import control, logs, operation, serve, standing, trouble
from dashboard.metrics import Metrics
from data import backup, gone, upload
from data.database import StoreError
from data.store import Store
from rules.policy import PolicyError
from rules.rule import RuleError
from tests.command_line import called
from tests.tools import awaited

TOP = Path(__file__).parent.parent
BAG = b"member,kit,item,kind\nQ1AAA,bag,secret battery,battery\n"
LATER = b"member,kit,item,kind\nQ1AAA,bag,another battery,battery\n"
TOKEN = "a-token-for-the-counts-1234"
SLOW = """
import sys, time
from pathlib import Path
from data import backup, restoring
from dashboard import serve
make = backup.make
def slow(*given):
    print("copying", flush=True)
    time.sleep(1.0)
    return make(*given)
backup.make = restoring.make = slow
serve.run(Path(sys.argv[1]), port=int(sys.argv[2]), metrics_token=sys.argv[3], is_chatty=True)
"""


def free_port() -> int:
    with closing(socket.create_server(("127.0.0.1", 0))) as listener:
        return listener.getsockname()[1]


def fill(path: Path, payload: bytes = BAG) -> None:
    with closing(Store(path)) as store:
        store.accept(upload.read("inventory.csv", payload), "Q1AAA")


def get(address: str, **headers: str) -> tuple[int, bytes]:
    try:
        with urllib.request.urlopen(urllib.request.Request(address, headers=headers), timeout=30) as answer:
            return answer.status, answer.read()
    except urllib.error.HTTPError as error:
        return error.code, error.read()


@contextmanager
def served(db: Path):
    """A dashboard of its own process; its address and process."""
    port = free_port()
    log = db.with_suffix(".log")
    with log.open("wb") as written:
        server = subprocess.Popen(
            [sys.executable, "-c", SLOW, str(db), str(port), TOKEN],
            cwd=TOP,
            stdout=subprocess.PIPE,
            stderr=written,
            text=True,
        )
        address = f"http://127.0.0.1:{port}"
        try:
            for _ in range(600):
                try:
                    if get(f"{address}/readyz")[0] == 200:
                        break
                except OSError:
                    assert server.poll() is None, log.read_text("utf-8")
                time.sleep(0.1)
            yield address, server
        finally:
            server.kill()
            server.communicate()


def test_a_running_dashboard_copies_restores_counts_writes_down_and_stops_in_order(tmp_path):
    """One server for many questions: starting one takes seconds."""
    db = tmp_path / "club.duckdb"
    fill(db)
    with served(db) as (address, server):
        file = control.secret_file(db)
        secret = json.loads(file.read_text("utf-8"))["token"]
        assert stat.S_IMODE(file.stat().st_mode) == 0o600

        copied = called("backup", "--db", db, "--json")
        assert copied.exit_code == 0, copied.stderr
        copy = Path(json.loads(copied.stdout)["file"])
        assert backup.listed(db) == [copy]

        other = tmp_path / "elsewhere.duckdb"
        fill(other)
        refused = called("restore", other, "--db", db)
        assert refused.exit_code == 2
        assert "kitmuster restore FILE --db NEW" in refused.stderr
        assert json.loads(get(f"{address}/healthz")[1])["store_version"] == 1
        away = tmp_path / "carried" / "backups" / "later.duckdb"
        away.parent.mkdir(parents=True)
        shutil.copy(copy, away)
        fill(away, LATER + b"Q2BBB,bag,battery of one who was erased,battery\n")
        with closing(Store(away)) as store, store.reading() as cur:
            club = gone.began(cur, "later")
        erased = gone.Gone(club, 99, gone.MEMBER, gone.digest(club, "Q2BBB"))
        (tmp_path / "carried" / "club.duckdb").touch()
        gone.add(tmp_path / "carried" / "club.duckdb", [erased])
        restored = called("restore", away, "--db", db, "--json")
        assert restored.exit_code == 0, restored.stderr
        assert json.loads(get(f"{address}/healthz")[1])["store_version"] == 3
        (away.parent / "club.gone").write_text("damaged")
        said = called("restore", away, "--db", db)
        assert (said.exit_code, "club.gone says who was erased" in said.stderr) == (2, True)
        assert called("restore", copy, "--db", db).exit_code == 0
        out = tmp_path / "out"
        exported = called("export", out, "--db", db)
        assert exported.exit_code == 0, exported.stderr
        assert "secret battery" in (out / "told_inventory.csv").read_text("utf-8")

        (copy.parent / "led-away.duckdb").symlink_to(away)
        for path in ("../club.duckdb", str(db), "nothing.duckdb", "", "led-away.duckdb"):
            with pytest.raises(StoreError, match="no file of the folder backups"):
                control.ask(db, "restore", name=path)
        assert post(f"{address}/control/backup")[0] == 403
        assert post(f"{address}/control/backup", Authorization="Bearer wrong")[0] == 403
        bearer = {"Authorization": f"Bearer {secret}"}
        assert post(f"{address}/control/backup", **bearer, **{"X-Forwarded-For": "127.0.0.1"})[0] == 403

        first = ("first@club.example", "--name", "First", "--role", "coordinator")
        assert called("people", "add", *first, "--db", db).exit_code == 0
        assert called("people", "role", first[0], "viewer", "--db", db).exit_code == 2, "the only coordinator"
        assert '"First"' in called("people", "list", "--json", "--db", db).stdout

        assert get(f"{address}/metrics")[0] == 401
        assert get(f"{address}/metrics", Authorization=f"Bearer {secret}")[0] == 401
        status, text = get(f"{address}/metrics", Authorization=f"Bearer {TOKEN}")
        assert status == 200
        held = {family.name: family.samples for family in text_string_to_metric_families(text.decode())}
        assert held["kitmuster_store_version"][0].value == 5
        assert any(sample.labels.get("part") == "control" for sample in held["kitmuster_requests"])
        assert b"Q1AAA" not in text

        slow = ThreadPoolExecutor(1).submit(control.ask, db, "backup", keep=50)
        until_copying(server)
        server.send_signal(signal.SIGTERM)
        assert Path(slow.result(30)["file"]).exists()
        server.wait(30)
        assert server.returncode in (0, -signal.SIGTERM, 128 + signal.SIGTERM)
        assert not file.exists()
    written = db.with_suffix(".log").read_text("utf-8")
    lines = [json.loads(line) for line in written.splitlines()]
    assert {"started", "answered", "backup made", "backup restored", "stopped"} <= {
        line["event"] for line in lines
    }
    for word in (secret, TOKEN, "Q1AAA", "battery", str(tmp_path)):
        assert word not in written
    with closing(Store(db)) as store:
        assert store.frames()["inventory"]["item"].tolist() == ["secret battery"]


def post(address: str, **headers: str) -> tuple[int, bytes]:
    request = urllib.request.Request(address, b"{}", headers)
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status, answer.read()
    except urllib.error.HTTPError as error:
        return error.code, error.read()


def until_copying(server: subprocess.Popen) -> None:
    """Read what the server prints until it says that the copy asked for last has begun."""
    for _ in range(5):  # backup, two before restores, export, and the one waited for
        assert server.stdout.readline() == "copying\n"


# --- the commands where no dashboard runs


def test_the_commands_work_on_a_database_that_nobody_has_open(tmp_path):
    db = tmp_path / "club.duckdb"
    fill(db)
    assert called("backup", "--db", db, "--keep", 2).exit_code == 0
    fill(db, LATER)
    assert called("restore", "--db", db).exit_code == 0
    with closing(Store(db)) as store:
        assert store.frames()["inventory"]["item"].tolist() == ["secret battery"]
    new = tmp_path / "new" / "club.duckdb"
    assert called("restore", backup.listed(db)[0], "--db", new).exit_code == 0
    assert new.exists()
    assert called("export", tmp_path / "out", "--db", db, "--form", "parquet").exit_code == 0
    assert (tmp_path / "out" / "upload.parquet").exists()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["backup"], "there is no database here"),
        (["export", "out"], "there is no database here"),
        (["restore"], "no copy of it is known"),
        (["restore", "missing.duckdb"], "there is no file here"),
        (["export", "out", "--form", "xlsx"], "Write csv or parquet"),
    ],
)
def test_what_cannot_be_done_is_said_and_makes_no_database(tmp_path, arguments, says):
    db = tmp_path / "club.duckdb"
    result = called(*arguments, "--db", db)
    assert (result.exit_code, result.stdout) == (2, "")
    assert says in result.stderr
    assert not db.exists()


def test_a_program_that_is_no_dashboard_and_has_the_database_open_is_told_of(tmp_path):
    db = tmp_path / "club.duckdb"
    hold = "import sys, duckdb; c = duckdb.connect(sys.argv[1]); print(1, flush=True); sys.stdin.read()"
    with subprocess.Popen(
        [sys.executable, "-c", hold, str(db)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as holder:
        holder.stdout.readline()
        result = called("backup", "--db", db)
        holder.communicate()
    assert result.exit_code == 2
    assert "in use by another program, and no dashboard answers" in result.stderr


def test_a_token_for_the_counts_that_could_be_guessed_is_refused(tmp_path):
    (tmp_path / "token").write_text("short")
    for name in ("token", "missing"):
        result = called("serve", "--db", tmp_path / "club.duckdb", "--metrics-token", tmp_path / name)
        assert result.exit_code == 2
        assert name in result.stderr


# --- ready, or not


@pytest.fixture
def club(tmp_path, monkeypatch):
    """A small club that is open in this process."""
    monkeypatch.setattr(standing, "_open", [])
    fill(tmp_path / "club.duckdb")
    yield standing.open_club(tmp_path / "club.duckdb")
    standing.close_club()


def answered(*middleware: Middleware, routes=None, method: str = "GET", path: str = "/readyz", **asked):
    """The answer of the routes behind some middleware."""
    app = Starlette(routes=routes or operation.Operation().routes(), middleware=list(middleware))
    # in a thread of its own: the browser of other tests keeps a loop running in this one
    with ThreadPoolExecutor(1) as thread:
        client = TestClient(app, raise_server_exceptions=False)
        return thread.submit(client.request, method, path, **asked).result()


def test_ready_while_the_store_answers_and_the_disk_has_room(club, monkeypatch):
    assert answered().json() == {"ready": True, "store": "ok", "disk": "ok"}
    monkeypatch.setattr(operation, "ROOM", 1 << 62)
    full = answered()
    assert (full.status_code, full.json()["disk"]) == (503, "full")
    club.close()
    closed = answered()
    assert (closed.status_code, closed.json()["store"]) == (503, "failed")


def test_counts_are_not_there_unless_a_token_was_given(club):
    assert answered(path="/metrics").status_code == 404
    assert answered(path="/metrics", headers={"Authorization": "Bearer "}).status_code == 404


def test_a_copy_is_due_once_a_day_whatever_the_clock_does(club):
    assert operation._is_due()
    copy = backup.make(club.store)
    assert not operation._is_due()
    for days in (-1.1, 30):
        os.utime(copy, (time.time() + days * 86400,) * 2)
        assert operation._is_due()


# --- limits


async def _take(request: Request) -> PlainTextResponse:
    return PlainTextResponse(str(len(await request.body())))


TAKING = [Route("/take", _take, methods=["GET", "POST"])]


def test_a_body_that_is_too_long_is_refused_by_its_header_and_by_its_length(club):
    limits, long = Middleware(operation.Limits), bytes(operation.LONGEST_BODY + 1)
    sent = {"routes": TAKING, "method": "POST", "path": "/take"}
    assert answered(limits, **sent, content=b"short").text == "5"
    assert answered(limits, **sent, content=long).status_code == 413
    assert answered(limits, **sent, content=b"x", headers={"content-length": "-1"}).status_code == 413
    pieces = (long[start : start + (1 << 20)] for start in range(0, len(long), 1 << 20))
    assert answered(limits, **sent, content=pieces).status_code >= 400


@pytest.mark.parametrize(
    ("pieces", "read"), [(3, 3), (20, 7)], ids=["to its end", "as far as it may be long"]
)
def test_an_answer_waits_until_the_body_has_been_read(pieces, read):
    """A proxy that is still sending when it is answered says that the dashboard is broken."""
    taken, order = iter(range(1, pieces + 1)), []

    async def receive():
        order.append("read")
        return {"type": "http.request", "body": bytes(1 << 20), "more_body": next(taken) < pieces}

    async def send(message):
        order.append(message["type"])

    async def refuse(scope, receive, send):
        await PlainTextResponse("no", 401)(scope, receive, send)

    scope = {"type": "http", "method": "POST", "path": "/", "headers": [], "client": ("10.0.0.1", 1)}
    awaited(operation.Limits(refuse)(scope, receive, send))
    assert order == [*["read"] * read, "http.response.start", "http.response.body"]


def test_a_body_that_never_ends_is_not_waited_for(monkeypatch):
    monkeypatch.setattr(operation, "PATIENCE_S", 0.05)
    sent = []

    async def send(message):
        sent.append(message["type"])

    async def refuse(scope, receive, send):
        await PlainTextResponse("no", 401)(scope, receive, send)

    scope = {"type": "http", "method": "POST", "path": "/", "headers": [], "client": ("10.0.0.1", 1)}
    awaited(operation.Limits(refuse)(scope, lambda: asyncio.sleep(60), send))
    assert sent == ["http.response.start", "http.response.body"]


def test_who_sends_too_much_in_a_minute_waits_and_others_do_not():
    limits = operation.Limits(None, writes=3)
    assert [limits._may("10.0.0.1", now) for now in (0, 1, 2, 3)] == [True, True, True, False]
    assert limits._may("10.0.0.2", 3)
    assert limits._may("10.0.0.1", operation.MINUTE_S + 0.5)


def test_reading_is_never_too_much(club):
    app = Starlette(routes=TAKING, middleware=[Middleware(operation.Limits, writes=2)])
    with ThreadPoolExecutor(1) as thread:
        client = TestClient(app)

        def ask(method: str) -> list[int]:
            return [client.request(method, "/take").status_code for _ in range(4)]

        assert thread.submit(ask, "GET").result() == [200] * 4
        assert thread.submit(ask, "POST").result() == [200, 200, 429, 429]


# --- what is written down


def written(record: logging.LogRecord) -> dict:
    return json.loads(logs.JsonLines().format(record))


def record(name: str, message: str, error: Exception | None = None, **extra) -> logging.LogRecord:
    made = logging.LogRecord(name, logging.ERROR, "some.py", 7, message, (), error and (None, error, None))
    vars(made).update(extra)
    return made


def test_a_club_that_cannot_be_judged_does_not_keep_the_server_from_starting(monkeypatch, caplog):
    def fails() -> None:
        raise ValueError("a fact that nobody thought of")

    monkeypatch.setattr(serve.standing, "club", lambda: SimpleNamespace(standing=fails))
    monkeypatch.setattr(serve.gc, "freeze", lambda: None)
    serve.prewarm()
    assert "judging failed" in caplog.messages


def test_the_words_of_an_error_or_of_another_library_are_never_written_down():
    try:
        int("Q1AAA secret battery")
    except ValueError as error:
        line = written(record("streamlit.anything", "Q1AAA's secret battery", error))
    assert (line["event"], line["error"], line["level"]) == ("some.py:7", "ValueError", "error")
    assert line["at"][-1].startswith("test_operation.py:")
    assert "Q1AAA" not in json.dumps(line)


def test_our_own_events_keep_what_they_tell():
    line = written(record("kitmuster", "backup made", told={"bytes": 5}))
    assert (line["event"], line["bytes"]) == ("backup made", 5)
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT.*\+00:00", line["time"])


def test_a_path_that_was_asked_for_is_counted_by_its_part_and_never_named(club):
    metrics = Metrics()
    answered(Middleware(operation.Watch, metrics=metrics), path="/kit?member=Q1AAA")
    metrics.answered("BREW", "/Q1AAA", 200, 0.1)
    text = metrics.text().decode()
    assert 'part="page",status="4xx"' in text
    assert 'method="other"' in text
    assert "Q1AAA" not in text


def test_a_request_that_fails_is_counted_and_its_place_written_down(club, caplog):
    async def fail(request: Request) -> None:
        raise ValueError("Q1AAA")

    metrics = Metrics()
    watch = Middleware(operation.Watch, metrics=metrics)
    assert answered(watch, routes=[Route("/readyz", fail)]).status_code == 500
    assert 'kitmuster_failures_total{where="request"} 1.0' in metrics.text().decode()
    (line,) = [written(made) for made in caplog.records if made.name == "kitmuster"]
    assert (line["event"], line["error"]) == ("request failed", "ValueError")
    assert "Q1AAA" not in json.dumps(line)


# --- a page that breaks


def test_the_server_shows_trouble_in_place_of_the_frameworks_message(tmp_path, monkeypatch):
    monkeypatch.setattr(standing, "_open", [])
    app = serve.asgi(tmp_path / "club.duckdb")
    standing.close_club()
    assert isinstance(app._on_script_error, trouble.Trouble)


@pytest.mark.parametrize(
    ("error", "says"),
    [
        (StoreError("The disk is full. Make room."), "The disk is full"),
        (duckdb.OutOfMemoryException("failed to allocate, Q1AAA"), "review it in parts"),
        (duckdb.ConnectionException("closed: <b>Q1AAA</b>"), "does not answer"),
        (KeyError("Q1AAA"), "could not be finished"),
        (
            PolicyError("policy, rules.x.y: 0 is out of range. Write 1 or more."),
            "0 is out of range",
        ),
        (
            RuleError("theirs: this rule cannot be worked out: Q1AAA"),
            "can no longer be used, so nothing is judged",
        ),
    ],
)
def test_a_page_that_breaks_says_what_to_do_and_a_number_to_find_it_by(club, error, says, caplog):
    def page(error, metrics):
        from dashboard.trouble import Trouble

        assert Trouble(metrics)(error)

    metrics = Metrics()
    shown = AppTest.from_function(page, kwargs={"error": error, "metrics": metrics}).run(timeout=30)
    assert says in shown.error[0].value
    assert "Q1AAA" not in shown.error[0].value
    number = shown.text[0].value.removeprefix("number ")
    (line,) = [written(made) for made in caplog.records if made.name == "kitmuster"]
    assert (line["number"], line["error"]) == (number, type(error).__name__)
    assert 'where="page"} 1.0' in metrics.text().decode()
