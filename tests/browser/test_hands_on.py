"""What is done on a phone, in a real browser: a kit looked over to the end, and the posts of an event read."""

import pytest
from playwright.sync_api import expect

from .conftest import settle, visit

LONG_MS = 60_000
ON_A_PHONE = pytest.mark.parametrize("page", [{"viewport": {"width": 390, "height": 844}}], indirect=True)


@ON_A_PHONE
def test_a_kit_is_looked_over_module_by_module(page):
    visit(page, "/inspect?member=QC8MRS&kit=Field%20station", "Inspection day")
    module = page.get_by_role("combobox", name="module")
    module.fill("antenna")
    page.keyboard.press("Enter")
    settle(page)
    for place in (0, 1):
        page.get_by_role("radio", name="there").nth(place).click()
        settle(page)
    expect(module).to_have_value("antenna")
    page.get_by_role("button", name="All the others here are there").click()
    settle(page)
    page.get_by_role("button", name="Next: ").click()
    settle(page)
    expect(module).not_to_have_value("antenna")
    page.get_by_role("button", name="Save what was found").click()
    expect(page.get_by_text("Saved: QC8MRS, Field station.")).to_be_in_viewport(timeout=LONG_MS)


@ON_A_PHONE
def test_what_a_post_lacks_has_the_whole_width(page):
    visit(page, "/events", "Who can hold which post?")
    lacks = page.locator(".st-key-lacking tbody td:last-child").first
    assert lacks.bounding_box()["width"] > 300
