"""Signing in at a provider, in a real browser: who gets in, and what of a cookie counts afterwards."""

import contextlib
import os
import subprocess
import sys
import urllib.error
import urllib.request

import pytest
from playwright.sync_api import expect

from data import upload
from data.people import People
from data.store import Store

from .conftest import TOP, free_port, settle, wait_for

INVENTORY = b"member,kit,item,kind\nQ1AAA,first bag,radio,handheld\nQ1BBB,second bag,radio,handheld\n"
COOKIE = "_streamlit_user"
# In a process of its own: it warns of its own libraries.
PROVIDER = """
import threading
from oidc_provider_mock import User, run_server_in_thread
names = ("first", "second", "third", "stranger")
users = [User(sub=n, claims={{"email": n + "@club.example", "email_verified": True}}) for n in names]
with run_server_in_thread(port={port}, user_claims=users):
    threading.Event().wait()
"""


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    """Address of a dashboard whose people sign in, and the file of its log."""
    folder = tmp_path_factory.mktemp("club")
    store = Store(folder / "club.duckdb")
    store.accept(upload.read("inventory.csv", INVENTORY), "test")
    people = People(store)
    people.add("first@club.example", "First", "coordinator", "", "test")
    people.add("second@club.example", "Second", "member", "Q1AAA", "test")
    people.add("third@club.example", "Third", "member", "Q1BBB", "test")
    store.close()
    provider_port, port = free_port(), free_port()
    address, provider = f"http://localhost:{port}", f"http://localhost:{provider_port}"
    (folder / "club.toml").write_text(
        f'address = "{address}"\nclient_id = "kits"\nclient_secret = "not a secret"\n'
        f'server_metadata_url = "{provider}/.well-known/openid-configuration"\n'
    )
    serve = f"import sys; from dashboard.command import main; sys.argv[1:] = {command(port)}; main()"
    with contextlib.ExitStack() as stack:
        for start, url, name in (
            (PROVIDER.format(port=provider_port), f"{provider}/.well-known/openid-configuration", "provider"),
            (serve, f"{address}/healthz", "server"),
        ):
            log = stack.enter_context((folder / f"{name}.log").open("wb"))
            started = subprocess.Popen(
                [sys.executable, "-c", start],
                cwd=folder,
                env={**os.environ, "PYTHONPATH": str(TOP)},
                stdout=log,
                stderr=log,
            )
            stack.callback(started.wait, 20)
            stack.callback(started.terminate)
            wait_for(url, started, folder / f"{name}.log")
        yield address, folder


def command(port: int) -> list[str]:
    return ["serve", "--db", "club.duckdb", "--club", "club.toml", "--port", str(port)]


@pytest.fixture
def fresh(browser, club):
    """A browser that has never been here."""
    context = browser.new_context(base_url=club[0])
    yield context
    context.close()


def sign_in(context, name: str):
    page = context.new_page()
    page.goto("/")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_placeholder("sub").fill(name)
    page.get_by_role("button", name="Authorize").click()
    page.wait_for_url(lambda url: "localhost" in url and "oauth2" not in url)
    return page


def test_a_member_signs_in_and_sees_their_own_kit(fresh):
    page = sign_in(fresh, "second")
    expect(page.get_by_text("Second, member")).to_be_visible(timeout=30_000)
    page.goto("/kit?member=Q1AAA")
    expect(page.get_by_role("heading", name="everything that was found")).to_be_visible(timeout=30_000)
    page.goto("/kit?member=Q1BBB")
    expect(page.get_by_text("More of it is not shared with you.")).to_be_visible(timeout=30_000)
    expect(page.get_by_role("heading", name="everything that was found")).not_to_be_visible()
    pages = page.get_by_test_id("stSidebarNavLink").all_inner_texts()
    assert {"what is in my kit?", "inspection day", "how did it go?"} <= set(pages), "what is their own"
    assert not {"what is lent out?", "what should the club buy?", "who changed what?"} & set(pages)


def test_a_stranger_with_a_good_sign_in_is_told_whom_to_ask(fresh):
    page = sign_in(fresh, "stranger")
    expect(page.get_by_text("not on the club's list of people")).to_be_visible(timeout=30_000)
    page.goto("/records")
    expect(page.get_by_text("not on the club's list of people")).to_be_visible(timeout=30_000)


def test_a_cookie_kept_from_before_the_sign_out_opens_nothing(fresh, browser, club):
    page = sign_in(fresh, "third")
    expect(page.get_by_text("Third, member")).to_be_visible(timeout=30_000)
    kept = fresh.cookies()
    assert any(cookie["name"] == COOKIE and cookie["httpOnly"] for cookie in kept)
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_timeout(1_000)
    thief = browser.new_context(base_url=club[0])
    thief.add_cookies(kept)
    page = thief.new_page()
    page.goto("/season")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible(timeout=30_000)
    thief.close()


def test_a_cookie_that_was_changed_opens_nothing(fresh, browser, club):
    page = sign_in(fresh, "second")
    expect(page.get_by_text("Second, member")).to_be_visible(timeout=30_000)
    forged = [
        cookie | {"value": cookie["value"][:-6] + "AAAAAA"} if cookie["name"] == COOKIE else cookie
        for cookie in fresh.cookies()
    ]
    other = browser.new_context(base_url=club[0])
    other.add_cookies(forged)
    page = other.new_page()
    page.goto("/season")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible(timeout=30_000)
    other.close()


def test_the_open_page_of_someone_who_is_removed_shows_nothing_more(fresh, browser, club):
    coordinator = sign_in(browser.new_context(base_url=club[0]), "first")
    page = sign_in(fresh, "second")
    expect(page.get_by_text("Second, member")).to_be_visible(timeout=30_000)
    coordinator.goto("/people")
    settle(coordinator)
    choice = coordinator.get_by_label("person to change")
    choice.scroll_into_view_if_needed()  # a list that has opened closes again where the page moves
    choice.click()
    coordinator.get_by_role("option", name="Second").click()
    coordinator.get_by_role("button", name="Let them sign in no more").click()
    expect(choice).to_be_visible()
    settle(coordinator)
    page.get_by_role("link", name="what should I fix first?").click()
    expect(page.get_by_text("not on the club's list of people")).to_be_visible(timeout=30_000)
    coordinator.context.close()


def test_the_secret_of_the_cookies_is_for_its_owner_alone_and_never_logged(club):
    _, folder = club
    secret = folder / "cookie-secret"
    assert secret.stat().st_mode & 0o777 == 0o600
    log = (folder / "server.log").read_text("utf-8", "replace")
    assert secret.read_text() not in log and "not a secret" not in log


def test_another_name_of_the_machine_is_refused(club):
    asked = urllib.request.Request(f"{club[0]}/healthz", headers={"Host": "evil.example"})
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(asked, timeout=5)
    assert refused.value.code == 421
    refused.value.close()
