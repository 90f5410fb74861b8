"""The HTTP API: who gets in, what each role is given, what becomes of files, and that its description is right."""

import csv
import io
import json
import re
from dataclasses import replace
from types import SimpleNamespace

import duckdb
import httpx2
import pytest
from fastapi.testclient import TestClient
from jsonschema import Draft202012Validator
from typer.testing import CliRunner

from dashboard import access, api, command, limits, remote, serve, standing
from data import schema, spreadsheet, upload, writing
from data.club import TOO_LARGE
from rules.rule import load_rules
from tests import small_club as small
from tests.pages import alone
from tests.workbooks import ods, ods_row, packed, table, xlsx, xlsx_parts

INVENTORY = b"member,kit,item,kind\nQX1NEW,first bag,radio,handheld\n"
BAD = b"member,kit,item,kind,quantity\nQX1NEW,first bag,radio,handheld,two\n"
ROLES = ("coordinator", "quartermaster", "event lead", "member", "viewer")


MINE = "Q1ABC"
STATION = [small.MOBILE, small.BATTERY, small.LEAD, small.COAX, small.ANTENNA]
HOURS = {"opens": small.EVENT["starts"], "closes": small.EVENT["ends"]}
TOLD = {
    "inventory": small.kit(MINE, "car box", *STATION)
    + small.kit("Q2DEF", "go bag", small.HANDHELD, small.PACK),
    "members": [{"member": MINE, "available": True}, {"member": "Q2DEF", "available": True}],
    "events": [small.EVENT],
    "posts": [{"event": "Ride", "post": "bridge", "post_type": "net_control", **HOURS}],
    "offers": [{"offer": "fuse", "kind": "fuse", "price_usd": 5.0, "available": 10}],
}


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    """A small club with one event."""
    with alone():
        club = standing.open_club(tmp_path_factory.mktemp("club") / "club.duckdb")
        for stem, rows in TOLD.items():
            sent = upload.read(f"{stem}.csv", writing.csv_of(stem, small.frame(stem, rows)))
            club.store.accept(sent, "test")
        yield club


@pytest.fixture(scope="module")
def keys(club):
    """A key for each role; the member keeps the car box."""
    made = {}
    for role in ROLES:
        name = role.replace(" ", ".")
        number = club.people.add(f"{name}@club.test", name, role, MINE if role == "member" else "", "test")
        made[role] = club.people.new_token(number, "test", "test")
    return made


@pytest.fixture(scope="module")
def ask(club):
    client = TestClient(api.api())

    def ask(method: str, path: str, key: str | None, **more) -> httpx2.Response:
        headers = {} if key is None else {"Authorization": f"Bearer {key}"}
        return client.request(method, path, headers=headers, **more)

    return ask


@pytest.fixture(autouse=True)
def patience(monkeypatch):
    """Tests may ask as often as they like, unless they say otherwise."""
    for name in ("FAILED_TOKENS", "UPLOADS", "CHOSEN"):
        monkeypatch.setattr(limits, name, limits.Limit(10_000, 60))


def test_a_club_that_is_too_large_is_said(club, ask, keys, monkeypatch):
    def assess(*_: object) -> None:
        raise duckdb.OutOfMemoryException("failed to allocate")

    monkeypatch.setattr(standing, "assess", assess)
    monkeypatch.setattr(club, "_standing", None)
    asked = ask("GET", "/scores", keys["coordinator"])
    assert (asked.status_code, asked.json()) == (507, {"detail": TOO_LARGE})


def test_who_tries_many_keys_has_to_wait_and_good_keys_still_count(ask, keys, monkeypatch):
    monkeypatch.setattr(limits, "FAILED_TOKENS", limits.Limit(3, 60))
    assert [ask("GET", "/rules", f"km_guess{n}").status_code for n in range(4)] == [401, 401, 401, 429]
    assert ask("GET", "/rules", keys["viewer"]).status_code == 200


def test_who_sends_file_after_file_has_to_wait(ask, keys, monkeypatch):
    monkeypatch.setattr(limits, "UPLOADS", limits.Limit(0, 60))
    assert ask("PUT", "/files/inventory", keys["coordinator"], content=INVENTORY).status_code == 429
    assert ask("POST", "/files", keys["coordinator"], content=INVENTORY).status_code == 429
    tried = ask("PUT", "/files/inventory?try_only=true", keys["coordinator"], content=INVENTORY)
    assert tried.status_code == 200


def test_who_tries_file_after_file_has_to_wait_as_well(ask, keys, monkeypatch):
    """Reading is work, and a file that is wrong or only tried is read."""
    monkeypatch.setattr(limits, "CHOSEN", limits.Limit(2, 60))
    put, post = ("PUT", "/files/inventory?try_only=true"), ("POST", "/files?try_only=true")
    sent = [ask(*way, keys["coordinator"], content=INVENTORY).status_code for way in (put, post, put, post)]
    assert sent == [200, 200, 429, 429]
    assert ask(*put, keys["quartermaster"], content=b"no list").status_code == 422


EVERY_ROUTE = [
    (method, path.replace("{stem}", "inventory").replace("{event}", "nowhere"))
    for method, path, _, _ in api.ROUTES
]


@pytest.mark.parametrize(("method", "path"), EVERY_ROUTE)
@pytest.mark.parametrize("key", [None, "", "km_forged", "Bearer", "km_" + "A" * 4000])
def test_nothing_is_answered_without_a_key_in_force(ask, keys, method, path, key):
    answer = ask(method, path, key)
    assert answer.status_code == 401
    assert answer.headers["WWW-Authenticate"] == "Bearer"


def test_an_ended_key_and_one_of_someone_removed_count_no_more(club, ask):
    number = club.people.add("gone@club.test", "gone", "coordinator", "", "test")
    first, second = (club.people.new_token(number, "test", "test") for _ in range(2))
    assert ask("GET", "/rules", first).status_code == 200
    ended = club.people.tokens().query("person_id == @number")["token_id"].min()
    club.people.revoke_token(int(ended), "test")
    assert ask("GET", "/rules", first).status_code == 401
    assert ask("GET", "/rules", second).status_code == 200
    club.people.remove(number, "test")
    assert ask("GET", "/rules", second).status_code == 401


ALLOWED = {
    ("GET", "/files"): set(ROLES),
    ("GET", "/files/inventory"): {"coordinator", "quartermaster", "member"},
    ("GET", "/files/events"): set(ROLES),
    ("GET", "/files/offers"): {"coordinator", "quartermaster"},
    ("PUT", "/files/inventory"): {"coordinator"},
    ("PUT", "/files/events"): {"coordinator"},
    ("PUT", "/files/assignments"): {"coordinator", "event lead"},
    ("POST", "/files"): {"coordinator"},
    ("GET", "/scores"): set(ROLES),
    ("GET", "/findings"): set(ROLES),
    ("GET", "/rules"): set(ROLES),
    ("GET", "/policy"): set(ROLES),
    ("GET", "/events"): set(ROLES),
    ("GET", "/events/{event}/posts"): set(ROLES),
    ("GET", "/events/{event}/staffing"): {"coordinator", "event lead"},
    ("GET", "/purchases"): {"coordinator", "quartermaster"},
}


def test_the_table_of_roles_names_every_route():
    named = {(method, re.sub(r"^/files/\w+", "/files/{stem}", path)) for method, path in ALLOWED}
    assert named == {(method, path) for method, path, _, _ in api.ROUTES}


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize(("method", "path"), ALLOWED)
def test_each_role_is_answered_what_is_its_own_and_nothing_else(ask, keys, club, role, method, path):
    stem = path.rpartition("/")[2]
    rows = {
        "inventory": INVENTORY,
        "events": b"event,starts,ends\nx,2027-01-01T10:00,2027-01-01T12:00\n",
        "assignments": b"event,post,member,kit\nRide,bridge,Q1ABC,car box\n",
        "files": INVENTORY,
    }
    sent = {"content": rows[stem], "params": {"try_only": True}} if method in ("PUT", "POST") else {}
    query = {"params": {"budget": 0, "seconds": 1}} if path == "/purchases" else sent
    answer = ask(method, path.replace("{event}", "Ride"), keys[role], **query)
    assert answer.status_code == (200 if role in ALLOWED[method, path] else 403), answer.text


def test_a_member_is_given_their_own_rows_and_findings_only(ask, keys):
    sent = csv.DictReader(io.StringIO(ask("GET", "/files/inventory", keys["member"]).text))
    assert {row["member"] for row in sent} == {MINE}
    found = ask("GET", "/findings", keys["member"]).json()["findings"]
    everything = ask("GET", "/findings", keys["coordinator"]).json()["findings"]
    assert 0 < len(found) < len(everything)
    kinds = {row["subject_kind"] for row in ask("GET", "/scores", keys["viewer"]).json()["scores"]}
    assert "item" not in kinds


def test_what_is_not_shared_is_not_answered(club, ask, keys):
    path = "/events/Ride/posts"
    before = ask("GET", path, keys["viewer"]).json()["posts"]
    assert MINE in {row["member"] for row in before} and {row["reasons"] for row in before} == {None}
    scores = ask("GET", "/scores", keys["viewer"]).json()["scores"]
    assert {row["low"] is None for row in scores if row["subject_kind"] in ("kit", "member")} == {True}
    assert {row["low"] is None for row in scores if row["subject_kind"] in ("post", "club")} == {False}
    club.people.set_share(MINE, "none", "test")
    try:
        after = ask("GET", path, keys["viewer"]).json()["posts"]
        assert MINE not in {row["member"] for row in after}
        scores = ask("GET", "/scores", keys["viewer"], params={"member": MINE}).json()["scores"]
        assert scores == []
    finally:
        club.people.set_share(MINE, "verdicts", "test")


def test_a_file_is_taken_whole_or_not_at_all(club, ask, keys):
    version = club.store.version()
    refused = ask("PUT", "/files/inventory", keys["coordinator"], content=BAD)
    assert refused.status_code == 422
    assert [p["column"] for p in refused.json()["problems"]] == ["quantity"]
    tried = ask("PUT", "/files/inventory", keys["coordinator"], content=INVENTORY, params={"try_only": True})
    assert tried.status_code == 200 and tried.json()["upload_id"] is None
    assert tried.json()["changes"][0]["change"] == "added"
    assert club.store.version() == version
    taken = ask(
        "PUT", "/files/inventory", keys["coordinator"], content=INVENTORY, params={"name": "mine.csv"}
    )
    assert taken.status_code == 201
    assert club.store.version() == version + 1
    latest = club.store.uploads().iloc[0]
    assert (latest["upload_id"], latest["file"], latest["by"]) == (
        taken.json()["upload_id"],
        "mine.csv",
        "coordinator",
    )


def test_a_member_may_not_send_for_another(club, ask, keys):
    own = INVENTORY.replace(b"QX1NEW", MINE.encode())
    query = {"try_only": True}
    assert ask("PUT", "/files/inventory", keys["member"], content=own, params=query).status_code == 200
    both = own + b"QX2NEW,bag,radio,handheld\n"
    assert ask("PUT", "/files/inventory", keys["member"], content=both, params=query).status_code == 403


BOOK = {
    "bags": table([["member", "kit", "item", "kind"], ["QX4NEW", "bag", "radio", "handheld"]]),
    "kits": table([["member", "kit", "hours"], ["QX4NEW", "bag", "6"]]),
    "my notes": table([["hello"]]),
}


def test_the_sheets_of_a_workbook_are_taken_together_or_not_at_all(club, ask, keys):
    version, send = club.store.version(), {"params": {"name": "club.xlsx"}}
    wrong = BOOK | {"kits": table([["member", "kit", "hours"], ["QX4NEW", "bag", "six"]])}
    refused = ask("POST", "/files", keys["coordinator"], content=xlsx(wrong), **send)
    assert refused.status_code == 422 and club.store.version() == version
    assert [p["line"] for p in refused.json()["problems"]] == [2]
    taken = ask("POST", "/files", keys["coordinator"], content=xlsx(BOOK), **send)
    assert taken.status_code == 201, taken.text
    received = taken.json()["files"]
    assert [(one["kind"], one["rows"]) for one in received] == [("inventory", 1), ("kits", 1)]
    assert "my notes" in received[0]["notices"][-1]
    assert club.store.version() == version + 2
    book = ods(
        {"inventory": ods_row("member", "kit", "item", "kind") + ods_row("QX5NEW", "b", "x", "handheld")}
    )
    assert ask("POST", "/files", keys["coordinator"], content=book).status_code == 201
    bomb = packed(xlsx_parts(BOOK) | {"xl/x.xml": b"<x>" + b" " * (spreadsheet.UNPACKED + 1) + b"</x>"})
    unfolds = ask("POST", "/files", keys["coordinator"], content=bomb)
    assert unfolds.status_code == 422 and "unfolds" in unfolds.json()["problems"][0]["problem"]


def test_a_name_that_leads_nowhere_is_a_notice(ask, keys):
    sent = f"event,post,member\nRide,Bridge,{MINE}\n"
    answer = ask("POST", "/files?name=assignments.csv&try_only=true", keys["event lead"], content=sent).json()
    (said,) = answer["files"][0]["notices"]
    assert said.startswith('assignments.csv line 2, post: "Bridge" is not a post of Ride. Write "bridge"')


def test_a_workbook_in_which_one_sheet_is_not_the_callers_is_not_taken(club, ask, keys):
    version = club.store.version()
    own = table([["member", "kit", "item", "kind"], [MINE, "bag", "radio", "handheld"]])
    book = xlsx({"mine": own, "theirs": BOOK["bags"]})
    refused = ask("POST", "/files", keys["member"], content=book)
    assert refused.status_code == 403 and club.store.version() == version


def test_nobody_sends_before_they_agreed_where_people_sign_in(club, ask, keys, monkeypatch):
    monkeypatch.setattr(club, "has_sign_in", True)
    monkeypatch.setattr(access, "CONSENT", "A text that nobody agreed to yet.")
    own, version = INVENTORY.replace(b"QX1NEW", MINE.encode()), club.store.version()
    for method, path in (("PUT", "/files/inventory"), ("POST", "/files")):
        refused = ask(method, path, keys["member"], content=own)
        assert refused.status_code == 403 and "agree there" in refused.json()["detail"]
        assert ask(method, path, keys["member"], content=own, params={"try_only": True}).status_code == 200
    assert club.store.version() == version
    club.people.agree(club.people.person_of_token(keys["member"]).person_id, access.CONSENT)
    assert ask("POST", "/files", keys["member"], content=own).status_code == 201


def test_a_file_that_is_too_large_is_refused_before_it_is_read(ask, keys):
    answer = ask("PUT", "/files/inventory", keys["coordinator"], content=b"x" * (api.LARGEST + 1))
    assert answer.status_code == 413
    assert "5 MiB" in answer.json()["detail"]


def test_what_is_not_there_is_said_with_what_is(ask, keys):
    for method, path in (
        ("GET", "/files/nonsense"),
        ("PUT", "/files/nonsense"),
        ("PUT", "/files/nonsense?name=x"),
    ):
        answer = ask(method, path, keys["coordinator"])
        assert answer.status_code == 404 and "inventory" in answer.json()["detail"], path
    assert "Known:" in ask("GET", "/events/nowhere/posts", keys["coordinator"]).json()["detail"]


@pytest.mark.parametrize(
    ("asked", "known"),
    [
        ("/scores?kind=kits", "member, kit, item, event, post, club"),
        ("/findings?status=unmet", "not met, not known"),
        ("/findings?rule=no_such_rule", "those of /api/rules"),
    ],
)
def test_a_word_to_choose_by_that_is_none_is_said_and_not_answered_with_nothing(ask, keys, asked, known):
    answer = ask("GET", asked, keys["coordinator"])
    what, name = asked.partition("?")[2].split("=")
    assert answer.status_code == 404
    assert answer.json() == {"detail": f'No {what} "{name}" is known. Known: {known}.'}


def test_rules_are_those_of_the_club_s_own_too(club, monkeypatch):
    first, *_ = load_rules()
    held = SimpleNamespace(assessment=SimpleNamespace(rules=(first, replace(first, name="ours"))))
    monkeypatch.setattr(club, "standing", lambda: held)
    assert [rule["name"] for rule in api.get_rules(access.HERE)["rules"]] == [
        *(rule.name for rule in load_rules()),
        "ours",
    ]


def test_the_description_names_every_route_and_its_answers_fit(ask, keys):
    """JSON Schema 2020-12 is the schema language of OpenAPI 3.1 (section 4.8.24 there)."""
    described = ask("GET", "/openapi.json", None).json()
    assert described["openapi"].startswith("3.1")
    assert set(described["paths"]) == {path for _, path, _, _ in api.ROUTES}
    refused = ask("PUT", "/files/inventory", keys["coordinator"], content=BAD)
    told = described["paths"]["/files/{stem}"]["put"]["responses"]["422"]["content"]["application/json"]
    validator = Draft202012Validator({**told["schema"], "components": described["components"]})
    assert list(validator.iter_errors(refused.json())) == []
    assert list(validator.iter_errors({"problems": [{"file": 1}]})) != []
    page = ask("GET", "/", None)
    assert page.status_code == 200 and "<script" not in page.text
    assert all(f"/api{path}" in page.text for path in described["paths"])


# --- the command line beside a running dashboard ---


@pytest.fixture
def running(monkeypatch, ask):
    """The API as the command line reaches it, at an address of this machine."""
    client = TestClient(api.api(), base_url="http://127.0.0.1:1")

    def request(method: str, url: str, timeout: float, **more) -> httpx2.Response:
        return client.request(method, url.replace("http://127.0.0.1:1/api", ""), **more)

    monkeypatch.setattr(remote.httpx2, "request", request)
    return "http://127.0.0.1:1"


def test_a_running_dashboard_scores_as_its_own_files_do(running, keys, club, monkeypatch, tmp_path):
    monkeypatch.setenv(remote.TOKEN, keys["coordinator"])
    asked = CliRunner().invoke(command.app, ["score", running, "--json"])
    assert asked.exit_code == 0, asked.output
    here = club.standing().scores
    named = here[
        here["subject_kind"] != "item"
    ]  # items are named by their line, which is that of the file sent
    told = {(s["subject_kind"], s["subject"]): s["verdict"] for s in json.loads(asked.stdout)["scores"]}
    told = {subject: verdict for subject, verdict in told.items() if subject[0] != "item"}
    assert told == {(r.subject_kind, r.subject): r.verdict for r in named.itertuples()}


def test_files_are_sent_to_a_running_dashboard(running, keys, club, monkeypatch, tmp_path):
    monkeypatch.setenv(remote.TOKEN, keys["coordinator"])
    good, bad = tmp_path / "inventory.csv", tmp_path / "inventory-bad.csv"
    good.write_bytes(INVENTORY.replace(b"QX1NEW", b"QX3NEW"))
    bad.write_bytes(BAD)
    book = tmp_path / "club.xlsx"
    book.write_bytes(xlsx(BOOK | {"kits": table([["member", "kit", "hours"], ["QX4NEW", "bag", "six"]])}))
    version = club.store.version()
    tried = CliRunner().invoke(command.app, ["send", str(good), "--to", running, "--try"])
    assert tried.exit_code == 0 and "things that would change: 1\n" in tried.output
    assert club.store.version() == version
    sent = CliRunner().invoke(command.app, ["send", str(good), str(bad), "--to", running])
    assert sent.exit_code == 1
    assert 'inventory-bad.csv line 2, quantity: "two"' in sent.output
    assert club.store.version() == version + 1
    sheets = CliRunner().invoke(command.app, ["send", str(book), "--to", running])
    assert sheets.exit_code == 1 and 'club.xlsx, sheet kits row 2, hours: "six"' in sheets.output
    book.write_bytes(xlsx(BOOK))
    sheets = CliRunner().invoke(command.app, ["send", str(book), "--to", running, "--try"])
    assert sheets.exit_code == 0 and sheets.output.count("would change") == 2


def test_what_a_list_mended_and_brought_is_told_by_the_command_as_by_the_page(
    running, keys, club, monkeypatch, tmp_path
):
    monkeypatch.setenv(remote.TOKEN, keys["coordinator"])
    path = tmp_path / "inventory.csv"

    def sent(content: bytes, *more: str) -> str:
        path.write_bytes(content)
        done = CliRunner().invoke(command.app, ["send", str(path), "--to", running, *more])
        assert done.exit_code == 0, done.output
        return done.stdout

    first = INVENTORY.replace(b"QX1NEW", b"QX9NEW")
    assert " new" not in sent(first), "nothing was judged before"
    card = b"QX9NEW,first bag,licence,licence_copy\n"
    assert "mended" not in sent(first + card, "--try")
    told = sent(first + card)
    assert told.splitlines()[-2] == "QX9NEW: 1 mended or gone" and "licence" in told.splitlines()[-1]
    assert "QX9NEW: 1 new" in sent(first)
    (one,) = json.loads(sent(first + card, "--json"))["members"]
    assert one["member"] == "QX9NEW" and one["new"] == []
    assert [finding["rule"] for finding in one["mended_or_gone"]] == ["no_licence_copy"]

    assert "QX9NEW: 1 new" in sent(first)
    club.store.set_policy('[aliases.kind]\ncardlet = "licence_copy"\n', "coordinator", "own words")
    assert "QX9NEW: 1 mended or gone" in sent(first + card.replace(b"licence_copy", b"cardlet"))
    club.store.set_policy("", "coordinator", "as before")

    before = remote.Remote.findings
    told = iter([before])
    monkeypatch.setattr(remote.Remote, "findings", lambda self, member: next(told, broken)(self, member))

    def broken(self: remote.Remote, member: str) -> None:
        raise remote.RemoteError("gone")

    answer = json.loads(sent(first, "--json"))
    assert [one["name"] for one in answer["files"]] == ["inventory.csv"] and answer["members"] == []


def test_who_did_not_agree_is_told_by_the_command_what_to_do(running, keys, club, monkeypatch, tmp_path):
    monkeypatch.setenv(remote.TOKEN, keys["coordinator"])
    monkeypatch.setattr(club, "has_sign_in", True)
    monkeypatch.setattr(access, "CONSENT", "Another text that nobody agreed to yet.")
    (tmp_path / "inventory.csv").write_bytes(INVENTORY)
    refused = CliRunner().invoke(command.app, ["send", str(tmp_path / "inventory.csv"), "--to", running])
    assert refused.exit_code == 2 and "who may do what? and agree there" in refused.stderr


def test_a_key_does_not_travel_unprotected(monkeypatch):
    monkeypatch.setenv(remote.TOKEN, "km_x")
    refused = CliRunner().invoke(command.app, ["score", "http://club.example"])
    assert refused.exit_code == 2 and "https" in refused.output
    monkeypatch.delenv(remote.TOKEN)
    refused = CliRunner().invoke(command.app, ["score", "https://club.example"])
    assert refused.exit_code == 2 and remote.TOKEN in refused.output


def test_every_kind_of_file_can_be_asked_for(ask, keys):
    for stem in schema.FILES:
        answer = ask("GET", f"/files/{stem}", keys["coordinator"])
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith("text/csv")


def test_the_server_answers_under_api_with_the_headers_of_every_answer(tmp_path, club):
    with alone():
        client = TestClient(serve.asgi(tmp_path / "club.duckdb"), base_url="http://127.0.0.1")
        described = client.get("/api/openapi.json")
        assert described.json()["servers"] == [{"url": "/api"}]
        refused = client.get("/api/scores")
        assert refused.status_code == 401
        for answer in (described, refused, client.get("/api/")):
            assert answer.headers["Content-Security-Policy"] == serve.POLICY
