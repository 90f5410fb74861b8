"""Paper, letters and calendars that are taken from the pages."""

from datetime import date

import pandas as pd
import pytest

from dashboard import parts, standing, units
from dashboard.sheets import asks, of_event, told
from data import upload
from rules.engine import assess
from tests.pages import page

POSTS = b"event,post,post_type\nWalk,Gate,aid_station\nWalk,Bridge,mile_marker\n"
FILES = {
    "inventory": b"member,kit,item,kind\nQ1ABC,bag,radio,handheld\n",
    "events": b"event,starts,ends\nWalk,2027-04-25T06:00,2027-04-25T12:00\nTalk,2027-05-01T08:00,2027-05-01T10:00\n",
    "posts": POSTS,
    "assignments": b"event,post,member,kit\nWalk,Gate,Q1ABC,bag\nWalk,Gate,Q2XYZ,\n",
}


@pytest.fixture(scope="module")
def walk():
    frames: dict[str, pd.DataFrame] = {}
    for stem, payload in FILES.items():
        read = upload.read(f"{stem}.csv", payload, stem)
        assert read.problems == []
        frames[stem] = read.frame
    return assess(frames, today=date(2027, 3, 1))


def test_everything_of_an_event_can_be_printed(walk):
    made = of_event.of_event(walk, "Walk")
    assert list(made) == [
        "the event packet",
        *(f"form ICS {number}" for number in ("204", "205", "205A", "211", "214", "218", "217A")),
        "packing list of Q1ABC for Gate",
        "packing list of Q2XYZ for Gate",
    ]
    assert {make()[:5] for make in made.values()} == {b"%PDF-"}
    assert not any("packing" in name for name in of_event.of_event(walk, "Talk"))


@pytest.fixture
def club(tmp_path):
    """A club that is open, as every page has one."""
    yield standing.open_club(tmp_path / "club.duckdb")
    standing.close_club()


@pytest.mark.parametrize(("file", "mime"), [("a.b.pdf", "application/pdf"), ("x.ics", "text/calendar")])
def test_what_is_taken_away_says_what_it_is_and_is_made_only_when_asked(club, monkeypatch, file, mime):
    given = []
    monkeypatch.setattr(parts.st, "download_button", lambda *said, **more: given.append((said, more)))
    parts.sheet("Download it", lambda: pytest.fail("made before it was asked for"), file, "key")
    ((_, make, name, told), _more) = given[0]
    assert (name, told) == (file, mime)
    assert callable(make)


def test_what_is_made_later_is_in_the_units_of_the_page(club, monkeypatch):
    given = []
    monkeypatch.setattr(parts.st, "download_button", lambda label, make, *_, **more: given.append(make))
    with units.chosen(True):
        parts.sheet("Download it", lambda: units.paper().encode(), "x.pdf", "key")
    parts.sheet("Download it", lambda: units.paper().encode(), "x.pdf", "key")
    assert [make() for make in given] == [b"letter", b"A4"]


@pytest.mark.parametrize(
    ("chosen", "size"),
    [
        ([], "A4"),
        (["letter_paper"], "letter"),
        ([units.KEY], "letter"),
        ([units.KEY, "a4_paper"], "A4"),
    ],
)
def test_paper_is_of_the_size_that_is_chosen_on_the_page_with_either_units(club, monkeypatch, chosen, size):
    made = []
    monkeypatch.setattr(
        parts, "ways_to_send", lambda _: made.append(units.kept(lambda: units.paper().encode()))
    )
    app = page("start")
    for key in chosen:
        app.sidebar.toggle(key=key).set_value(True).run()
    assert made[-1]() == size.encode()


@pytest.mark.parametrize(
    ("url", "origin"),
    [
        ("https://kits.example.org/kit", "https://kits.example.org"),
        ("http://127.0.0.1:8611/", "http://127.0.0.1:8611"),
        ("", told.BASE),
    ],
)
def test_codes_and_letters_lead_back_to_where_the_reader_has_the_dashboard(club, monkeypatch, url, origin):
    club.store.accept(upload.read("inventory.csv", FILES["inventory"]), "test")
    bases: list[str] = []
    address = told.address
    monkeypatch.setattr(
        told, "address", lambda base, page, **of: (bases.append(base), address(base, page, **of))[1]
    )
    made: dict[str, bytes] = {}
    monkeypatch.setattr(parts, "sheet", lambda label, make, file, key: made.update({key: make()}))
    page("kit", url=url, member="Q1ABC")
    page("inspect", url=url, member="Q1ABC")
    assert {"asks-pdf", "asks-txt", "lid-pdf", "inspection-pdf"} <= set(made)
    assert bases == [origin] * 4
    assert (b"Your page:" in made["asks-txt"]) is (origin == "https://kits.example.org"), (
        "a letter does not lead others to their own machine"
    )


def test_a_letter_to_others_leads_to_no_machine_of_their_own(walk):
    assert "kits.example.org/kit?member=Q1ABC" in asks.letter(walk, "Q1ABC", base="https://kits.example.org")
    for base in (told.BASE, "http://127.0.0.1:8611", "http://[::1]:8501"):
        assert "://" not in asks.letter(walk, "Q1ABC", base=base)
