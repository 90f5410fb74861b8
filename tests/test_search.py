"""Search and the first run."""

import time

import pytest

from dashboard import access, first_run, searching, standing
from dashboard.access import Person, Role, Sight
from tests.pages import alone, page, words

ALL = Sight(access.HERE, {"": "full"})


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    """A store that the invented club was loaded into as on the first run."""
    with alone():
        opened = standing.open_club(tmp_path_factory.mktemp("first") / "club.duckdb")
        opened.empty_said = words(page("start"))
        opened.rows = first_run.load_demo("a test")
        yield opened


def kinds(club, text, sight=ALL):
    return {found.kind: found for found in searching.search(searching.index(club.standing()), text, sight)}


def test_an_empty_store_offers_an_invented_club_or_ones_own(club):
    assert "look around in an invented club" in club.empty_said
    assert "begin with your own club" in club.empty_said


def test_the_invented_club_is_loaded_whole_and_marked(club):
    uploads = club.store.uploads()
    assert uploads["file"].str.startswith("invented-").all()
    assert club.rows == uploads["rows"].sum() > 1_000


def test_the_invented_club_is_not_put_over_a_real_one(club):
    before = club.store.version()
    with pytest.raises(first_run.NotEmptyError):
        first_run.load_demo("a test")
    assert club.store.version() == before
    assert "The invented club is in this database." in words(page("start"))


def test_each_kind_is_found_by_its_words(club):
    now = club.standing()
    member = now.of("member").iloc[0]["subject"]
    assert kinds(club, member.lower())["member"].entries[0].title == member
    post = now.of("post").iloc[0]
    entry = kinds(club, f"{post['post']} {post['event']}")["post"].entries[0]
    assert entry.query == {"event": post["event"], "post": post["post"]}
    rule = now.assessment.rules[3]
    assert rule.name in [entry.query["rule"] for entry in kinds(club, rule.title)["rule"].entries]
    finding = now.assessment.findings()[0]
    assert finding.sentence in [
        entry.title for entry in kinds(club, finding.sentence[:90])["finding"].entries
    ]
    kit = now.of("kit").iloc[0]
    assert kinds(club, f"{kit['kit']} {kit['member']}")["kit"].entries[0].member == kit["member"]
    assert "thing" in kinds(club, "handheld")


def test_every_word_must_be_held(club):
    assert kinds(club, "handheld zzzz") == {}
    assert kinds(club, "   ") == {}


def test_what_is_not_shared_is_not_found(club):
    now = club.standing()
    mine, other = now.of("member")["subject"].iloc[:2]
    sight = Sight(Person("me", Role.MEMBER, mine), {"": "verdicts"})
    assert "kit" in kinds(club, mine, sight)
    hidden = kinds(club, other, sight)
    assert not {"member", "kit", "thing"} & set(hidden)


def test_searching_is_quick(club):
    entries = searching.index(club.standing())
    began = time.process_time()
    searching.search(entries, "battery", ALL)
    assert time.process_time() - began < 0.25
    assert searching.index(club.standing()) is entries


def test_the_page_lists_what_was_found_with_links(club):
    member = club.standing().of("member").iloc[0]["subject"]
    app = page("find", q=member)
    assert "members (1)" in words(app)
    assert "Nothing holds all" in words(page("find", q="zzzz qqqq"))
    assert "Write one or more words" in words(page("find"))
