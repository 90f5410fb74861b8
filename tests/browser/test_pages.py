"""What a coordinator and a member do, in a real browser."""

import csv
import http.client
import io
import json
import re
import urllib.request
from urllib.parse import parse_qs, urlsplit

import pytest
from playwright.sync_api import expect

from .conftest import settle, visit

SEASON, KIT, SEND = "Is the club ready for the season?", "What should I fix first?", "Send a kit list"
EVENTS, RULES = "Who can hold which post?", "What is looked at, and why?"
PAGES = {"/": SEASON, "/kit?member=QA1BCD": KIT, "/send": SEND, "/events": EVENTS, "/rules": RULES}
POOR = "member,kit,item,kind,quantity\nQX7NEW,first bag,radio,handheld,1\n"
BETTER = POOR + "QX7NEW,first bag,second radio,handheld,1\nQX7NEW,first bag,packs,handheld_pack,4\n"
BAD = "member,kit,item,kind,quantity\nQX8BAD,bag,radio,handheld,two\nQX8BAD,bag,=1+1,nonsense,1\n"


def give(page, name, text):
    page.get_by_test_id("stFileUploaderDropzoneInput").set_input_files(
        {"name": name, "mimeType": "text/csv", "buffer": text.encode()}
    )


def accept(page):
    page.get_by_role("button", name="in force").click()
    expect(page.get_by_text("In force:")).to_be_visible(timeout=20_000)
    settle(page)


def test_a_bad_file_comes_back_with_every_problem_and_an_annotated_copy(page):
    visit(page, "/send", SEND)
    give(page, "my list.csv", BAD)
    expect(page.get_by_text("2 problems in my list.csv")).to_be_visible()
    settle(page)
    said = page.get_by_test_id("stMarkdownContainer").get_by_role("listitem")
    expect(said.filter(has_text='my list.csv line 2, quantity: "two" is')).to_have_count(1)
    expect(said.filter(has_text='my list.csv line 3, kind: "nonsense" is')).to_have_count(1)
    expect(page.get_by_role("button", name="in force")).to_have_count(0)
    with page.expect_download() as caught:
        page.get_by_role("button", name="Download your file with notes").click()
    with open(caught.value.path(), encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    assert rows[0] == ["member", "kit", "item", "kind", "quantity", "problem", "fix"]
    assert "quantity" in rows[1][5]
    assert rows[2][2] == "'=1+1", "a formula leaves as text"


def test_a_good_file_shows_its_changes_and_a_better_one_moves_the_score(page):
    visit(page, "/send", SEND)
    give(page, "first.csv", POOR)
    expect(page.get_by_text("1 added, 0 removed")).to_be_visible()
    accept(page)
    outcome = page.locator(".st-key-outcome")
    expect(outcome).to_contain_text("not judged before")
    before = re.search(r"score ([\d to]+)", outcome.inner_text())[1].strip()
    settle(page)
    give(page, "better.csv", BETTER)
    expect(page.get_by_text("2 added, 0 removed")).to_be_visible()
    accept(page)
    expect(outcome).to_contain_text(f", {before}")
    after = re.search(r"score ([\d to]+)", outcome.inner_text())[1].strip()
    assert after != before
    page.get_by_role("link", name="open QX7NEW").click()
    expect(page.get_by_role("heading", level=1, name=KIT)).to_be_visible()
    expect(page.get_by_role("heading", name="QX7NEW is")).to_contain_text(f"score {after} of 100")


def test_a_click_on_a_heatmap_cell_shows_the_findings_behind_it(page):
    visit(page, "/", SEASON)
    cell = page.locator("path[role=graphics-symbol][aria-label*=' blocks, ']").first
    label = cell.get_attribute("aria-label")
    subject, question = re.match(r"(.*?): (.*\?) blocks, ", label).groups()
    cell.click()
    behind = page.locator(".st-key-behind-cell")
    expect(behind.get_by_role("heading", name=f"{subject}: {question}")).to_be_visible()
    expect(behind).to_contain_text("blocks ·")
    expect(behind).to_contain_text("To mend it:")


def test_a_click_on_a_gap_shows_whom_it_concerns(page):
    visit(page, "/", SEASON)
    bar = page.locator("path[role=graphics-symbol][aria-label*=' members, ']").first
    title = bar.get_attribute("aria-label").rsplit(": ", 1)[0]
    bar.click()
    expect(page.locator("[class*=st-key-gap-]").first).to_contain_text(title)


def test_the_findings_of_the_club_can_be_taken_away(page):
    visit(page, "/", SEASON)
    with page.expect_download() as caught:
        page.get_by_role("button", name="Download all findings").click()
    with open(caught.value.path(), encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) > 100
    assert {"not met", "not known"} == {row["status"] for row in rows}
    assert all(row["sentence"] and row["source"] for row in rows)


def test_while_a_sheet_is_made_the_page_says_so(page):
    visit(page, "/", SEASON)
    saying = "() => getComputedStyle(document.querySelector('.st-key-review-pdf .stDownloadButton'), '::after').content"
    assert page.evaluate(saying) == "none"
    with page.expect_download() as caught:
        page.get_by_role("button", name="Download the season review").click()
        page.wait_for_function(f"({saying})().includes('It is being made')")
    assert caught.value.suggested_filename == "season-review.pdf"
    page.wait_for_function(f"({saying})() === 'none'")


def test_the_season_answers_under_its_name_too(page):
    visit(page, "/season?by=member", SEASON)
    assert page.url.endswith("/?by=member")
    expect(page.get_by_text("Page not found")).to_have_count(0)
    expect(page.get_by_role("radio", name="member")).to_be_checked()


def test_the_way_between_pages(page):
    visit(page, "/", SEASON)
    for name, title in (
        ("what should I fix first?", KIT),
        ("send a kit list", SEND),
        ("who can hold which post?", EVENTS),
        ("what is looked at, and why?", RULES),
    ):
        page.get_by_test_id("stSidebarNavLink").filter(has_text=name).click()
        expect(page.get_by_role("heading", level=1, name=title)).to_be_visible()
        settle(page)
        expect(page.get_by_test_id("stException")).to_have_count(0)


@pytest.mark.parametrize(
    ("path", "link", "title", "name"),
    [
        ("/kit?member=QA1BCD", "write down what is in the kit", "What is in my kit?", "member"),
        ("/events", "change by hand who goes where", "Who goes to which post", "event"),
        ("/inspect", re.compile("due|never inspected"), "Inspection day", "member"),
    ],
)
def test_a_link_takes_along_whose_it_is_and_the_way_back_leads_back(page, path, link, title, name):
    visit(page, path, PAGES.get(path, title))
    to, before = page.get_by_role("link", name=link).first, page.url
    asked = parse_qs(urlsplit(to.get_attribute("href")).query)[name]
    to.click()
    expect(page.get_by_role("heading", level=1, name=title)).to_be_visible()
    expect(page.get_by_role("combobox", name=name)).to_have_value(*asked)
    page.wait_for_url(lambda url: parse_qs(urlsplit(url).query).get(name) == asked)
    settle(page)
    page.go_back()
    page.wait_for_url(before)


@pytest.mark.parametrize("page", [{"viewport": {"width": 390, "height": 844}}], indirect=True)
@pytest.mark.parametrize("path", PAGES)
def test_nothing_is_wider_than_a_phone(page, path):
    visit(page, path, PAGES[path])
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert page.evaluate("document.querySelector('[data-testid=stMain]').scrollWidth") <= 390
    sideways = "all => all.filter(one => one.scrollWidth > one.clientWidth + 2).length"
    assert page.locator(".dvn-scroller, .stTable > div").evaluate_all(sideways) == 0, "a table is cut"
    expect(page.get_by_test_id("stException")).to_have_count(0)


@pytest.mark.parametrize("page", [{"color_scheme": "dark"}, {"color_scheme": "light"}], indirect=True)
def test_our_own_letters_are_loaded(page):
    visit(page, "/", SEASON)
    loaded = page.evaluate("[...document.fonts].filter(f => f.status === 'loaded').map(f => f.family)")
    assert {"muster text", "muster heading"} <= {name.strip('"') for name in loaded}


def test_the_server_tells_its_health_and_guards_every_answer(address):
    with urllib.request.urlopen(f"{address}/healthz") as response:
        told, headers = json.load(response), response.headers
    assert told["store"] == "ok"
    assert told["version"]
    for path in ("/", "/app/static/text-400.woff2", "/_stcore/health"):
        with urllib.request.urlopen(address + path) as response:
            assert response.headers["Content-Security-Policy"] == headers["Content-Security-Policy"]
    assert "default-src 'self'" in headers["Content-Security-Policy"]


def test_a_file_that_is_too_large_is_refused_by_the_page(page):
    visit(page, "/send", SEND)
    out = io.StringIO()
    out.write("member,kit,item,kind\n" + "QX9BIG,bag,thing,handheld\n" * 240_000)
    give(page, "big.csv", out.getvalue())
    expect(page.get_by_text("5.0MB or smaller").or_(page.get_by_text("5MB or smaller"))).to_be_visible()


def test_a_page_of_another_site_cannot_reach_the_session(address):
    """A name that somebody else points at this machine gets neither the page nor the websocket."""
    keys = {"Upgrade": "websocket", "Connection": "Upgrade", "Sec-WebSocket-Version": "13",
            "Sec-WebSocket-Key": "MDEyMzQ1Njc4OWFiY2RlZg=="}  # fmt: skip
    got = {}
    for host in ("127.0.0.1", "attacker.invalid"):
        for path, extra in (("/", {}), ("/_stcore/stream", keys)):
            asked = http.client.HTTPConnection(address.removeprefix("http://"), timeout=10)
            asked.request("GET", path, headers={"Host": host, **extra})
            got[host, path] = asked.getresponse().status
            asked.close()
    assert got == {
        ("127.0.0.1", "/"): 200,
        ("127.0.0.1", "/_stcore/stream"): 101,
        ("attacker.invalid", "/"): 421,
        ("attacker.invalid", "/_stcore/stream"): 403,
    }


def test_the_choice_of_units_goes_along_and_can_be_handed_on(page):
    visit(page, "/start", "How do I start?")
    page.get_by_text("pounds, feet and °F").click()
    expect(page.get_by_text("Files and tables that are downloaded stay metric.")).to_be_visible()
    expect(page).to_have_url(re.compile(r"us_units=true"))
    page.get_by_test_id("stSidebarNavLink").filter(has_text="what if something changes?").click()
    expect(page.get_by_role("heading", level=1, name="What if something changes?")).to_be_visible()
    settle(page)
    expect(page.get_by_role("switch", name="pounds, feet and °F")).to_be_checked()
    expect(page).to_have_url(re.compile(r"us_units=true"))
    visit(page, "/whatif?us_units=true", "What if something changes?")
    expect(page.get_by_role("switch", name="pounds, feet and °F")).to_be_checked()
