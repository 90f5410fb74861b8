"""The page and the commands that say who may do what: every form of them, who may use it, and what is refused."""

import json
from contextlib import closing

import pandas as pd
import pytest
from typer.main import get_command
from typer.testing import CliRunner

from dashboard import access, command, edits, limits
from dashboard.access import Role
from data import upload
from data.people import People
from data.store import Store
from tests.pages import words as said_on
from tests.test_access import address, club, opened, signed_in  # noqa: F401 (a fixture)

pytestmark = pytest.mark.usefixtures("judged_once")


def named(app, label: str):
    """The one button with a label."""
    (button,) = [button for button in app.button if button.label == label]
    return button


def table(app, column: str):
    """The one table that has a column."""
    (found,) = [frame for frame in app.dataframe if column in frame.value.columns]
    return found


def person(club, name: str):  # noqa: F811
    (found,) = [known for known in club.people.known() if known.name == name]
    return found


def choose(app, name: str, club):  # noqa: F811
    return app.selectbox(key="one-person").set_value(person(club, name).person_id).run()


@pytest.fixture
def someone(club):  # noqa: F811
    """Someone who is a member of the club during one test; their number."""
    number = club.people.add(
        "someone@club.example", f"Someone {len(club.people.known())}", "member", "", "test"
    )
    yield number
    if any(known.person_id == number and known.removed is None for known in club.people.known()):
        club.people.remove(number, "test")


def test_a_person_is_added_by_the_form_and_what_is_wrong_is_said(club):  # noqa: F811
    app = opened("people", signed_in(Role.COORDINATOR))
    app.text_input(key="new-login").set_value("new@club.example")
    app.text_input(key="new-name").set_value("**New**")
    app.selectbox(key="new-role").set_value("viewer")
    named(app, "Add").click().run()
    assert person(club, "**New**").role == "viewer"
    assert app.text_input(key="new-login").value == ""
    app.text_input(key="new-login").set_value("new@club.example")
    app.text_input(key="new-name").set_value("Other")
    named(app, "Add").click().run()
    assert "can sign in already" in app.error[0].value
    assert "**New**" not in app.error[0].value, "what was written is not read as Markdown"
    club.people.remove(person(club, "**New**").person_id, "test")


def test_a_role_is_changed_a_key_made_shown_once_and_ended_and_a_person_removed(club, someone):  # noqa: F811
    name = next(known.name for known in club.people.known() if known.person_id == someone)
    app = choose(opened("people", signed_in(Role.COORDINATOR)), name, club)
    app.selectbox(key=f"role-of-{someone}").set_value("event lead").run()
    assert person(club, name).role == "event lead"
    app.text_input(key="key-label").set_value("logger")
    app.number_input(key="key-days").set_value(2)
    app.button(key="make-key").click().run()
    (key,) = [code.value for code in app.code]
    assert club.people.person_of_token(key).name == name
    app.run()
    assert not app.code, "a key is shown once"
    number = int(club.people.tokens().iloc[0]["token_id"])
    assert app.selectbox(key="one-key").options == [f"{number}: logger"]
    columns = json.loads(table(app, "token_id").proto.columns)
    assert [columns[name]["label"] for name in ("token_id", "label")] == ["number", "what for"]
    assert "UTC" in columns["expires"]["label"], "a moment says its zone once, in the heading"
    app.selectbox(key="one-key").set_value(number).run()
    app.button(key="end-key").click().run()
    assert club.people.person_of_token(key) is None
    app.button(key="remove-person").click().run()
    assert club.people.of_login("someone@club.example") is None


def test_the_only_coordinator_is_neither_removed_nor_made_something_else(club):  # noqa: F811
    app = choose(opened("people", signed_in(Role.COORDINATOR)), "Coordinator", club)
    app.button(key="remove-person").click().run()
    assert "only coordinator" in app.error[0].value
    assert person(club, "Coordinator").removed is None


def test_the_role_and_call_sign_on_the_page_are_those_of_the_person_chosen(club, someone):  # noqa: F811
    app = opened("people", signed_in(Role.COORDINATOR))
    for name in ("Coordinator", "Member", "Viewer"):
        known = person(club, name)
        choose(app, name, club)
        assert app.selectbox(key=f"role-of-{known.person_id}").value == known.role
        assert app.text_input(key=f"member-of-{known.person_id}").value == known.member
    name = next(known.name for known in club.people.known() if known.person_id == someone)
    field = f"member-of-{someone}"
    choose(app, name, club).text_input(key=field).set_value("q9zzz").run()
    assert person(club, name).member == "Q9ZZZ"
    app.text_input(key=field).set_value("Q1AAA").run()
    assert "is Member already" in app.error[0].value
    assert person(club, name).member == "Q9ZZZ"


def test_everyone_reads_what_they_may_do(club, someone):  # noqa: F811
    member = said_on(opened("people", signed_in(Role.MEMBER)))
    assert (
        "- see events and plans" in member
        and "as Q1AAA, also:" in member
        and "- send a member's lists" in member
    )
    lead = said_on(opened("people", signed_in(Role.EVENT_LEAD)))
    assert "As an event lead you may:" in lead and "- assign people to posts" in lead and "also:" not in lead
    nobody = {**signed_in(Role.MEMBER), "email": "someone@club.example"}
    assert "a member without a call sign or member number" in said_on(opened("people", nobody))
    viewer = person(club, "Viewer").person_id
    club.people.set_member(viewer, "Q1CCC", "test")
    try:
        assert not opened("people", signed_in(Role.VIEWER)).warning, "a viewer owns nothing, whoever they are"
    finally:
        club.people.set_member(viewer, "", "test")


def test_how_far_kits_are_shared_is_chosen_for_all_and_for_one(club):  # noqa: F811
    app = opened("people", signed_in(Role.COORDINATOR))
    try:
        app.radio(key="share-all").set_value(access.Share.NONE).run()
        assert club.people.shares()[""] == "none"
        app.selectbox(key="share-who").set_value("Q1CCC").run()
        app.selectbox(key="share-Q1CCC").set_value(access.Share.FULL).run()
        assert club.people.shares()["Q1CCC"] == "full"
    finally:
        club.people.set_share("", "verdicts", "test")
        club.people.set_share("Q1CCC", None, "test")


def test_anyone_agrees_and_withdraws_for_themselves(club, monkeypatch):  # noqa: F811
    monkeypatch.setattr(access, "CONSENT", "A text that nobody has agreed to.")
    number = person(club, "Member").person_id
    app = opened("people", signed_in(Role.MEMBER))
    app.button(key="agree-here").click().run()
    assert club.people.has_agreed(number, access.CONSENT)
    app.button(key="withdraw").click().run()
    assert not club.people.has_agreed(number, access.CONSENT)
    assert "agree-here" in [button.key for button in app.button]


def test_who_sends_no_list_is_not_asked_to_agree(club, monkeypatch):  # noqa: F811
    who = {
        (role, member)
        for role in Role
        for member in ("", "Q1CCC")
        if access.sends_lists(access.Person("x", role, member))
    }
    assert {role for role, member in who if not member} == {Role.COORDINATOR}
    assert set(Role) - {role for role, member in who if member} == {Role.VIEWER}
    app = opened("people", signed_in(Role.VIEWER))
    assert "You send no lists, so there is nothing to agree to." in [said.value for said in app.text]
    assert access.CONSENT not in [said.value for said in app.text]
    assert "agree-here" not in [button.key for button in app.button]
    number = person(club, "Viewer").person_id
    club.people.agree(number, access.CONSENT)
    app.run().button(key="withdraw").click().run()
    assert not club.people.has_agreed(number, access.CONSENT), "who agreed before can still withdraw"


def test_nothing_is_erased_before_it_is_written_out(club):  # noqa: F811
    app = opened("people", signed_in(Role.COORDINATOR))
    app.selectbox(key="take-out").set_value("Q1CCC").run()
    assert app.button(key="erase-any").disabled
    app.text_input(key="sure-any").set_value("erase it").run()
    assert app.button(key="erase-any").disabled
    app.text_input(key="sure-any").set_value("Erase everything").run()
    assert not app.button(key="erase-any").disabled


@pytest.mark.parametrize("role", [role for role in Role if role is not Role.COORDINATOR])
def test_others_are_offered_only_what_is_their_own(club, role):  # noqa: F811
    app = opened("people", signed_in(role))
    assert [box.key for box in app.selectbox] == [] and not app.radio and not app.dataframe
    keys = {button.key for button in app.button} - {"sign-out"}
    assert keys <= {"agree-here", "withdraw", "erase-own"}
    assert ("erase-own" in keys) == (role is Role.MEMBER)


WAYS = {
    "Add": lambda app: named(app, "Add").click(),
    "role": lambda app: next(b for b in app.selectbox if b.key.startswith("role-of")).set_value("member"),
    "call sign": lambda app: next(b for b in app.text_input if b.key.startswith("member-of")).set_value(
        "Q9ZZZ"
    ),
    "remove-person": lambda app: app.button(key="remove-person").click(),
    "make-key": lambda app: app.button(key="make-key").click(),
    "share-all": lambda app: app.radio(key="share-all").set_value(access.Share.FULL),
    "erase-any": lambda app: app.button(key="erase-any").click(),
}


@pytest.mark.parametrize("way", WAYS)
def test_an_open_page_does_nothing_for_a_coordinator_who_is_one_no_more(club, someone, way):  # noqa: F811
    club.people.set_role(someone, "coordinator", "test")
    user = {**signed_in(Role.MEMBER), "email": "someone@club.example"}
    app = choose(opened("people", user), "Viewer", club)
    app.text_input(key="new-login").set_value("x@club.example")
    app.text_input(key="new-name").set_value("X")
    app.selectbox(key="take-out").set_value("Q1CCC").run()
    app.text_input(key="sure-any").set_value("erase everything").run()
    club.people.set_role(someone, "member", "test")
    version = club.store.version()
    WAYS[way](app).run()
    assert club.store.version() == version
    assert "you may not" in app.warning[0].value


# ---- commands


@pytest.fixture
def db(tmp_path):
    return tmp_path / "club.duckdb"


def run(db, *words: str):
    return CliRunner().invoke(command.app, ["people", *words, "--db", str(db)])


def test_every_command_of_people_is_tried_here():
    group = get_command(command.app).commands["people"]
    assert set(group.commands) == {"add", "role", "remove", "list"}


def test_people_are_added_changed_listed_and_removed_by_command(db):
    assert run(db, "add", "First@club.example", "--name", "First", "--role", "coordinator").exit_code == 0
    assert run(db, "add", "second@club.example", "--name", "Second", "--member", "q1bbb").exit_code == 0
    assert run(db, "role", "second@club.example", "event lead").exit_code == 0
    told = json.loads(run(db, "list", "--json").stdout)["people"]
    assert told == [
        {"login": "first@club.example", "name": "First", "role": "coordinator", "member": ""},
        {"login": "second@club.example", "name": "Second", "role": "event lead", "member": "Q1BBB"},
    ]
    assert "Second" in run(db, "list").stdout
    assert run(db, "remove", "second@club.example").exit_code == 0
    assert "Second" not in run(db, "list").stdout
    with closing(Store(db)) as store:
        assert set(store.changes_log()["by"]) == {"command line"}
        assert People(store).of_login("second@club.example") is None


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["add", "x@club.example", "--name", "X", "--role", "chief"], 'role: "chief" is not known'),
        (["add", "first@club.example", "--name", "X"], "can sign in already"),
        (["add", " ", "--name", "X"], "login: empty"),
        (["role", "nobody@club.example", "member"], '"nobody@club.example" may not sign in'),
        (["role", "first@club.example", "viewer"], "only coordinator"),
        (["remove", "first@club.example"], "only coordinator"),
        (["remove", "nobody@club.example"], "kitmuster people list"),
    ],
)
def test_what_a_command_of_people_cannot_do_is_said_and_changes_nothing(db, words, says):
    run(db, "add", "first@club.example", "--name", "First", "--role", "coordinator")
    refused = run(db, *words)
    assert (refused.exit_code, refused.stdout) == (2, "") and says in refused.stderr
    assert [row["login"] for row in json.loads(run(db, "list", "--json").stdout)["people"]] == [
        "first@club.example"
    ]


def test_only_who_is_added_makes_a_database(db):
    for words in (["list"], ["role", "x@club.example", "member"], ["remove", "x@club.example"]):
        refused = run(db, *words)
        assert refused.exit_code == 2 and "there is no database here" in refused.stderr
    assert not db.exists()
    Store(db).close()
    assert "Nobody may sign in yet" in run(db, "list").stdout


def test_a_database_of_something_else_is_left_alone(db):
    db.write_bytes(b"this is no database" * 100)
    before = db.read_bytes()
    assert run(db, "list").exit_code == 2
    assert db.read_bytes() == before


# ---- how often


DAY = pd.Timestamp("2027-01-01")


def lend(rows):
    return edits.with_row("loans", rows, item=f"radio {len(rows)}", borrower="Q1AAA", out=DAY, due=DAY)


def test_every_way_to_put_rows_in_force_counts_towards_one_limit(club, monkeypatch):  # noqa: F811
    monkeypatch.setattr(limits, "UPLOADS", limits.Limit(2, 60))
    number = person(club, "Coordinator").person_id
    club.people.agree(number, access.CONSENT)
    edits.save({"loans": lend}, "lend", "Coordinator")
    sent = b"event,post,member,kit\nRiver Run,Ford,Q1CCC,hidden box\n"
    app = opened("send", signed_in(Role.COORDINATOR))
    app.file_uploader[0].upload("assignments.csv", sent, "text/csv").run()
    app.button(key="accept").click().run()
    version = club.store.version()
    with pytest.raises(edits.EditError, match="within an hour"):
        edits.save({"loans": lend}, "lend", "Coordinator")
    app.file_uploader[0].upload("assignments.csv", sent + b"River Run,Ford,Q1AAA,own bag\n", "text/csv").run()
    app.button(key="accept").click().run()
    assert "within an hour" in app.error[0].value
    assert club.store.version() == version
    edits.save({"loans": lend}, "lend", "Someone else")


def test_rows_that_a_page_saves_are_bounded_as_files_are(club, monkeypatch):  # noqa: F811
    version = club.store.version()
    for bounds in (edits.upload.Limits(10, 20_000), edits.upload.Limits(1 << 20, 0)):
        monkeypatch.setattr(edits, "LIMITS", bounds)
        with pytest.raises(edits.EditError):
            edits.save({"loans": lend}, "lend", "Coordinator")
    assert club.store.version() == version


def test_who_erased_everything_of_their_own_is_told_so(club):  # noqa: F811
    club.people.add("gone@club.example", "Gone", "member", "Q1EEE", "test")
    sent = upload.read("inventory.csv", b"member,kit,item,kind\nQ1EEE,bag,radio,handheld\n", "inventory")
    club.accept(sent, "Gone")
    app = opened("people", signed_in(Role.MEMBER) | {"email": "gone@club.example"})
    app.text_input(key="sure-own").set_value("erase everything").run()
    app.button(key="erase-own").click().run()
    assert app.title[0].value == "Sign in"
    assert "erased" in app.success[0].value and not app.warning
