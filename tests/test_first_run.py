"""The way out of the invented club: a copy first, everything invented out of force, what is one's own kept."""

import threading

import pytest

from dashboard import first_run, standing
from data import backup, history, invented, restoring, upload
from data.store import Store
from tests.pages import alone, page, words

HEAD = b"member,kit,item,kind\n"
EVENTS = b"event,starts,ends\nLantern Parade,2027-04-25T05:15,2027-04-25T14:00\n"
POSTS = (
    b"event,post,post_type,opens,closes\nLantern Parade,Ford,aid_station,2027-04-25T06:00,2027-04-25T12:00\n"
)
INVENTED = {
    "inventory": HEAD + b"Q1AAA,bag,radio,handheld\nQ1BBB,box,radio,handheld\n",
    "members": b"member\nQ1AAA\nQ1BBB\n",
    "events": EVENTS,
    "posts": POSTS,
    "assignments": b"event,post,member,kit,from,to\n"
    b"Lantern Parade,Ford,Q1AAA,bag,2027-04-25T06:00,2027-04-25T12:00\n",
    "loans": b"item,borrower,out,due\nmast,Q1BBB,2027-04-01,2027-04-20\n",
    "offers": b"offer,kind,price_usd\na good pack,handheld_pack,30\n",
}
OWN = {
    "inventory": HEAD + b"Q1AAA,bag,another radio,handheld\nQX5NEW,own bag,own radio,handheld\n",
    "events": EVENTS + b"Own Walk,2027-05-25T05:15,2027-05-25T14:00\n",
}


@pytest.fixture
def club(tmp_path):
    """A small invented club, with a kit, an event and a change of an invented kit on top."""
    with alone():
        opened = standing.open_club(tmp_path / "club.duckdb")
        for stem, payload in INVENTED.items():
            opened.store.accept(upload.read(f"{invented.MARK}{stem}.csv", payload, stem), "me")
        for stem, payload in OWN.items():
            opened.store.accept(upload.read(f"whole-{stem}.csv", payload, stem), "me")
        yield opened


def in_force(store: Store) -> dict[str, int]:
    return {stem: len(rows) for stem, rows in store.frames().items() if len(rows)}


def test_what_is_invented_goes_and_what_is_ones_own_stays(club):
    done = first_run.remove_demo("me")
    assert in_force(club.store) == done.left == {"inventory": 1, "events": 1}
    assert club.store.frames()["inventory"]["item"].tolist() == ["own radio"]
    assert club.store.frames()["events"]["event"].tolist() == ["Own Walk"]
    assert not first_run.has_demo()
    assert list(club.standing().of("member")["subject"]) == ["QX5NEW"]


def test_a_thing_of_the_invented_club_that_is_lent_to_ones_own_member_goes_and_ones_own_does_not(club):
    pool = b"member,kit,item,kind,owner\nQ1BBB,shelf,10 m mast,dc_lead,club\nQ1BBB,shelf,watt meter,dc_lead,club\n"
    club.store.accept(upload.read(f"{invented.MARK}pool.csv", pool, "inventory"), "me")
    added = (
        b"member,kit,item,kind,owner\nQ1BBB,shelf,late coax,coax,club\nQX5NEW,shelf,watt meter,dc_lead,club\n"
    )
    club.store.accept(upload.read("added.csv", added, "inventory"), "me")
    lent = b"item,borrower,out,due\n" + b"".join(
        b"%s,QX5NEW,2027-04-01,2027-04-20\n" % item
        for item in (b"10 M mast", b"late coax", b"watt meter", b"box of our own")
    )
    club.store.accept(upload.read("loans.csv", lent, "loans"), "me")
    assert first_run.remove_demo("me").left["loans"] == 2
    assert club.store.frames()["loans"]["item"].tolist() == ["watt meter", "box of our own"]


@pytest.mark.parametrize("mark", [invented.MARK, 2 * invented.MARK])
def test_a_file_of_the_invented_club_that_was_made_ones_own_stays_whatever_its_name(club, mark):
    club.accept(upload.read(f"{mark}inventory.csv", OWN["inventory"], "inventory"), "me")
    assert first_run.remove_demo("me").left["inventory"] == 1
    assert club.store.frames()["inventory"]["item"].tolist() == ["own radio"]


def test_a_copy_is_made_first_and_brings_everything_back(club, tmp_path):
    before = in_force(club.store)
    done = first_run.remove_demo("me")
    (copy,) = backup.listed(tmp_path / "club.duckdb")
    assert copy.name == done.copy
    restoring.restore(club.store, copy, "me")
    assert in_force(club.store) == before


def test_nothing_goes_where_no_copy_can_be_made(club, monkeypatch):
    def full(store: Store) -> None:
        raise first_run.backup.StoreError("no room")

    before = in_force(club.store)
    monkeypatch.setattr(first_run.backup, "make", full)
    with pytest.raises(first_run.backup.StoreError):
        first_run.remove_demo("me")
    assert in_force(club.store) == before


def test_the_record_tells_how_the_club_stood_before_and_after(club):
    version = club.store.version()
    first_run.remove_demo("me")
    frames, unread = history.frames_at(club.store, version, lambda text: upload.NO_ALIASES)
    assert len(frames["members"]) == 2 and not unread
    frames, _ = history.frames_at(club.store, club.store.version(), lambda text: upload.NO_ALIASES)
    assert {stem: len(rows) for stem, rows in frames.items() if len(rows)} == in_force(club.store)
    assert "begun anew" in set(club.store.changes_log()["what"])


def test_the_page_asks_before_it_removes_and_says_what_became_of_it(club):
    app = page("start")
    assert app.button(key="remove-demo").disabled
    app.checkbox(key="demo_sure").check().run()
    app.button(key="remove-demo").click().run()
    assert not app.exception
    assert "The invented club is gone" in words(app)
    assert "What is your own stays: 1 row of inventory and 1 row of events." in words(app)
    assert "in the copy club" in words(app)
    assert "take the invented club out" not in words(app)
    assert "these are not there yet" in words(app), (
        "the events are the club's own; members and posts are gone"
    )


def test_a_club_with_nothing_of_its_own_is_empty_again(tmp_path):
    with alone():
        opened = standing.open_club(tmp_path / "club.duckdb")
        sent = upload.read(f"{invented.MARK}inventory.csv", INVENTED["inventory"], "inventory")
        opened.store.accept(sent, "me")
        assert first_run.remove_demo("me").left == {}
        assert first_run.is_empty() and in_force(opened.store) == {}
        assert "look around in an invented club" in words(page("start"))


def test_nobody_sends_anything_between_the_look_and_the_invented_club(tmp_path, monkeypatch):
    looked = first_run.is_empty
    with alone():
        opened = standing.open_club(tmp_path / "club.duckdb")
        own = upload.read("inventory.csv", OWN["inventory"], "inventory")
        sender = threading.Thread(target=opened.store.accept, args=(own, "me"))

        def look() -> bool:
            found = looked()
            sender.start()
            sender.join(0.5)
            return found

        monkeypatch.setattr(first_run, "is_empty", look)
        first_run.load_demo("me")
        sender.join()
        assert opened.store.uploads()["file"].iloc[0] == "inventory.csv"
