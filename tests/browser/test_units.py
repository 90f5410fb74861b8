"""Feet and pounds in a real browser: the choice goes along between pages and stands in their address."""

import re

from playwright.sync_api import expect

from tests.browser.conftest import settle, visit


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
