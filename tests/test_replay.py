"""Parts of pages that are drawn once for many: they come out the same, and nobody is sent what another may see."""

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import access, parts, replay, standing, units
from dashboard.access import Person, Role, Sight
from tests.pages import PATIENCE_S, words
from tests.test_access import club, opened, signed_in  # noqa: F401 (a fixture)

drawn: list[str] = []


@replay.drawn_once
def greeting(name: str, *, count: int = 1) -> None:
    import streamlit as st

    drawn.append(name)
    st.header(f"{count} times {name}")
    with st.container(border=True), st.expander("more"):
        st.text(f"of {name}")


@replay.drawn_once
def asking(what: str) -> None:
    access.person() if what == "who" else access.sight(access.HERE)


@replay.drawn_once
def standing_of(now: standing.Standing) -> None:
    drawn.append(str(parts.standing().number))


def draw_two() -> None:
    from tests.test_replay import greeting

    greeting("tea")
    greeting("tea", count=2)


def told(script) -> str:
    app = AppTest.from_function(script, default_timeout=PATIENCE_S).run()
    assert not app.exception, app.exception[0].stack_trace
    return words(app)


@pytest.fixture(autouse=True)
def nothing_kept():
    replay._kept.clear()
    drawn.clear()


def test_a_part_is_drawn_once_and_sent_again_as_it_was():
    first = told(draw_two)
    assert first == "1 times tea\n2 times tea\nof tea\nof tea"
    assert told(draw_two) == first and drawn == ["tea", "tea"]


def test_a_part_is_drawn_anew_in_other_units(monkeypatch):
    told(draw_two)
    monkeypatch.setattr(units, "is_us", lambda: True)
    told(draw_two)
    assert len(drawn) == 4


@pytest.mark.parametrize("what", ["who", "sight"])
def test_a_part_that_is_drawn_once_may_not_ask_who_looks(club, what):  # noqa: F811
    with pytest.raises(RuntimeError, match="ask wh"):
        asking(what)


def test_what_does_not_say_what_is_drawn_of_it_is_refused():
    with pytest.raises(TypeError, match="a dict does not say"):
        greeting({"name": "tea"})
    around = "tea"
    with pytest.raises(TypeError, match="takes from around it"):
        replay.drawn_once(lambda: around)


def test_no_two_assessments_are_drawn_as_the_same(club):  # noqa: F811
    now = club.standing()
    assert standing.Standing(now.version, now.day, now.assessment).drawn_as != now.drawn_as


def test_a_part_is_drawn_of_one_assessment_whatever_is_sent_meanwhile(club):  # noqa: F811
    before = standing.Standing(0, club.standing().day, club.standing().assessment)
    standing_of(before)
    assert drawn == [str(before.number)] and parts.standing() is club.standing()


def sights() -> list[Sight]:
    people = [Person(f"a {role}", role, member) for role in Role for member in ("", "Q1AAA", "Q1CCC")]
    shares = [
        {"": usual} | own for usual in access.Share for own in ({}, {"Q1AAA": "none"}, {"Q1CCC": "full"})
    ]
    return [Sight(person, share) for person in people for share in shares]


def test_whoever_is_drawn_the_same_sees_the_same_of_every_member():
    seen: dict[object, tuple] = {}
    for sight in sights():
        sees = tuple((sight.of(member), sight.name(member)) for member in ("Q1AAA", "Q1CCC", "Q1EEE"))
        assert seen.setdefault(sight.drawn_as, sees) == sees
    assert len(seen) > 10


def telling(role: Role, rules: list[str]) -> set[str]:
    """Rules of which the season page tells someone that the kit which is not shared has the gap."""
    app, found = opened("season", signed_in(role)), set()
    for rule in rules:
        app.selectbox(key="look_gap").select(rule).run()
        assert not app.exception
        if "Q1CCC" in words(app):
            found.add(rule)
    return found


def test_what_the_coordinator_was_drawn_is_not_sent_to_others(club):  # noqa: F811
    rules = list(club.standing().gaps["rule"])
    told = telling(Role.COORDINATOR, rules)
    assert told, "the coordinator is told of some gap of the hidden kit"
    for role in (Role.MEMBER, Role.VIEWER):
        assert telling(role, sorted(told)) == set()


def test_the_store_is_asked_again_only_after_something_may_have_been_written(club):  # noqa: F811
    asked: list[str] = []

    def ask() -> int:
        asked.append("asked")
        return len(asked)

    assert [club.asked("count", ask), club.asked("count", ask)] == [1, 1]
    club.people.set_share("Q1CCC", None, "test")
    assert club.asked("count", ask) == 2
