"""What a coordinator and a treasurer plan, and an event lead before and after an event, in a real browser."""

import csv
import re
from urllib.parse import quote

import pytest
from playwright.sync_api import expect

from .conftest import settle, visit

EVENTS, BUY, KIT = "Who can hold which post?", "What should the club buy?", "What should I fix first?"
AFTER, WHATIF = "How did it go?", "What if something changes?"
EVENT = "Tinder Lane Lantern Parade"
LONG_MS = 120_000


def at(look: str, **more: str) -> str:
    """Address of one part of an event."""
    told = {"event": EVENT, "look": look} | more
    return "/events?" + "&".join(f"{name}={quote(value)}" for name, value in told.items())


def test_a_plan_is_worked_out_drawn_and_taken_away(page):
    visit(page, at("who should go where?"), EVENTS)
    page.get_by_role("button", name="Work out a plan").click()
    expect(page.get_by_text("how does it compare with the assignments")).to_be_visible(timeout=LONG_MS)
    settle(page)
    with page.expect_download() as caught:
        page.get_by_role("button", name="Download the plan as").click()
    with open(caught.value.path(), encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["event"] for row in rows} == {EVENT}
    for row in rows:
        bars = page.locator(f"path[role=graphics-symbol][aria-label*='{row['post']}: {row['member']}']")
        expect(bars.first).to_be_attached()


def test_a_budget_is_moved_and_the_buy_list_follows(page):
    visit(page, "/purchases?budget=300", BUY)
    page.get_by_role("button", name="Work out what to buy").click()
    said = page.get_by_text(re.compile(r"USD close \d+ finding")).first
    expect(said).to_be_visible(timeout=LONG_MS)
    settle(page)
    expect(page.get_by_role("button", name="Work out what to buy")).to_have_count(0)
    before = said.inner_text()
    assert int(re.search(r"[\d,]+", before)[0].replace(",", "")) <= 300
    page.get_by_role("slider", name="budget, USD").press("ArrowRight")
    expect(said).not_to_have_text(before, timeout=LONG_MS)
    settle(page)
    assert "budget=400" in page.url
    assert int(re.search(r"[\d,]+", said.inner_text())[0].replace(",", "")) <= 400
    page.set_viewport_size({"width": 390, "height": 844})
    settle(page)
    closes = page.locator(".st-key-buying tbody td:last-child").first.bounding_box()
    assert closes["x"] >= 0 and closes["x"] + closes["width"] <= 390, "what it closes is not cut"
    is_cut = "cells => cells.filter(cell => cell.scrollWidth > cell.clientWidth).map(cell => cell.innerText)"
    assert page.locator(".st-key-buying td").evaluate_all(is_cut) == []


def test_a_kit_is_made_lighter_for_a_post_and_its_packing_list_taken_away(page):
    visit(page, f"/loadout?member=QA1BCD&event={quote(EVENT)}", "What can stay at home?")
    page.get_by_role("button", name="Work out what to take").click()
    expect(page.get_by_text(re.compile(r"can stay at home: |Everything is needed")).first).to_be_visible(
        timeout=LONG_MS
    )
    settle(page)
    with page.expect_download() as caught:
        page.get_by_role("button", name="Download the packing list").click()
    assert caught.value.suggested_filename.startswith("qa1bcd")
    with open(caught.value.path(), "rb") as file:
        assert file.read(5) == b"%PDF-"


def test_an_address_leads_to_one_post_and_its_kits(page):
    visit(page, at("which kit can hold which post?", at_post="Backup van"), EVENTS)
    expect(page.get_by_text("best first.")).to_be_visible()
    rows = page.locator(".st-key-wrapped-post-by-kit tbody tr")
    expect(rows.first).to_be_visible()
    cells = rows.first.locator("td").all_inner_texts()
    assert "Backup van" not in cells, "the post is chosen, so its name is not repeated"
    assert "● can" in cells


@pytest.mark.parametrize(
    "page", [{"viewport": {"width": w, "height": 900}} for w in (390, 1280)], indirect=True
)
def test_no_screen_cuts_what_is_to_be_read(page):
    for path, title, fold in [
        ("/kit?member=QD9PVW", KIT, "what would change the verdict of QD9PVW?"),
        ("/policy", "What has the club decided?", "what counts now for batteries, posts and modes"),
    ]:
        visit(page, path, title)
        page.get_by_text(fold).click()
        expect(page.locator("[class*=st-key-wrapped] table").first).to_be_visible(timeout=LONG_MS)
        settle(page)
        is_cut = "all => all.filter(one => one.scrollWidth > one.clientWidth).map(one => one.innerText)"
        parts = page.locator("[class*=st-key-wrapped] :is(.stTable, .stTable > div, th, td)")
        assert parts.evaluate_all(is_cut) == [], path


@pytest.mark.parametrize("page", [{"viewport": {"width": 390, "height": 844}}], indirect=True)
def test_plans_fit_a_phone(page):
    parts = ("which kit can hold which post?", "do the batteries last?", "how far must people stay?")
    for path, title in [
        *((at(part), EVENTS) for part in parts),
        ("/purchases", BUY),
        ("/loadout?member=QA1BCD", "What can stay at home?"),
        ("/kit?member=QA1BCD", KIT),
    ]:
        visit(page, path, title)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, path


def test_a_report_is_filled_in_and_shows_what_it_would_change(page):
    visit(page, f"/after?event={quote(EVENT)}", AFTER)
    expect(page.get_by_text("Nothing yet: fill in a line")).to_be_visible()
    page.get_by_role("combobox", name="what failed?").click()
    page.get_by_role("option").first.click()
    page.keyboard.press("Escape")
    expect(page.get_by_text("This event has not begun.")).to_be_visible(timeout=LONG_MS)
    settle(page)
    grid = page.locator(".st-key-wrapped-report-changes table")
    expect(grid).to_contain_text("faulty")
    expect(page.get_by_role("button", name="Save the report")).to_be_disabled()


def test_a_colder_night_is_set_beside_the_one_expected(page):
    visit(page, f"/whatif?event={quote(EVENT)}", WHATIF)
    expect(page.get_by_role("button", name="Work it out")).to_be_disabled()
    box = page.get_by_role("spinbutton", name="coldest, °C")
    box.fill("-18")
    box.press("Enter")
    expect(page.get_by_text("If the coldest is -18 °C")).to_be_visible(timeout=LONG_MS)
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_text("and the best staffing?")).to_be_visible(timeout=LONG_MS)
    settle(page)
    grid = page.locator(".st-key-wrapped-side-by-side table")
    expect(grid).to_contain_text("Net control")
    page.get_by_role("button", name="Fail one thing at a time").click()
    bars = page.locator("path[role=graphics-symbol][aria-label*='worse']")
    expect(bars.first).to_be_attached(timeout=LONG_MS)
