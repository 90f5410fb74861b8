"""The pages for everyone: judged by axe-core in light and dark, used by keyboard alone, printed whole."""

import io
import re
from pathlib import Path

import axe_playwright_python
from playwright.sync_api import expect
from pypdf import PdfReader

from .conftest import settle, visit

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text("utf-8")
MEMBER, MEMBERS = "/kit?member=QA1BCD", "What should I fix first?"
# What the framework itself does wrong and a page cannot mend: rule, and the part of the framework.
FRAMEWORKS_OWN = {
    ("presentation-role-conflict", "stFileUploaderDropzone"),  # its drop zone hides its role but has a name
}


def defects(page) -> list[tuple[str, str]]:
    """Rule and markup of each defect that axe-core finds, those of the framework left out."""
    page.evaluate(AXE)  # as the machinery of the test: the page itself may load no such script
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
    each = [(rule["id"], node["html"][:200]) for rule in found for node in rule["nodes"]]
    return [
        (rule, html)
        for rule, html in each
        if not any(rule == own and part in html for own, part in FRAMEWORKS_OWN)
    ]


LOOKED_AT = re.compile(r"\d+ of \d+ looked at")
BACKGROUND = "getComputedStyle(document.querySelector('[data-testid=stApp]')).backgroundColor"


def in_light_and_dark(page) -> list[tuple[str, str]]:
    """Defects of the page that is open, as it is and in the other scheme."""
    found = defects(page)
    before = page.evaluate(BACKGROUND)
    is_dark = page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches")
    page.emulate_media(color_scheme="light" if is_dark else "dark")
    page.wait_for_function(f"() => {BACKGROUND} !== '{before}'")
    settle(page)
    return [*found, *defects(page)]


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
    printed = [" ".join(sheet.extract_text().split()) for sheet in PdfReader(io.BytesIO(page.pdf())).pages]
    assert len(printed) > 1, "only what fits the window would be one sheet"
    assert all(printed), "no sheet is blank"
    whole = " ".join(printed)
    headings = [heading.inner_text() for heading in page.get_by_role("heading").all()]
    assert [heading for heading in headings if " ".join(heading.split()) not in whole] == []
    assert "is the club ready?" not in whole, "the way between pages is no part of the page"
