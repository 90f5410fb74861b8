"""Who may sign in, keys, agreements, sharing; taking out and erasing; how the club stood before."""

import io
import stat
import threading
import zipfile
from datetime import UTC, datetime, timedelta

import pytest

from dashboard import sign_in, standing
from dashboard.limits import Limit
from data import belongings, history, people, upload
from data.people import People, PeopleError
from data.store import Store
from tests.pages import alone

INVENTORY = b"""member,kit,item,kind,quantity,notes
Q1AAA,red bag,old radio,handheld,1,charged by Q1BBB
Q1AAA,red bag,packs,handheld_pack,2,
Q1BBB,blue bag,new radio,handheld,1,
Q1AAA,red bag,whip,jpole,1,
"""
MEMBERS = b"member,solo_ok,licence_class\nQ1AAA,yes,\nQ1BBB,no,\n"
LATER = (
    b"member,kit,item,kind\nQ1BBB,blue bag,newer radio,handheld\nQ1BBB,blue bag,spare pack,handheld_pack\n"
)


def sent(name: str, payload: bytes) -> upload.Upload:
    read = upload.read(name, payload)
    assert read.problems == []
    return read


@pytest.fixture
def store():
    store = Store(None)
    yield store
    store.close()


@pytest.fixture
def known(store):
    return People(store)


@pytest.fixture
def club(tmp_path):
    """A club of two members with two uploads that hold both, and a third of one."""
    with alone():
        club = standing.open_club(tmp_path / "club.duckdb")
        club.accept(sent("q1bbb inventory.csv", INVENTORY), "Second")
        club.accept(sent("members.csv", MEMBERS), "First")
        club.people.add("second@example.org", "Second", "member", "Q1BBB", "First")
        club.accept(sent("inventory.csv", LATER), "Second")
        yield club


# ---- who


def test_someone_added_can_sign_in_whatever_the_case_of_the_address(known):
    known.add("First@Example.org", "First", "coordinator", "", "test")
    found = known.of_login("first@example.ORG")
    assert found is not None and (found.name, found.role) == ("First", "coordinator")
    assert known.of_login("") is None and known.of_login("third@example.org") is None


@pytest.mark.parametrize(
    ("told", "says"),
    [
        (("", "Third", "member", ""), "login: empty"),
        (("third@example.org", " ", "member", ""), "name: empty"),
        (("third@example.org", "Third", "chief", ""), 'role: "chief" is not known'),
        (("FIRST@example.org", "Third", "member", ""), "can sign in already, as First"),
        (("third@example.org", "First", "member", ""), "is in the records already"),
        (("third@example.org", "Third", "member", "q1aaa"), 'member: "Q1AAA" is First already'),
    ],
)
def test_what_cannot_be_added_is_said(known, told, says):
    known.add("first@example.org", "First", "coordinator", "Q1AAA", "test")
    with pytest.raises(PeopleError, match=says):
        known.add(*told, by="test")
    assert len(known.known()) == 1


def test_the_last_coordinator_stays(known):
    first = known.add("first@example.org", "First", "coordinator", "", "test")
    for change in (lambda: known.remove(first, "test"), lambda: known.set_role(first, "viewer", "test")):
        with pytest.raises(PeopleError, match="only coordinator"):
            change()
    third = known.add("third@example.org", "Third", "coordinator", "", "test")
    known.remove(first, "test")
    assert known.of_login("first@example.org") is None
    with pytest.raises(PeopleError):
        known.set_role(third, "viewer", "test")


def test_every_change_of_people_stands_in_the_records(store, known):
    first = known.add("first@example.org", "First", "coordinator", "", "test")
    third = known.add("third@example.org", "Third", "member", "Q1BBB", "First")
    known.set_role(third, "event lead", "First")
    known.set_member(third, "q1ccc ", "First")
    known.set_member(third, "Q1CCC", "First")
    known.set_share("Q1BBB", "none", "First")
    known.agree(third, "text")
    known.withdraw(third)
    key = known.new_token(third, "logger", "First")
    known.revoke_token(1, "First")
    known.remove(third, "First")
    log = store.changes_log().iloc[::-1]
    assert list(log["what"]) == [
        "person added", "person added", "role changed", "member changed", "sharing changed", "agreed", "withdrew",
        "key made", "key ended", "person removed",
    ]  # fmt: skip
    assert list(log["by"]) == [
        "test",
        "First",
        "First",
        "First",
        "First",
        "Third",
        "Third",
        "First",
        "First",
        "First",
    ]
    assert key not in log.to_csv() and first == 1


# ---- keys


def test_a_key_acts_for_its_person_until_it_is_ended_expires_or_they_are_removed(store, known, monkeypatch):
    known.add("first@example.org", "First", "coordinator", "", "test")
    owner = known.add("third@example.org", "Third", "member", "Q1BBB", "test")
    first, second, third = (known.new_token(owner, "logger", "First", days=2) for _ in range(3))
    assert {known.person_of_token(key).name for key in (first, second, third)} == {"Third"}
    assert known.person_of_token(first[:-1]) is None and known.person_of_token("") is None
    known.revoke_token(1, "First")
    assert known.person_of_token(first) is None
    assert known.person_of_token(second) is not None

    class Later(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime.now(tz) + timedelta(days=2, seconds=1)

    monkeypatch.setattr(people, "datetime", Later)
    assert known.person_of_token(second) is None
    monkeypatch.setattr(people, "datetime", datetime)
    known.remove(owner, "First")
    assert known.person_of_token(third) is None


def test_only_the_digest_of_a_key_is_kept(tmp_path):
    path = tmp_path / "club.duckdb"
    store = Store(path)
    known = People(store)
    key = known.new_token(
        known.add("first@example.org", "First", "coordinator", "", "test"), "logger", "test"
    )
    store.close()
    assert key.encode() not in path.read_bytes()


@pytest.mark.parametrize("days", [0, 367])
def test_a_key_counts_for_a_year_at_most(known, days):
    first = known.add("first@example.org", "First", "coordinator", "", "test")
    with pytest.raises(PeopleError, match="days"):
        known.new_token(first, "logger", "test", days=days)


# ---- agreement and sharing


def test_an_agreement_is_to_one_text_until_it_is_withdrawn(known):
    first = known.add("first@example.org", "First", "coordinator", "", "test")
    assert not known.has_agreed(first, "text")
    known.agree(first, "text")
    assert known.has_agreed(first, "text") and not known.has_agreed(first, "another text")
    known.withdraw(first)
    assert not known.has_agreed(first, "text")


def test_verdicts_are_shared_unless_the_club_or_a_member_says_otherwise(known):
    assert known.shares() == {"": "verdicts"}
    known.set_share("", "none", "test")
    known.set_share("Q1AAA", "full", "test")
    assert known.shares() == {"": "none", "Q1AAA": "full"}
    known.set_share("Q1AAA", None, "test")
    assert known.shares() == {"": "none"}
    with pytest.raises(PeopleError):
        known.set_share("Q1AAA", "some", "test")


# ---- taking out


def test_everything_of_a_member_is_in_the_zip_and_nothing_of_others(club):
    bundle = zipfile.ZipFile(io.BytesIO(belongings.export(club.store, "Q1BBB")))
    files = {name: bundle.read(name).decode() for name in bundle.namelist()}
    assert "newer radio" in files["in_force/inventory.csv"]
    assert "new radio" in files["sent/1_inventory.csv"]
    assert "Q1BBB" in files["in_force/members.csv"]
    assert "second@example.org" in files["person.csv"]
    assert "old radio" not in "".join(files.values()) and "Q1AAA" not in files["in_force/members.csv"]


# ---- erasing


def everything(store: Store) -> str:
    """All that the database holds, as text."""
    cur = store.cursor()
    tables = [name for (name,) in cur.execute("show tables").fetchall()]
    held = "\n".join(cur.execute(f'select * from "{table}"').df().to_csv() for table in tables)
    payloads = cur.execute("select payload from upload").fetchall()
    cur.close()
    return held + "".join(payload.decode() for (payload,) in payloads)


def test_nothing_of_an_erased_member_is_left_and_everything_of_others_is(club):
    before = club.store.frames()["inventory"].query("member == 'Q1AAA'").drop(columns=["file", "notes"])
    club.erase("Q1BBB", "First")
    held = everything(club.store)
    for word in ("Q1BBB", "q1bbb", "blue bag", "new radio", "newer radio", "second@example.org", "Second"):
        assert word not in held, word
    after = club.store.frames()["inventory"].drop(columns=["file", "notes"])
    assert after.reset_index(drop=True).equals(before.reset_index(drop=True))
    log = club.store.changes_log()
    assert (log.iloc[0]["what"], log.iloc[0]["by"]) == ("erased", "First")
    assert len(log) == 5, "every entry stands, the last one new"


def test_what_is_left_can_still_be_restored_and_judged_as_it_was(club):
    club.erase("Q1BBB", "First")
    version = club.standing().version
    assert club.then(version).is_same
    assert list(club.store.uploads().sort_values("upload_id")["rows"]) == [3, 1, 0]
    club.restore(1, "First")
    assert set(club.store.frames()["inventory"]["member"]) == {"Q1AAA"}


def test_who_erases_themselves_is_called_by_a_number(club):
    club.erase("Q1BBB", "Second")
    assert club.store.changes_log().iloc[0]["by"] == "erased person 1"
    assert club.people.of_login("second@example.org") is None


# ---- how it stood


def test_old_scores_come_out_the_same_from_files_policy_and_day(club):
    then = {club.standing().version: club.standing().scores}
    club.set_policy("[weight]\nadvice = 0.25\n", "First", "advice counts less")
    then[club.standing().version] = club.standing().scores
    club.accept(sent("inventory.csv", LATER.replace(b"spare pack", b"worn pack")), "Second")
    club.restore(1, "First")
    then[club.standing().version] = club.standing().scores
    for version, scores in then.items():
        again = club.then(version)
        assert again.is_same, version
        columns = ["subject_kind", "subject", "verdict", "low", "high"]
        assert again.standing.scores[columns].equals(scores[columns]), version
    assert [club.then(version).policy_id for version in then] == [0, 1, 1]


def test_the_rows_in_force_at_every_version_are_read_again(club):
    seen = {club.store.version(): club.store.frames()}
    for payload in (INVENTORY, LATER, MEMBERS.replace(b"yes", b"no")):
        stem = "members" if payload.startswith(b"member,solo") else "inventory"
        club.accept(sent(f"{stem}.csv", payload), "First")
        seen[club.store.version()] = club.store.frames()
    for version, frames in seen.items():
        again, unread = history.frames_at(club.store, version, lambda text: upload.NO_ALIASES)
        assert unread == []
        for stem, frame in frames.items():
            assert again[stem].equals(frame), (version, stem)


def test_other_rules_than_then_are_said(club, monkeypatch):
    version = club.standing().version
    monkeypatch.setattr(standing.edition, "digest", lambda own=None: "other")
    again = club.then(version)
    assert again.was.rules != again.rules == "other"


def test_a_list_is_tried_without_keeping_anything(club):
    before, frames = club.store.version(), club.store.frames()
    tried = club.trial([sent("inventory.csv", LATER.replace(b"blue bag", b"third bag"))])
    assert "third bag" in set(tried.of("kit")["kit"])
    assert club.store.version() == before
    assert all(club.store.frames()[stem].equals(frame) for stem, frame in frames.items())
    assert "third bag" not in set(club.standing().of("kit")["kit"])


# ---- how often


def test_a_limit_holds_for_each_and_ends_with_time():
    now = [0.0]
    limit = Limit(2, 60, lambda: now[0])
    assert [limit.take("First") for _ in range(3)] == [True, True, False]
    assert not limit.take("First") and limit.take("Second")
    now[0] = 60.0
    assert limit.take("First")


def test_a_limit_holds_for_many_threads_at_once():
    limit, taken = Limit(10, 60), []
    threads = [threading.Thread(target=lambda: taken.append(limit.take("First"))) for _ in range(30)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(taken) == 10


# ---- the sign-in


def test_the_secret_is_made_once_for_its_owner_alone(tmp_path, monkeypatch):
    monkeypatch.delenv(sign_in.COOKIE_SECRET, raising=False)
    made = sign_in.cookie_secret(tmp_path / "club.duckdb")
    file = tmp_path / "cookie-secret"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600 and len(made) >= 32
    assert sign_in.cookie_secret(tmp_path / "club.duckdb") == made
    file.chmod(0o644)
    with pytest.raises(sign_in.SignInError, match="others can read it"):
        sign_in.cookie_secret(tmp_path / "club.duckdb")
    monkeypatch.setenv(sign_in.COOKIE_SECRET, "x" * 40)
    assert sign_in.cookie_secret(tmp_path / "club.duckdb") == "x" * 40
    monkeypatch.setenv(sign_in.COOKIE_SECRET, "short")
    with pytest.raises(sign_in.SignInError, match="shorter"):
        sign_in.cookie_secret(tmp_path / "club.duckdb")


GOOD = {
    "address": "https://kits.example.org/",
    "client_id": "kits",
    "client_secret": "s",
    "server_metadata_url": "https://id.example.org/.well-known/openid-configuration",
}


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"address": "http://kits.example.org"}, "readable on the way"),
        ({"server_metadata_url": "http://id.example.org/x"}, "readable on the way"),
        ({"client_id": ""}, "client_id: nothing stands there"),
        ({"adress": "x"}, '"adress" is not known'),
    ],
)
def test_a_sign_in_that_cannot_be_used_is_said(tmp_path, change, says):
    file = tmp_path / "club.toml"
    file.write_text("".join(f'{key} = "{value}"\n' for key, value in (GOOD | change).items()))
    with pytest.raises(sign_in.SignInError, match=says):
        sign_in.read(file)


def test_a_sign_in_is_read_with_its_secret_from_the_environment(tmp_path, monkeypatch):
    monkeypatch.setenv(sign_in.CLIENT_SECRET, "from outside")
    file = tmp_path / "club.toml"
    file.write_text("".join(f'{k} = "{v}"\n' for k, v in GOOD.items() if k != "client_secret"))
    told = sign_in.read(file)
    assert (told.client_secret, told.host, told.is_encrypted) == ("from outside", "kits.example.org", True)
    assert told.auth("c")["redirect_uri"] == "https://kits.example.org/oauth2callback"


def test_moments_are_in_utc(store, known):
    known.add("first@example.org", "First", "coordinator", "", "test")
    assert known.known()[0].added.astimezone(UTC) <= datetime.now(UTC)
