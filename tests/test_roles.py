"""Every download, page, route and way in, with every role and with none: who is offered what, and what is in it."""

import csv
import io
import re
import zipfile
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from dashboard import access, api, control, limits, operation, serve, sign_in, standing
from dashboard.access import Role
from data import schema
from tests.marked_club import (
    AWAY,
    BOXES,
    EMPHASIS,
    EVENT,
    MARKS,
    OWN,
    SENT,
    Walk,
    address,
    offering,
    opened,
    text_of,
    walked,
)
from tests.pages import alone

pytestmark = pytest.mark.usefixtures("judged_once")

C, Q, E, M, V = Role
LETTERS = dict(zip("CQEMV", Role, strict=True))
VIEWS = {file.stem for file in (Path(access.__file__).parent / "views").glob("*.py")}
# Downloads by view and key, as the endings of keys say in which form; who is offered them of members that share
# the verdicts of their kits, or of the club.
OFFERED = {
    "CQEMV": "events/posts-csv events/shifts rulebook/rules-csv season/course season/ranked "
    "send/contract send/template whatif/failures",
    "CQEM": "send/annotated send/problem-list",
    "CQE": "events/chances events/distances-numbers events/event-sheet-pdf events/hours-numbers events/plan-csv "
    "events/post-by-kit-csv events/swaps events/timeline",
    "CEM": "after/ran",
    "CQM": "loadout/packing-pdf season/all-findings season/heat",
    "CM": "mine/edited-csv",
    "CQ": "lists/edited-csv inspect/inspection-pdf kit/asks-pdf kit/asks-txt kit/curve kit/lasting kit/lid-pdf kit/member-ics "
    "kit/my-findings kit/ranges kit/station lend/loans-csv lend/slip loadout/slips-pdf purchases/buy-csv purchases/buy-pdf "
    "purchases/due purchases/frontier season/club-ics season/plugs-antenna season/plugs-battery season/review-pdf",
    "C": "people/export-any records/changes-csv records/one-file-download records/then-csv",
    "M": "people/export-own",
}
# What a member is offered of their own beside that.
OWN_TOO = {
    "inspect/inspection-pdf", "kit/asks-pdf", "kit/asks-txt", "kit/curve", "kit/lasting", "kit/lid-pdf",
    "kit/member-ics", "kit/my-findings", "kit/ranges", "kit/station",
}  # fmt: skip
# Pages on which an event lead reads what people who are sent to the event bring and told of it.
OF_THE_SENT = {"events", "after"}


def named(walk: Walk) -> set[str]:
    """Downloads of a walk as the table names them."""
    ending = r"-(png|svg|download|\d+)$|(?<=contract)-\w+$|(?<=template)-\w+$"
    keep = {"records/one-file-download"}
    return {key if key in keep else re.sub(ending, "", key) for key, _ in walk.downloads}


def told(role: Role) -> set[str]:
    return {
        name
        for letters, names in OFFERED.items()
        for name in names.split()
        if role in map(LETTERS.get, letters)
    }


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    with alone(), opened(tmp_path_factory.mktemp("marked")) as club:
        yield club


@pytest.fixture(scope="module")
def everything(club) -> Walk:
    """What a coordinator is offered."""
    return walked(C, SENT)


@pytest.fixture
def nothing_shared(club):
    """Members share not even their names."""
    for member in (SENT, AWAY):
        club.people.set_share(member, "none", "test")
    yield
    for member in (SENT, AWAY):
        club.people.set_share(member, None, "test")


# ---- downloads of pages


def test_the_walk_meets_every_place_that_offers_a_download(everything):
    """A new download fails here until the walk leads to it; the next test then asks for whom it is."""
    missed = [
        f"{Path(file).name}:{first}"
        for file, first, last in offering()
        if not any(place == file and first <= line <= last for place, line in everything.places)
    ]
    assert missed == []
    assert set(everything.pages) == VIEWS, "and every page"


def test_the_coordinator_is_offered_every_download_and_each_can_be_made(everything):
    assert named(everything) == told(C)
    assert all(everything.downloads.values())


def test_the_quartermaster_is_offered_what_the_table_says(club):
    assert named(walked(Q, SENT, is_read=False)) == told(Q)


def test_an_event_lead_reads_of_others_only_what_bears_on_the_event(club):
    walk = walked(E, SENT)
    assert named(walk) == told(E)
    for (key, name), content in walk.downloads.items():
        text = without_boxes(text_of(name, content))
        assert MARKS[AWAY] not in text, key
        assert MARKS[SENT] not in text or key.split("/")[0] in OF_THE_SENT, key
    for view, content in walk.pages.items():
        text = without_boxes(text_of("", content))
        assert MARKS[AWAY] not in text, view
        assert MARKS[SENT] not in text or view in OF_THE_SENT, view


def test_a_viewer_reads_nothing_of_what_members_wrote(club):
    walk = walked(V, SENT)
    assert named(walk) == told(V)
    see_nothing_of(walk, MARKS.values())


def test_a_member_reads_nothing_of_others_who_share_nothing_not_even_a_name(club, nothing_shared):
    walk = walked(M, SENT)
    assert named(walk) == told(M) | OWN_TOO, "who sees nobody else is shown themselves"
    see_nothing_of(walk, [*MARKS.values(), SENT, AWAY], is_whole=True)


def test_a_member_is_offered_everything_of_their_own(club):
    views = ("kit", "mine", "inspect", "loadout", "people", "after")
    found = named(walked(M, OWN, is_read=False, views=views))
    assert found == {name for name in told(M) | OWN_TOO if name.split("/")[0] in views}


def test_nobody_is_offered_anything_without_signing_in(club):
    walk = walked(None, SENT, views=("season", "send", "kit"))
    assert walk.downloads == {}
    see_nothing_of(walk, [*MARKS.values(), SENT, AWAY, OWN], is_whole=True)


def without_boxes(text: str) -> str:
    """A text without the names of kits, which stand with their verdicts."""
    for box in BOXES.values():
        text = text.replace(box, "")
    return text


def see_nothing_of(walk: Walk, words, is_whole: bool = False) -> None:
    texts = {
        f"{key} {name}": text_of(name, content) + name for (key, name), content in walk.downloads.items()
    }
    texts |= {view: text_of("", content) for view, content in walk.pages.items()}
    for place, text in texts.items():
        seen = text if is_whole else without_boxes(text)
        assert not [word for word in words if word.casefold() in seen], place


def test_a_mark_would_be_found_in_every_form_of_file(everything):
    """The tests above would pass if nothing could be read."""
    forms = {name.rpartition(".")[2] for (_, name), content in everything.downloads.items()
             if MARKS[SENT] in text_of(name, content) or SENT.casefold() in text_of(name, content)}  # fmt: skip
    assert forms == {"csv", "txt", "pdf", "ics", "png", "svg", "zip"}


# ---- no cell of what is handed out works anything out


def cells(name: str, content: bytes):
    """Every cell of the CSV files that a download is or holds."""
    if name.endswith(".zip"):
        with zipfile.ZipFile(io.BytesIO(content)) as bundle:
            for part in bundle.namelist():
                yield from cells(part, bundle.read(part))
    elif name.endswith(".csv"):
        for row in csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")):
            yield from row


def is_formula(cell: str) -> bool:
    return cell[:1] in tuple("=+-@\t\r") and not re.fullmatch(r"[+-]?[\d.,]+(e[+-]?\d+)?( .*)?", cell)


def test_no_cell_of_any_csv_file_that_is_offered_is_a_formula(everything, ask):
    held = {key: list(cells(name, content)) for (key, name), content in everything.downloads.items()}
    held |= {
        f"api {path}": list(cells(".csv", answer))
        for path, answer in answers(ask, C).items()
        if "files/" in path
    }
    for key, found in held.items():
        assert [cell for cell in found if is_formula(cell)] == [], key
    neutral = [key for key, found in held.items() if any(cell.startswith("'=") for cell in found)]
    assert len(neutral) > 8, "names and notes of this club begin like formulas"
    sent = next(name for key, name in everything.downloads if key == "records/one-file-download")
    assert sent.endswith(".txt"), (
        "what is handed back exactly as it was sent is nothing that a spreadsheet opens"
    )


def test_what_people_wrote_is_read_as_markdown_nowhere(everything):
    """In a text that escapes it, a sign stands after a backslash."""
    assert [text for text in everything.markdown if EMPHASIS in text] == []
    escaped = EMPHASIS.replace("*", r"\*")
    assert any(escaped in text for text in everything.markdown), "the names are spoken of"


# ---- answers of the API


@pytest.fixture(scope="module")
def ask(club):
    """The API, asked with the key of someone of a role."""
    client, keys = TestClient(api.api()), {}
    for role in Role:
        number = club.people.of_login(address(role)).person_id
        keys[role] = club.people.new_token(number, "test", "test")

    def ask(role: Role, path: str) -> bytes:
        answer = client.get(path, headers={"Authorization": f"Bearer {keys[role]}"})
        return answer.content if answer.status_code == 200 else b""

    return ask


def answers(ask, role: Role) -> dict[str, bytes]:
    """What everything that can be asked for is answered with."""
    paths = [
        path.replace("{event}", EVENT).replace("{stem}", stem)
        + ("?budget=0&seconds=1" if path.endswith(("purchases", "staffing")) else "")
        for method, path, _, _ in api.ROUTES
        for stem in (schema.FILES if "{stem}" in path else [""])
        if method == "GET"
    ]
    return {path: ask(role, path) for path in paths}


@pytest.mark.parametrize("role", [E, M, V])
def test_no_answer_to_a_program_holds_what_others_wrote(club, ask, role):
    for path, answer in answers(ask, role).items():
        text = without_boxes(text_of("", answer))
        assert MARKS[AWAY] not in text, path
        assert MARKS[SENT] not in text, path
    assert MARKS[SENT].encode() in ask(C, "/files/inventory")


@pytest.mark.parametrize("role", [M, V])
def test_no_answer_to_a_program_names_who_shares_nothing(club, ask, role, nothing_shared):
    for path, answer in answers(ask, role).items():
        assert SENT.encode() not in answer and AWAY.encode() not in answer, path


# ---- addresses outside the API


FAR = "203.0.113.7"
# What the server answers to anyone at all; nothing of it holds anything of the club. Everything else asks.
ANYONE = {
    "/healthz", "/readyz", "/_stcore/health", "/_stcore/host-config", "/app/static/{path:path}",
    "/auth/login", "/auth/logout", "/oauth2callback", "/season", "",
}  # fmt: skip
# Parts of pages that are known by a name that only their reader's page was told; none can be guessed.
UNGUESSED = {"/media/{file_id:path}", "/component/{path:path}", "/_stcore/bidi-components/{path:path}"}
# The pages themselves ask who looks (tests/test_access.py), the API for a key (tests/test_api.py).
ASKS_ITSELF = {"/_stcore/stream", "/api"}
REFUSED = {
    "/metrics": 401, "/control/backup": 403, "/control/restore": 403, "/control/people": 403,
    "/_stcore/metrics": 404,
    "/_stcore/upload_file/{session_id}/{file_id}": 403, "/_stcore/agent/interact": 404,
    "/_stcore/agent/openapi.json": 404, "/_stcore/agent/mcp": 404,
}  # fmt: skip


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """The whole server of a club whose people sign in, and the secret of its commands."""
    how = sign_in.SignIn("https://kits.example.org", "kits", "s", "https://id.example.org/x")
    given = operation.Operation(metrics_token="a-token-for-the-counts")
    with alone(), opened(tmp_path_factory.mktemp("served")) as club:
        path = club.store.path
        standing.close_club()
        app = serve.asgi(path, how, given)
        with TestClient(app, base_url="https://kits.example.org", client=(FAR, 1)):
            yield app, given._secret


def asked(server, method: str, path: str, client: str = FAR, **more):
    browser = TestClient(server[0], base_url="https://kits.example.org", client=(client, 1))
    return browser.request(method, path, follow_redirects=False, **more)


def filled(path: str) -> str:
    return re.sub(r"\{[^}]*\}", "x", path)


def test_every_address_of_the_server_is_in_the_table(server):
    known = {getattr(route, "path", "") or "" for route in server[0]._starlette_app.routes}
    assert known <= ANYONE | UNGUESSED | ASKS_ITSELF | set(REFUSED)
    assert ASKS_ITSELF | set(REFUSED) <= known


@pytest.mark.parametrize("path", sorted(ANYONE | UNGUESSED))
def test_what_anyone_is_answered_holds_nothing_of_the_club(server, path):
    answer = asked(server, "GET", filled(path) or "/")
    assert answer.status_code in (200, 302, 404)
    words = [*MARKS.values(), SENT, OWN, *BOXES.values(), "club.example"]
    assert not [word for word in words if word.encode() in answer.content]


@pytest.mark.parametrize(("path", "status"), REFUSED.items())
@pytest.mark.parametrize(
    "given", [{}, {"Authorization": "Bearer wrong"}, {"Cookie": "_streamlit_user=forged"}]
)
def test_what_asks_for_something_is_refused_without_it(server, path, status, given):
    method = "POST" if "control" in path else "PUT" if "upload" in path else "GET"
    assert asked(server, method, filled(path), headers=given).status_code == status


def test_the_commands_of_this_machine_are_answered_on_this_machine_only(server):
    """Whoever holds the secret could write the database itself, so it needs no limit but the one on all requests."""
    given = {"Authorization": f"Bearer {server[1]}"}
    for path in ("/control/backup", "/control/restore", "/control/people"):
        assert asked(server, "POST", path, headers=given).status_code == 403
        passed_on = given | {"X-Forwarded-For": "127.0.0.1"}
        assert asked(server, "POST", path, "127.0.0.1", headers=passed_on).status_code == 403
    assert (
        asked(server, "POST", "/control/restore", "127.0.0.1", headers=given, json={"name": "x"}).status_code
        == 409
    )
    assert {route.path for route in control.routes("x")} <= set(REFUSED)


def test_the_limit_on_all_requests_counts_those_of_commands_too(tmp_path):
    async def fine(scope, receive, send):
        await operation.PlainTextResponse("fine")(scope, receive, send)

    client = TestClient(operation.Limits(fine, writes=2))
    assert [client.post("/control/backup").status_code for _ in range(3)] == [200, 200, 429]


# ---- files in the server's memory


def test_a_file_is_let_in_only_where_a_page_asks_for_it(server, monkeypatch):
    monkeypatch.setattr(limits, "ASKING", limits.Opened(60))
    monkeypatch.setattr(limits, "CHOSEN", limits.Limit(1, 60))
    put = "/_stcore/upload_file/a-session/a-file"
    assert asked(server, "PUT", put).status_code == 403
    limits.ASKING.open("a-session")
    assert asked(server, "PUT", put).text != "No page asks for this file.\n"
    assert asked(server, "PUT", put).status_code == 429
    assert asked(server, "DELETE", "/_stcore/upload_file/another/a-file").status_code == 403


def test_a_page_asks_for_files_only_of_those_who_may_send_some(club, monkeypatch):
    def asks(role: Role | None) -> bool:
        monkeypatch.setattr(limits, "ASKING", limits.Opened(60))
        walked(role, OWN, is_read=False, views=("send",))
        return bool(limits.ASKING._seen)

    assert [role for role in (*Role, None) if asks(role)] == [C, Q, E, M]


def test_a_session_is_forgotten_after_a_while():
    now = [0.0]
    asking = limits.Opened(60, lambda: now[0])
    assert not asking.is_open("first")
    asking.open("first")
    now[0] = 59.0
    asking.open("second")
    assert asking.is_open("first")
    now[0] = 61.0
    assert not asking.is_open("first") and asking.is_open("second")
