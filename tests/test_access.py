"""Who may do what: every action, page, route and command, with every role and with none."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import access, consent, standing
from dashboard.access import Action, Person, Role
from data import schema, upload
from tests.pages import APP, alone, page, words

VIEWS = sorted(file.stem for file in (Path(APP).parent / "views").glob("*.py"))
C, Q, E, M, V = Role
EVERY = {C, Q, E, M, V}
# Who may do what with what is anyone's, and with what is their own. Nobody without a role may do anything.
MAY = {
    Action.SEE_SEASON: (EVERY, EVERY),
    Action.SEE_KIT: ({C, Q}, {C, Q, E, M}),
    Action.SEND_KIT: ({C}, {C, Q, E, M}),
    Action.SEND_CLUB: ({C}, {C}),
    Action.SEE_EVENTS: (EVERY, EVERY),
    Action.ASSIGN: ({C, E}, {C, E}),
    Action.REPORT: ({C, E}, {C, Q, E, M}),
    Action.SEE_PURCHASES: ({C, Q}, {C, Q}),
    Action.LEND: ({C, Q}, {C, Q}),
    Action.INSPECT: ({C, Q}, {C, Q, E, M}),
    Action.SEE_RULES: (EVERY, EVERY),
    Action.SET_POLICY: ({C}, {C}),
    Action.SEE_RECORDS: ({C}, {C}),
    Action.RESTORE: ({C}, {C}),
    Action.MANAGE_PEOPLE: ({C}, {C}),
    Action.TAKE_OUT: ({C}, {C, Q, E, M}),
}
# Pages that not everyone of the club may open; the others open for all and show what is shared.
CLOSED = {
    "lend": {C, Q},
    "purchases": {C, Q},
    "records": {C},
    "lists": {C, Q, E},
}
INVENTORY = (
    b"member,kit,item,kind\n"
    b"Q1AAA,own bag,own radio,handheld\n"
    b"Q1CCC,hidden box,hidden radio,handheld\nQ1CCC,hidden box,hidden pack,handheld_pack\n"
)
EVENTS = b"event,starts,ends\nRiver Run,2027-04-25T05:15,2027-04-25T14:00\n"
POSTS = b"event,post,post_type,opens,closes\nRiver Run,Ford,aid_station,2027-04-25T06:00,2027-04-25T12:00\n"
SENT = b"event,post,member,kit,from,to\nRiver Run,Ford,Q1CCC,hidden box,2027-04-25T06:00,2027-04-25T12:00\n"
SECRETS = (b"hidden radio", b"hidden pack")
WHOLE = "everything that was found"  # a heading of a member's page that is shown in full


def test_the_table_names_every_action():
    assert set(MAY) == set(Action)


@pytest.mark.parametrize("action", Action)
@pytest.mark.parametrize("role", Role)
def test_a_role_may_do_what_the_table_says_and_nothing_else(role, action):
    someone = Person("Someone", role, "Q1AAA")
    anyones, own = MAY[action]
    assert someone.may(action) == (role in anyones)
    assert someone.may(action, "Q1CCC") == (role in anyones)
    assert someone.may(action, "Q1AAA") == (role in own)


@pytest.mark.parametrize("action", Action)
def test_who_is_no_member_owns_nothing(action):
    assert Person("Someone", Role.MEMBER).may(action, "") == (Role.MEMBER in MAY[action][0])


# ---- pages


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    """A club with sign-in, a person of each role, an event, and a member whose kit is not shared in full."""
    with alone():
        club = standing.open_club(tmp_path_factory.mktemp("club") / "club.duckdb", has_sign_in=True)
        files = {"inventory": INVENTORY, "events": EVENTS, "posts": POSTS, "assignments": SENT}
        for stem, payload in files.items():
            club.store.accept(upload.read(f"{stem}.csv", payload), "test")
        for role in Role:
            club.people.add(address(role), role.title(), role, "Q1AAA" if role is Role.MEMBER else "", "test")
        yield club


def address(role: str) -> str:
    return f"{role.replace(' ', '-')}@club.example"


def signed_in(role: str, ago: timedelta = timedelta(seconds=1)) -> dict:
    at = datetime.now(UTC) - ago
    return {"is_logged_in": True, "email": address(role), "email_verified": True, "iat": int(at.timestamp())}


def opened(view: str, user: dict | None, **query: str) -> AppTest:
    """A page as someone sees it who signed in, or as a stranger does."""
    return page("" if view == "season" else view, user=user, **query)


def shown(node) -> bytes:
    """Everything that a page sends to the browser."""
    told = b"".join(shown(child) for child in getattr(node, "children", {}).values())
    proto = getattr(node, "proto", None)
    return told + (proto.SerializeToString() if hasattr(proto, "SerializeToString") else b"")


def is_refused(app: AppTest) -> bool:
    return any("you may not" in warning.value for warning in app.warning)


@pytest.mark.parametrize("view", VIEWS)
def test_nobody_sees_anything_without_signing_in(club, view):
    app = opened(view, None)
    assert [button.key for button in app.button] == ["sign-in"]
    assert not app.dataframe and not app.table and not app.get("download_button") and not app.selectbox
    assert not any(secret in shown(app.main) for secret in (*SECRETS, b"Q1AAA", b"Q1CCC"))


@pytest.mark.parametrize("role", [Role.COORDINATOR, Role.QUARTERMASTER, Role.EVENT_LEAD])
def test_who_may_not_send_a_list_is_led_to_none(role, tmp_path):
    """Where a kit, the posts of an event or gear of the club is missing, only whoever may tell of it is shown where."""
    with alone():
        club = standing.open_club(tmp_path / "club.duckdb", has_sign_in=True)
        for stem, payload in {"members": b"member\nQ1BBB\n", "events": EVENTS}.items():
            club.store.accept(upload.read(f"{stem}.csv", payload), "test")
        club.people.add(address(role), "Someone", role, "", "test")
        for view in ("kit", "events", "loadout", *(["lend"] if role is not Role.EVENT_LEAD else [])):
            app = opened(view, signed_in(role), **({"member": "Q1BBB"} if view == "kit" else {}))
            led = {link.proto.page for link in app.get("page_link")} & {"mine", "lists", "send"}
            assert bool(led) == (role is Role.COORDINATOR), (view, words(app))


def test_who_plans_an_event_is_led_from_it_to_the_list_of_who_goes_where(club):
    assert "lists" in leads_to(opened("events", signed_in(Role.EVENT_LEAD)))
    assert "lists" not in leads_to(opened("events", signed_in(Role.QUARTERMASTER)))


@pytest.mark.parametrize("view", sorted(CLOSED))
@pytest.mark.parametrize("role", Role)
def test_a_closed_page_opens_only_for_its_roles(club, role, view):
    app = opened(view, signed_in(role))
    assert is_refused(app) == (role not in CLOSED[view])
    if is_refused(app):
        assert not app.dataframe and not app.table and not app.get("download_button")


@pytest.fixture
def newcomer(club):
    """The sign-in of a member of whom nothing was sent yet."""
    number = club.people.add("new@club.example", f"New {len(club.people.known())}", "member", "Q9ZZZ", "test")
    yield {**signed_in(Role.MEMBER), "email": "new@club.example"}
    club.people.remove(number, "test")


def leads_to(app: AppTest) -> set[str]:
    """Addresses of the pages to which a page has links of its own."""
    return {link.proto.page for link in app.get("page_link")}


@pytest.mark.parametrize("view", ["season", "kit", "inspect", "loadout", "start"])
def test_a_member_of_whom_nothing_was_sent_is_shown_the_ways_to_send(club, newcomer, view):
    app = opened(view, newcomer)
    assert {"mine", "send"} <= leads_to(app) and not is_refused(app)
    assert "No kit of Q9ZZZ has been sent yet." in words(app) or view == "start"
    assert "No kit of" not in words(opened(view, signed_in(Role.MEMBER)))


@pytest.mark.parametrize("role", [Role.QUARTERMASTER, Role.EVENT_LEAD, Role.VIEWER])
def test_no_page_leads_to_a_list_that_one_may_not_fill_in(club, role):
    for view in ("season", "kit", "send", "start"):
        assert {"mine", "lists"}.isdisjoint(leads_to(opened(view, signed_in(role))))
    assert is_refused(opened("mine", signed_in(role)))
    if role is not Role.VIEWER:
        assert len(opened("lists", signed_in(role)).selectbox(key="list").options) == 1


def test_findings_are_offered_only_to_who_sees_any(club):
    keys = [
        [d.key for d in opened("season", signed_in(r)).get("download_button")]
        for r in (Role.MEMBER, Role.VIEWER)
    ]
    assert "all-findings" in keys[0] and "all-findings" not in keys[1]


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("role", [Role.MEMBER, Role.VIEWER])
def test_no_page_shows_what_is_in_a_kit_that_is_not_shared(club, role, view):
    app = opened(view, signed_in(role))
    assert not any(secret in shown(app.main) for secret in SECRETS)


@pytest.mark.parametrize("role", Role)
def test_a_direct_address_shows_no_more_than_is_shared(club, role):
    app = opened("kit", signed_in(role), member="Q1CCC")
    is_seen = WHOLE in [header.value for header in app.header]
    assert is_seen == (role in MAY[Action.SEE_KIT][0])
    assert b"Q1CCC" in shown(app.main)


def test_members_see_of_others_what_the_coordinator_shares(club):
    def is_whole(member: str) -> bool:
        app = opened("kit", signed_in(Role.MEMBER), member=member)
        return WHOLE in [header.value for header in app.header]

    try:
        club.people.set_share("Q1CCC", "full", "test")
        assert is_whole("Q1CCC")
        club.people.set_share("Q1CCC", "none", "test")
        for view in ("season", "kit", "events"):
            assert b"Q1CCC" not in shown(opened(view, signed_in(Role.MEMBER)).main), view
    finally:
        club.people.set_share("Q1CCC", None, "test")
    assert is_whole("Q1AAA") and not is_whole("Q1CCC")


# ---- sign-ins


@pytest.mark.parametrize(
    "user",
    [
        {**signed_in("member"), "is_logged_in": False},
        {**signed_in("member"), "email": "stranger@club.example"},
        {**signed_in("member"), "email_verified": False},
        {key: value for key, value in signed_in("member").items() if key != "iat"},
        signed_in("member", ago=timedelta(hours=12, minutes=1)),
        signed_in("member", ago=-timedelta(hours=1)),
        {**signed_in("member"), "iat": "now"},
    ],
    ids=["out", "stranger", "doubted", "undated", "expired", "future", "forged date"],
)
def test_a_sign_in_that_does_not_count_opens_nothing(club, user):
    assert access.known(user, datetime.now(UTC)) is None


def test_what_the_provider_says_of_roles_does_not_count(club):
    found = access.known(
        {**signed_in("member"), "role": "coordinator", "groups": ["coordinator"]}, datetime.now(UTC)
    )
    assert found is not None and found.role == "member"


def test_signing_out_ends_every_earlier_sign_in_and_no_later_one(club):
    number = club.people.add("fourth@club.example", "Fourth", "member", "", "test")
    claims = {**signed_in("member"), "email": "fourth@club.example"}
    assert access.known(claims, datetime.now(UTC)) is not None
    club.people.sign_out(number)
    assert access.known(claims, datetime.now(UTC)) is None
    ended = next(one.valid_from for one in club.known() if one.person_id == number)
    assert access.known({**claims, "iat": ended.timestamp()}, ended) is None, "at the same moment"
    later = datetime.now(UTC) + timedelta(seconds=2)
    assert access.known({**claims, "iat": int(later.timestamp())}, later) is not None


def test_the_open_page_of_someone_removed_or_changed_shows_it_on_the_next_run(club):
    number = club.people.add("tim@club.example", "Tim", "coordinator", "", "test")
    app = opened("records", {**signed_in("member"), "email": "tim@club.example"})
    assert not is_refused(app)
    club.people.set_role(number, "member", "test")
    assert is_refused(app.run())
    club.people.remove(number, "test")
    app.run()
    assert "not on the club's list" in app.warning[0].value and not app.dataframe and not app.table


def test_without_sign_in_whoever_sits_here_is_the_coordinator(club, monkeypatch):
    monkeypatch.setattr(club, "has_sign_in", False)
    assert access.person() == access.HERE and access.HERE.role is Role.COORDINATOR
    assert access.signed_in() is None


# ---- commands


# What a command works on decides who may run it: files that its caller can read; the database, which belongs to
# whoever can write its file; or a running dashboard, which asks for a key and then as its pages do.
COMMANDS = {
    "files": {
        "check", "score", "rules", "demo", "sheets", "calendar", "buy", "loadout", "borrow", "posts", "staff",
        "whatif", "after", "words",
    },
    "database": {"serve", "people", "backup", "restore", "export"},
    "dashboard": {"send"},
}  # fmt: skip


def test_every_command_is_one_whose_caller_is_known():
    from typer.main import get_command

    from dashboard import command

    known = set(get_command(command.app).commands)
    assert known == set().union(*COMMANDS.values())


def test_a_database_is_for_its_owner_alone(tmp_path):
    from data.store import Store

    folder = tmp_path / "new" / "folder"
    Store(folder / "club.duckdb").close()
    assert folder.stat().st_mode & 0o077 == 0


# ---- sending


@pytest.mark.parametrize(
    ("role", "offered"),
    [
        (Role.COORDINATOR, set(schema.FILES)),
        (Role.QUARTERMASTER, {"loans"}),
        (Role.EVENT_LEAD, {"assignments"}),
        (Role.MEMBER, {"inventory", "kits", "rehearsals"}),
        (Role.VIEWER, set(schema.FILES)),  # who sends nothing may read them all
    ],
)
def test_the_blank_lists_are_those_that_one_may_send(club, role, offered):
    app = opened("send", signed_in(role))
    keys = {button.key for button in app.get("download_button")}
    assert {key.removeprefix("template-") for key in keys if key.startswith("template-")} == offered


def test_a_member_sends_their_own_list_once_they_agreed_and_nobody_elses(club):
    own = b"member,kit,item,kind\nQ1AAA,own bag,own radio,handheld\nQ1AAA,own bag,own pack,handheld_pack\n"
    app = opened("send", signed_in(Role.MEMBER))
    app.file_uploader[0].upload("inventory.csv", own, "text/csv").run()
    assert app.button(key="accept").disabled
    assert any("the coordinator can restore it" in text.value for text in app.markdown)
    assert access.CONSENT in [text.value for text in app.text]
    app.checkbox(key="agree").check().run()
    app.button(key="accept").click().run()
    assert club.store.uploads().iloc[0]["by"] == "Member"
    more = own + b"Q1AAA,own bag,own whip,whip\n"
    app.file_uploader[0].upload("inventory.csv", more, "text/csv").run()
    assert access.CONSENT not in [text.value for text in app.text]
    assert consent.AGREED in [link.proto.label for link in app.get("page_link")]
    app.file_uploader[0].upload("inventory.csv", INVENTORY.replace(b"hidden radio", b"x"), "text/csv").run()
    assert "accept" not in [button.key for button in app.button]
