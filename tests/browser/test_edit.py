"""Filling in a kit, looking one over, sending a spreadsheet and finding things, in a real browser."""

import pytest
from playwright.sync_api import expect

from tests.workbooks import table, xlsx

from .conftest import settle, visit

MINE, SEND, FIND, KIT = "What is in my kit?", "Send a kit list", "Where is it?", "What should I fix first?"
LONG_MS = 60_000
ON_A_PHONE = pytest.mark.parametrize("page", [{"viewport": {"width": 390, "height": 844}}], indirect=True)


def test_a_kit_is_begun_with_a_checklist_edited_and_saved(page):
    visit(page, "/mine?member=QX5NEW&kit=new%20bag", MINE)
    page.get_by_role("combobox", name="begin with a checklist").click()
    page.get_by_role("option", name="handheld bag").click()
    settle(page)
    page.get_by_role("button", name="Begin", exact=True).click()
    expect(page.get_by_text("What would change: 10 added")).to_be_visible(timeout=LONG_MS)
    settle(page)
    grid = page.locator("[class*=st-key-rows-inventory]")
    grid.locator(".dvn-scroller").click(position={"x": 140, "y": 52})
    expect(grid.locator("[role=gridcell][aria-selected=true]").first).to_be_attached()
    page.keyboard.press("Enter")
    page.locator("#portal input, #portal textarea").first.fill("walkie with the long whip")
    page.keyboard.press("Enter")
    changes = page.locator(".st-key-wrapped-edit-changes table")
    expect(changes).to_contain_text("walkie with the long whip", timeout=LONG_MS)
    settle(page)
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("Saved: 10 changes")).to_be_visible(timeout=LONG_MS)
    expect(page.locator(".st-key-outcome")).to_contain_text("Now it is")
    settle(page)
    expect(page.get_by_text("Nothing is changed yet.")).to_be_visible()


def test_a_spreadsheet_is_previewed_sheet_by_sheet(page):
    visit(page, "/send", SEND)
    heading = ["member", "kit", "item", "kind"]
    book = xlsx(
        {"my bag": table([heading, ["QX6NEW", "bag", "radio", "handheld"]]), "notes": table([["hello"]])}
    )
    page.get_by_test_id("stFileUploaderDropzoneInput").set_input_files(
        {"name": "mine.xlsx", "mimeType": "application/octet-stream", "buffer": book}
    )
    expect(page.get_by_text("mine.xlsx, sheet my bag is in order: 1 row of inventory")).to_be_visible()
    expect(page.get_by_text("passed over: notes")).to_be_visible()


def test_words_lead_to_a_member_by_keyboard_alone(page):
    visit(page, "/find", FIND)
    field = page.get_by_role("textbox", name="words to find")
    field.focus()
    page.keyboard.type("qa1bcd")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="members (1)")).to_be_visible(timeout=LONG_MS)
    settle(page)
    page.locator(".st-key-hit-member-0 a").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1, name=KIT)).to_be_visible(timeout=LONG_MS)
    expect(page.get_by_role("heading", name="QA1BCD is")).to_be_visible(timeout=LONG_MS)


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


@pytest.mark.parametrize(
    "page", [{"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}], indirect=True
)
def test_under_a_finger_the_tools_of_a_list_cover_no_words(page):
    visit(page, "/after?event=Willow%20Loop%20Walk", "How did it go?")
    words = page.get_by_text("move the table sideways").bounding_box()
    tools = page.get_by_test_id("stElementToolbar").first.bounding_box()
    assert words["y"] + words["height"] <= tools["y"]


@ON_A_PHONE
def test_what_a_post_lacks_has_the_whole_width(page):
    visit(page, "/events", "Who can hold which post?")
    lacks = page.locator(".st-key-lacking tbody td:last-child").first
    assert lacks.bounding_box()["width"] > 300
