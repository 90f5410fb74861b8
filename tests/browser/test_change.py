"""What an event lead does before and after an event, in a real browser."""

from urllib.parse import quote

from playwright.sync_api import expect

from .conftest import settle, visit

AFTER, WHATIF = "How did it go?", "What if something changes?"
EVENT = "Tinder Lane Lantern Parade"
LONG_MS = 120_000


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
