"""Plans wait for their turn: two at once for the whole server, one for each person, and not more than can wait."""

from __future__ import annotations

import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, nullcontext

import pytest
from fastapi.testclient import TestClient
from streamlit.testing.v1 import app_test

from dashboard import api, limits, operation
from dashboard.limits import BusyError, Turns
from tests.pages import invented, page
from tests.tools import awaited


class Work:
    """Pieces of work that end when they are told to."""

    def __init__(self, turns: Turns) -> None:
        self.turns = turns
        self.began: list[str] = []
        self.ends: dict[str, threading.Event] = {}
        self.pool = ThreadPoolExecutor(20)

    def ask(self, what: str) -> None:
        """Ask for a piece of work of the person whose letter its name begins with, and wait until it is known."""
        end = self.ends[what] = threading.Event()
        known = len(self.turns._queue) + len(self.began) + 1

        def do() -> None:
            with self.turns.turn(what[0]):
                self.began.append(what)
                end.wait(20)

        self.pool.submit(do)
        until(lambda: len(self.turns._queue) + len(self.began) >= known)

    def end(self, what: str, then: int) -> None:
        """End a piece of work, and wait until so many have begun."""
        self.ends[what].set()
        until(lambda: len(self.began) >= then)


def until(is_so) -> None:
    for _ in range(2_000):
        if is_so():
            return
        time.sleep(0.005)
    raise AssertionError("nothing came of it")


def test_one_who_asks_for_many_plans_does_not_keep_the_others_waiting():
    work = Work(Turns(at_once=2, own=3, waiting=10))
    for what in ("a1", "a2", "a3", "b1", "c1"):
        work.ask(what)
    assert work.began == ["a1", "b1"]
    work.end("b1", 3)
    assert work.began == ["a1", "b1", "c1"], "the others of a wait for their own first"
    work.end("a1", 4)
    assert work.began[-1] == "a2"
    for what in ("a2", "a3", "c1"):
        work.ends[what].set()
    work.pool.shutdown()
    assert work.began[-1] == "a3"


@pytest.mark.parametrize("whose", ["own", "all"])
def test_who_would_wait_behind_too_many_is_told_so_at_once(whose):
    turns = Turns(at_once=1, own=2 if whose == "own" else 9, waiting=9 if whose == "own" else 2)
    work = Work(turns)
    for what in ("a1", "a2", "a3"):
        work.ask(what)
    with pytest.raises(BusyError, match="Ask for this one again"), turns.turn("a"):
        pass
    for end in work.ends.values():
        end.set()
    work.pool.shutdown()
    with turns.turn("a"):
        assert (turns._queue, turns._at_work) == ([], ["a"])


def test_who_leaves_while_waiting_and_who_fails_while_working_make_room():
    turns = Turns(at_once=1, own=2, waiting=5)

    @contextmanager
    def leaving():
        raise KeyboardInterrupt
        yield

    def fail() -> None:
        with turns.turn("a"):
            with pytest.raises(KeyboardInterrupt), turns.turn("b", leaving):
                pass
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert (turns._queue, turns._at_work) == ([], [])


def test_who_leaves_long_after_they_began_to_wait_makes_room(monkeypatch):
    monkeypatch.setattr(limits, "LOOK_S", 0.01)
    turns, looks = Turns(at_once=1, own=2, waiting=5), []

    def look() -> None:
        looks.append(list(turns._queue))
        if len(looks) == 3:
            raise KeyboardInterrupt

    late = threading.Timer(20, turns.send_away)
    late.start()
    with turns.turn("a"):
        with pytest.raises(KeyboardInterrupt), turns.turn("b", lambda: nullcontext(look)):
            raise AssertionError("it never was their turn")
        late.cancel()
        assert all(looks), "it kept its place while it waited"
        assert (turns._queue, turns._at_work) == ([], ["a"])


def test_where_the_server_stops_nobody_waits_any_longer(tmp_path, monkeypatch):
    turns = Turns(at_once=1, own=2, waiting=5)
    monkeypatch.setattr(limits, "PLANS", turns)

    async def stop() -> None:
        async with operation.Operation().running(tmp_path / "club.duckdb"):
            until(lambda: turns._queue)

    def wait() -> None:
        with turns.turn("b"):
            raise AssertionError("it never was their turn")

    with ThreadPoolExecutor(1) as pool, turns.turn("a"):
        waits = pool.submit(wait)
        awaited(stop())
        with pytest.raises(BusyError):
            waits.result(20)
    assert (turns._queue, turns._at_work) == ([], [])


def test_what_passes_until_the_turn_comes_is_surrounded():
    turns, said = Turns(at_once=1, own=2, waiting=5), []

    @contextmanager
    def waiting():
        said.append("waits")
        yield lambda: None
        said.append("goes on")

    with ThreadPoolExecutor(1) as pool:
        with turns.turn("a"):

            def second() -> None:
                with turns.turn("b", waiting):
                    said.append("works")

            done = pool.submit(second)
            until(lambda: said)
            assert said == ["waits"]
        done.result(20)
    assert said == ["waits", "goes on", "works"]


# ---- where plans are asked for


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    """The invented club, open for reading."""
    with invented(tmp_path_factory.mktemp("demo")) as opened:
        yield opened


@pytest.fixture
def busy(monkeypatch):
    """A server on which somebody's plan is being worked out, and nobody may wait."""
    turns = Turns(at_once=1, own=0, waiting=0)
    monkeypatch.setattr(limits, "PLANS", turns)
    with turns.turn("somebody"):
        yield turns


@pytest.mark.parametrize("path", ["/events/{event}/staffing", "/purchases?budget=100"])
def test_a_program_that_would_wait_behind_too_many_is_told_when_to_ask_again(club, busy, path):
    number = club.people.add(f"{len(path)}@club.test", path, "coordinator", "", "test")
    key = {"Authorization": f"Bearer {club.people.new_token(number, 'test', 'test')}"}
    answer = TestClient(api.api()).get(path.format(event=club.standing().events[0]), headers=key)
    assert (answer.status_code, answer.headers["Retry-After"]) == (429, "60")
    assert "Ask for this one again" in answer.json()["detail"]


@pytest.mark.parametrize(
    ("name", "asked", "button"),
    [
        ("events", {"look": "who should go where?"}, "work-out"),
        ("purchases", {}, "work-out"),
        ("loadout", {}, "work-out"),
        ("loadout", {"look": "who can lend what?"}, "work-out-loans"),
        ("whatif", {}, "fail"),
    ],
)
def test_a_page_that_would_wait_behind_too_many_says_so(club, busy, name, asked, button):
    app = page(name, **asked)
    app.button(key=button).click().run()
    assert not app.exception
    assert "Ask for this one again" in " ".join(one.value for one in app.warning)


def test_who_closes_a_page_or_goes_on_while_it_waits_makes_room(club, monkeypatch):
    monkeypatch.setattr(limits, "LOOK_S", 0.01)
    turns = Turns(at_once=1, own=1, waiting=1)
    monkeypatch.setattr(limits, "PLANS", turns)
    runners = []

    class Seen(app_test.LocalScriptRunner):
        def __init__(self, *args, **kwargs):
            super().__init__(*args, **kwargs)
            runners.append(self)

    app = page("loadout")
    monkeypatch.setattr(app_test, "LocalScriptRunner", Seen)
    with ThreadPoolExecutor(1) as pool, turns.turn("somebody"):
        run = pool.submit(app.button(key="work-out").click().run)
        until(lambda: turns._queue)
        runners[-1].request_stop()  # as the server does where a browser is gone
        until(lambda: not turns._queue)
        run.result(20)
        assert turns._at_work == ["somebody"]
    assert not app.exception
