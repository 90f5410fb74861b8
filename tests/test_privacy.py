"""Nobody is shown, and nobody changes, more than their role and the sharing of kits allow, by whatever way."""

import ast
import os
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import duckdb
import pytest
from typer.testing import CliRunner

from dashboard import access, command, parts, searching, serve
from dashboard.access import Person, Role, Sight
from data import backup, belongings, invented, restoring, upload
from data.people import People
from data.store import Store
from rules.plans import report
from tests.test_access import INVENTORY, SECRETS, address, club, opened, shown, signed_in  # noqa: F401 (a fixture)

DASHBOARD = Path(access.__file__).parent


@pytest.fixture
def shares(club):  # noqa: F811
    """Share Q1CCC's kits some way during one test."""
    yield lambda share: club.people.set_share("Q1CCC", share, "test")
    club.people.set_share("Q1CCC", None, "test")


@pytest.fixture
def role(club):  # noqa: F811
    """Make the member of the club something else during one test."""
    number = club.people.of_login(address(Role.MEMBER)).person_id
    yield lambda role: club.people.set_role(number, role, "test")
    club.people.set_role(number, Role.MEMBER, "test")


def is_told(app) -> bool:
    return any(secret in shown(app.main) for secret in SECRETS)


def forged(app, key: str, value: str):
    """The page after a browser that was changed has answered with what a choice does not offer."""
    box = app.selectbox(key=key)
    box.options.append(value)
    return box.set_value(value).run()


def given(app, payload: bytes, name: str = "inventory.csv"):
    """The page after a file was chosen, before it is accepted."""
    return app.file_uploader[0].upload(name, payload, "text/csv").run()


# ---- what is shown


def test_an_address_or_a_forged_choice_shows_no_kit_that_is_not_shared(shares):
    for share in ("none", "verdicts"):
        shares(share)
        assert not is_told(opened("kit", signed_in(Role.VIEWER), member="Q1CCC"))
        app = forged(opened("kit", signed_in(Role.MEMBER)), "member", "Q1CCC")
        assert not is_told(app)
        assert share == "verdicts" or b"hidden box" not in shown(app.main)


@pytest.mark.parametrize("role_", [Role.MEMBER, Role.EVENT_LEAD])
def test_choosing_a_file_for_anothers_kit_does_not_show_what_stands_in_it(club, role_):  # noqa: F811
    theirs = b"member,kit,item,kind\nQ1CCC,hidden box,guess,handheld\n"
    app = given(opened("send", signed_in(role_)), theirs)
    assert not is_told(app)
    assert "you may not send a member's lists" in app.warning[0].value
    assert "accept" not in [button.key for button in app.button]


def test_what_came_of_assignments_shows_an_event_lead_no_kit_in_full(club):  # noqa: F811
    sent = b"event,post,member,kit\nRiver Run,Ford,Q1CCC,hidden box\n"
    app = given(opened("send", signed_in(Role.EVENT_LEAD)), sent, "assignments.csv")
    app.button(key="try-out").click().run()
    assert not app.exception and b"Fix first" not in shown(app.main)


def test_search_finds_findings_on_posts_only_for_those_who_see_every_kit(club):  # noqa: F811
    entries = searching.index(club.standing())
    closed = [entry for entry in entries if entry.kind == "finding" and not entry.member]
    assert closed, "the club of this test has findings on a post or an event"
    for someone in (Person("M", Role.MEMBER, "Q1AAA"), Person("V", Role.VIEWER)):
        sight = Sight(someone, {"": "verdicts"})
        for entry in closed:
            found = searching.search(entries, entry.title[: searching.LONGEST], sight)
            assert "finding" not in [group.kind for group in found]
    sight = Sight(Person("C", Role.COORDINATOR), {"": "verdicts"})
    found = searching.search(entries, closed[0].title[: searching.LONGEST], sight)
    assert "finding" in [group.kind for group in found]


# ---- what is changed


def test_a_file_is_not_accepted_from_someone_who_stopped_being_a_member_meanwhile(club, role):  # noqa: F811
    app = given(
        opened("send", signed_in(Role.MEMBER)), INVENTORY.splitlines(True)[0] + b"Q1AAA,new,x,handheld\n"
    )
    if app.checkbox:
        app.checkbox(key="agree").check().run()
    role("viewer")
    version = club.store.version()
    app.button(key="accept").click().run()
    assert club.store.version() == version


def test_a_report_is_not_saved_for_someone_who_may_report_no_more(club, role, monkeypatch):  # noqa: F811
    monkeypatch.setattr(report, "has_begun", lambda event, today: True)
    role("event lead")
    app = opened("after", signed_in(Role.MEMBER))
    thing = next(box for box in app.multiselect if box.label == "what failed?")
    thing.set_value([thing.options[0]]).run()
    role("viewer")
    version = club.store.version()
    app.button(key="save").click().run()
    assert club.store.version() == version


def test_a_kit_filled_in_on_a_page_is_saved_only_once_its_member_agreed(club, monkeypatch):  # noqa: F811
    monkeypatch.setattr(access, "CONSENT", "A text that nobody agreed to yet.")
    app = opened("mine", signed_in(Role.MEMBER), member="Q1AAA", kit="new bag")
    app.selectbox(key="checklist").select("handheld bag").run()
    app.button(key="begin").click().run()
    assert app.button(key="save").disabled
    version = club.store.version()
    app.checkbox(key="agree").check().run()
    app.button(key="save").click().run()
    assert club.store.version() > version + 1, "the list, and that its member agreed"
    assert club.people.has_agreed(club.people.of_login(address(Role.MEMBER)).person_id, access.CONSENT)


def is_fragment(node: ast.AST) -> bool:
    return isinstance(node, ast.FunctionDef) and "st.fragment" in map(ast.unparse, node.decorator_list)


def test_every_part_of_a_page_that_runs_on_its_own_asks_who_looks():
    for file in (DASHBOARD / "views").glob("*.py"):
        for node in filter(is_fragment, ast.walk(ast.parse(file.read_text("utf-8")))):
            asks = ast.unparse(node.body[1])  # after its docstring
            assert "access.require(" in asks, f"{file.name}: {node.name}"


# ---- downloads that are made late


def test_a_download_is_made_only_while_its_reader_stays_who_they_were(club, role, monkeypatch):  # noqa: F811
    monkeypatch.setattr(access, "signed_in", lambda: club.people.of_login(address(Role.MEMBER)))
    made = access.held(lambda: b"list")
    assert made() == b"list"
    role("viewer")
    with pytest.raises(PermissionError):
        made()
    made = access.held(lambda: b"list")
    club.people.sign_out(club.people.of_login(address(Role.MEMBER)).person_id)
    with pytest.raises(PermissionError):
        made()


def test_every_download_is_offered_by_the_part_that_holds_what_is_made_late(club, role, monkeypatch):  # noqa: F811
    asked = [file for file in DASHBOARD.rglob("*.py") for node in ast.walk(ast.parse(file.read_text("utf-8")))
             if getattr(node, "attr", getattr(node, "value", "")) == "download_button"]  # fmt: skip
    assert asked == [DASHBOARD / "parts.py"]
    given = []
    monkeypatch.setattr(access, "signed_in", lambda: club.people.of_login(address(Role.MEMBER)))
    monkeypatch.setattr(parts.st, "download_button", lambda label, made, *_, **more: given.append(made))
    parts.download("Download it", lambda: b"list", "list.csv", "key")
    role("viewer")
    with pytest.raises(PermissionError):
        given[0]()


# ---- sign-ins, files, erasing


def test_an_address_that_the_provider_does_not_say_it_verified_is_nobodys():
    told = {"email": "coordinator@club.example", "sub": "stranger-1"}
    assert access.login_of(told) == "stranger-1"
    assert access.login_of(told | {"email_verified": True}) == "coordinator@club.example"


def test_a_new_database_is_for_its_owner_alone_wherever_it_stands(tmp_path):
    tmp_path.chmod(0o755)
    Store(tmp_path / "club.duckdb").close()
    assert (tmp_path / "club.duckdb").stat().st_mode & 0o077 == 0


def test_an_old_database_that_others_could_read_is_closed_to_them_with_its_journal_and_copies(tmp_path):
    db = tmp_path / "club.duckdb"
    held = "import os, sys; from pathlib import Path; from data.store import Store; os.umask(0o022);" \
        "store = Store(Path(sys.argv[1])); store.set_policy('', 'test', 'why'); os._exit(9)"  # fmt: skip
    subprocess.run([sys.executable, "-c", held, str(db)], cwd=DASHBOARD.parent, check=False)
    copy, other = tmp_path / "backups" / "club-000001-20270101T000000Z.duckdb", tmp_path / "backups" / "other"
    copy.parent.mkdir()
    journal = db.with_name("club.duckdb.wal")
    assert journal.exists() and journal.stat().st_mode & 0o077, "the journal of a process that was killed"
    for file in (copy, other):
        file.write_bytes(b"")
    for file in (db, journal, copy, other):
        file.chmod(0o644)
    modes = {}
    connect = duckdb.connect
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            "data.store.duckdb.connect",
            lambda *a: modes.update({file: file.stat().st_mode & 0o777 for file in (db, journal)}) or connect(*a),
        )  # fmt: skip
        Store(db).close()
    assert modes == {db: 0o600, journal: 0o600}, "closed before anything is written"
    assert [file.stat().st_mode & 0o777 for file in (db, copy, other)] == [0o600, 0o600, 0o644]


@pytest.mark.parametrize(
    "words", [["backup"], ["restore"], ["export", "out"], ["people", "list"]], ids=lambda words: words[0]
)
def test_what_a_command_writes_of_the_database_is_for_its_owner_alone(tmp_path, words):
    before = os.umask(0o022)
    try:
        CliRunner().invoke(command.app, [*words, "--db", str(tmp_path / "club.duckdb")])
        assert os.umask(0o022) == 0o077
    finally:
        os.umask(before)


def test_what_the_server_writes_is_for_its_owner_alone(tmp_path, monkeypatch):
    monkeypatch.setattr(serve, "asgi", lambda *told: None)
    monkeypatch.setattr(serve.logs, "begin", lambda is_chatty: None)
    monkeypatch.setattr(serve.uvicorn.Server, "run", lambda server: None)
    before = os.umask(0o022)
    try:
        serve.run(tmp_path / "club.duckdb")
        assert os.umask(0o022) == 0o077
    finally:
        os.umask(before)


@pytest.fixture
def store(tmp_path):
    """A store with two members, one of whom is named in what the other wrote and in the name of a file."""
    store = Store(tmp_path / "club.duckdb")
    store.accept(upload.read("of-q1ccc.csv", INVENTORY, "inventory"), "test")
    tried = b"member,kit,date,stage,missing\nQ1AAA,own bag,2026-05-01,yard,cable that Q1CCC has\n"
    store.accept(upload.read("rehearsals.csv", tried), "test")
    events = b"event,starts,ends\nRiver Run,2027-04-25T05:15,2027-04-25T14:00\n"
    store.accept(upload.read("by-q1ccc.csv", events, "events"), "test")
    yield store
    store.close()


def test_an_erased_member_is_not_named_in_what_others_wrote_nor_by_a_file(store):
    belongings.erase(store, "Q1CCC", "test")
    told = store.frames()
    assert told["rehearsals"]["missing"].isna().all() and len(told["events"]) == 1
    assert not store.uploads()["file"].str.upper().str.contains("Q1CCC").any()
    assert not any(b"Q1CCC" in store.payload(number)[1] for number in store.uploads()["upload_id"])


def test_what_others_called_their_own_things_stays_and_is_counted(store):
    named = b"member,kit,item,kind\nQ1AAA,bag for Q1CCC,lead of q1ccc,dc_lead\nQ1AAA,bag for Q1CCC,Q1CCCX,dc_lead\n"
    store.accept(upload.read("inventory.csv", named), "test")
    said = belongings.erase(store, "Q1CCC", "test")
    assert said.endswith("names of others' things that still hold theirs: 2")
    assert set(store.frames()["inventory"]["item"]) == {"own radio", "lead of q1ccc", "Q1CCCX"}
    assert "Q1CCC" not in store.changes_log().iloc[0]["detail"]
    assert "still hold" not in belongings.erase(store, "Q1AAA", "test")


@pytest.mark.parametrize("into", ["a new file", "the invented club"])
def test_no_key_and_no_sign_in_of_a_copy_that_comes_whole_counts(tmp_path, into):
    """Which of them were ended after it was made is not known there."""
    with closing(Store(tmp_path / "club.duckdb")) as store:
        people = People(store)
        number = people.add("first@club.example", "First", "coordinator", "", "test")
        ended, kept = (people.new_token(number, "test", "test") for _ in range(2))
        copy = backup.make(store)
        people.revoke_token(1, "test")
        store.accept(upload.read("inventory.csv", INVENTORY), "test")
        restoring.restore(store, copy, "test")
        assert people.person_of_token(ended) is None and people.person_of_token(kept) is not None
    with closing(Store(tmp_path / "other" / "club.duckdb")) as other:
        if into == "the invented club":
            other.accept(upload.read(f"{invented.MARK}inventory.csv", INVENTORY, "inventory"), "test")
        restoring.restore(other, copy, "test")
        people = People(other)
        assert people.person_of_token(ended) is None and people.person_of_token(kept) is None
        found = people.of_login("first@club.example")
        assert found is not None and found.valid_from is not None


def test_a_copy_made_after_erasing_holds_no_byte_of_it(store):
    belongings.erase(store, "Q1CCC", "test")
    held = backup.make(store).read_bytes()
    assert not any(secret in held for secret in (*SECRETS, b"Q1CCC"))
