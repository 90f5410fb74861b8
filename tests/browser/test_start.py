"""The first run in a real browser: an empty folder, the invented club and out of it again, the first own kit."""

from playwright.sync_api import expect

from .conftest import serving, settle, visit

START, SEASON, MINE = "How do I start?", "Is the club ready for the season?", "What is in my kit?"
LONG_MS = 120_000


def test_a_club_looks_around_and_begins_for_real(browser, tmp_path):
    with serving(tmp_path) as address:
        page = browser.new_context(base_url=address, viewport={"width": 1280, "height": 1600}).new_page()
        visit(page, "/", SEASON)
        page.get_by_test_id("stMain").get_by_role("link", name="how do I start?").click()
        page.get_by_role("button", name="Load the invented club").click()
        expect(page.get_by_text("The invented club is in:")).to_be_visible(timeout=LONG_MS)
        settle(page)
        page.get_by_test_id("stMain").get_by_role("link", name="is the club ready?").click()
        expect(page.get_by_text("Of 70 kits of 58 members")).to_be_visible(timeout=LONG_MS)
        visit(page, "/start", START)
        expect(page.get_by_role("button", name="Remove the invented club")).to_be_disabled()
        page.get_by_text("Yes, take the invented club out").click()
        settle(page)
        page.get_by_role("button", name="Remove the invented club").click()
        expect(page.get_by_text("The invented club is gone.")).to_be_visible(timeout=LONG_MS)
        settle(page)
        page.get_by_role("link", name="fill in a kit here").click()
        expect(page.get_by_role("heading", level=1, name=MINE)).to_be_visible()
        settle(page)
        for label, text in (("member", "QX5NEW"), ("kit", "first bag")):
            page.get_by_role("combobox", name=label, exact=True).fill(text)
            page.keyboard.press("Enter")
            settle(page)
        page.get_by_role("combobox", name="begin with a checklist").click()
        page.get_by_role("option", name="handheld bag").click()
        settle(page)
        page.get_by_role("button", name="Begin", exact=True).click()
        expect(page.get_by_text("What would change: 10 added")).to_be_visible(timeout=LONG_MS)
        settle(page)
        page.get_by_role("button", name="Save", exact=True).click()
        expect(page.locator(".st-key-outcome")).to_contain_text("Now it is", timeout=LONG_MS)
        page.context.close()
