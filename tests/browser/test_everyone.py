"""The pages for everyone: judged by axe-core in light and dark, used by keyboard alone, printed whole."""

import io
import re
from pathlib import Path

import axe_playwright_python
import pytest
from PIL import Image
from playwright.sync_api import expect

from ..printed import pages
from .conftest import settle, visit

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text("utf-8")
MEMBER, MEMBERS = "/kit?member=QA1BCD", "What should I fix first?"
# What the framework itself does wrong and a page cannot mend: rule, and the part of the framework.
FRAMEWORKS_OWN = {
    ("presentation-role-conflict", "stFileUploaderDropzone"),  # its drop zone hides its role but has a name
    ("list", "stSidebarNavItems"),  # between its list of sections and their items stand containers
    ("listitem", '<li class="st-emotion'),
    ("landmark-unique", 'aria-label="Scrollable table"'),  # its tables in a window are all called so
    ("empty-table-header", 'role="columnheader"'),  # its editor has a column without a name to mark rows in
}
# What stands behind a click or in the address: an editor, what is folded away, figures in feet.
STATES = {
    "/lists?list=loans%20of%20club%20gear": "Loans of club gear",
    "/mine?member=QA1BCD&kit=Command+case+A&us_units=true": "What is in my kit?",
    "/find?q=battery&us_units=true": "Where is it?",
    "/rules?rule=container_too_heavy_for_one&us_units=true": "What is looked at, and why?",
    "/policy": "What has the club decided?",
}


def defects(page, options: str = "resultTypes: ['violations']") -> list[tuple[str, str]]:
    """Rule and markup of each defect that axe-core finds, those of the framework left out."""
    page.evaluate(AXE)  # as the machinery of the test: the page itself may load no such script
    found = page.evaluate(f"axe.run(document, {{{options}}})")["violations"]
    each = [(rule["id"], node["html"][:200]) for rule in found for node in rule["nodes"]]
    return [
        (rule, html)
        for rule, html in each
        if not any(rule == own and part in html for own, part in FRAMEWORKS_OWN)
    ]


LOOKED_AT = re.compile(r"\d+ of \d+ looked at")
BACKGROUND = "getComputedStyle(document.querySelector('[data-testid=stApp]')).backgroundColor"


def in_light_and_dark(page) -> list[tuple[str, str]]:
    """Defects of the page that is open, as it is and in the other scheme, which changes colours alone."""
    found = defects(page)
    before = page.evaluate(BACKGROUND)
    is_dark = page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches")
    page.emulate_media(color_scheme="light" if is_dark else "dark")
    page.wait_for_function(f"() => {BACKGROUND} !== '{before}'")
    settle(page)
    return [*found, *defects(page, "runOnly: ['color-contrast']")]


def test_no_page_has_a_defect_that_axe_finds_in_light_or_dark(page):
    visit(page, MEMBER, MEMBERS)
    found = {MEMBER: in_light_and_dark(page)}
    for name in page.get_by_test_id("stSidebarNavLink").all_inner_texts():
        page.get_by_test_id("stSidebarNavLink").filter(has_text=name).click()
        expect(page.get_by_test_id("stSidebarNavLink").filter(has_text=name)).to_have_attribute(
            "aria-current", "page"
        )
        settle(page)
        found[name] = in_light_and_dark(page)
    assert len(found) > 8
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


@pytest.mark.parametrize("page", [{"viewport": {"width": 390, "height": 844}}], indirect=True)
def test_what_is_opened_on_a_page_has_no_defect_either(page):
    found = {}
    for path, title in STATES.items():
        visit(page, path, title)
        for fold in page.locator("[data-testid=stExpander] summary").all():
            fold.click()
        settle(page)
        found[path] = in_light_and_dark(page)
    assert {path: wrong for path, wrong in found.items() if wrong} == {}


def press_until(page, is_there: str) -> None:
    """Go on with the tab key until what has the focus answers a question in JavaScript."""
    for _ in range(150):
        page.keyboard.press("Tab")
        if page.evaluate(f"(at => {is_there})(document.activeElement)"):
            return
    raise AssertionError(f"the keyboard never comes to: {is_there}")


def test_a_kit_is_looked_over_by_keyboard_alone(page):
    visit(page, "/inspect", "Inspection day")
    press_until(page, "(at.href || '').includes('kit=')")
    page.keyboard.press("Enter")
    expect(page.get_by_text(LOOKED_AT)).to_contain_text("0 of ", timeout=20_000)
    settle(page)
    press_until(page, "(at.innerText || '').trim() === '● there'")
    page.keyboard.press("Enter")
    expect(page.get_by_text(LOOKED_AT)).to_contain_text("1 of ")
    settle(page)
    press_until(page, "(at.innerText || '').trim() === 'Save what was found'")
    page.keyboard.press("Enter")
    expect(page.locator(".st-key-outcome")).to_contain_text("1 there")


def test_a_page_prints_whole(page):
    visit(page, MEMBER, MEMBERS)
    printed = pages(page.pdf())
    assert len(printed) > 1, "only what fits the window would be one sheet"
    assert all(printed), "no sheet is blank"
    whole = " ".join(printed)
    headings = [heading.inner_text() for heading in page.get_by_role("heading").all()]
    assert [heading for heading in headings if " ".join(heading.split()) not in whole] == []
    assert "is the club ready?" not in whole, "the way between pages is no part of the page"


def test_what_is_longer_than_a_sheet_does_not_leave_its_heading_behind(page):
    visit(page, "/events?event=High+Sluice+Exercise", "Who can hold which post?")
    printed = pages(page.pdf())
    under = {"what does each post lack?": "Backup centre", "who stands where, and when?": "members at"}
    for heading, first in under.items():
        last = [sheet for sheet in printed if heading in sheet][-1]
        assert first in last.rpartition(heading)[-1], heading


@pytest.mark.parametrize("page", [{"color_scheme": "dark"}], indirect=True)
@pytest.mark.parametrize("path", [MEMBER, "/mine?member=QA1BCD&kit=Command+case+A"])
def test_a_dark_page_prints_on_light_paper(page, path):
    page.goto(path)
    drawn = "[data-testid=stVegaLiteChart] svg text, [data-testid=stDataFrame] table[role=grid]"
    expect(page.locator(drawn).first).to_be_attached(timeout=30_000)
    settle(page)
    page.emulate_media(media="print", color_scheme="dark")
    page.wait_for_timeout(500)
    with Image.open(io.BytesIO(page.screenshot())) as shot:
        greys = shot.convert("L").histogram()
    assert sum(greys[200:]) / sum(greys) > 0.9, "the paper, charts and tables are light"
    assert sum(greys[:80]) / sum(greys) > 0.005, "and what is written on it is dark"
    assert defects(page, "runOnly: ['color-contrast']") == []


def test_whoever_goes_by_keyboard_sees_where_they_are(page):
    visit(page, "/", "Is the club ready for the season?")
    for place in ("[data-testid=stSidebarNavLink]", "[data-testid=stElementToolbar] button"):
        page.locator(place).nth(1).focus()
        page.keyboard.press("Shift+Tab")
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert page.evaluate(f"document.activeElement.matches('{place}')") and outline == "solid", place


@pytest.mark.parametrize("page", [{"viewport": {"width": 390, "height": 844}}], indirect=True)
def test_every_page_is_found_in_its_section_on_a_phone(page):
    visit(page, "/start", "How do I start?")
    page.get_by_test_id("stExpandSidebarButton").click()
    sections = page.get_by_test_id("stNavSectionHeader")
    expect(sections.first).to_be_visible()
    said = [section.inner_text().splitlines()[0] for section in sections.all()]
    assert said == ["the club", "my kit", "events", "gear and money", "how it works"]
    page.get_by_test_id("stSidebarNavLink").filter(has_text="who changed what?").click()
    expect(page.get_by_role("heading", level=1, name="Who changed what?")).to_be_visible()


@pytest.mark.parametrize("page", [{"viewport": {"width": 390, "height": 844}}], indirect=True)
def test_long_links_break_into_lines_on_a_phone(page):
    visit(page, "/find?q=battery", "Where is it?")
    cut = page.evaluate(
        "[...document.querySelectorAll('.stPageLink span')].filter(e => e.scrollWidth > e.clientWidth + 1).length"
    )
    assert cut == 0


def test_a_table_that_is_looked_through_in_a_window_prints_whole(page):
    visit(page, "/records", "Who changed what?")
    rows = page.locator(".st-key-wrapped-changes tbody tr")
    assert rows.count() > 8, "no more than fit the window"
    window, table = (
        page.locator(f".st-key-wrapped-changes{inner}").bounding_box() for inner in ("", " table")
    )
    assert window["height"] == table["height"], "a window is no taller than its rows"
    printed = " ".join(pages(page.pdf()))
    said = [" ".join(row.locator("td").first.inner_text().split()) for row in rows.all()]
    assert [one for one in said if one not in printed] == []
