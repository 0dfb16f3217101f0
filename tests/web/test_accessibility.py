"""WCAG 2.2 AA by axe-core, and targets large enough for gloves."""

from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.cases.pictures import jpeg
from tests.web.live import Live, log_in, open_context

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
TARGET = 44

SMALL_TARGETS = f"""() => [...document.querySelectorAll(
  'button, a.button, .tabs a, .jump a, summary, select, input:not([type=hidden]), textarea')]
  .filter(e => e.checkVisibility() && !e.classList.contains('take-input'))
  .map(e => e.type === 'checkbox' ? e.closest('label') : e)
  .map(e => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
  .filter(([_, r]) => r.height && (r.height < {TARGET} - 0.5 || r.width < {TARGET} - 0.5))
  .map(([html, r]) => `${{html}} ${{r.width}}x${{r.height}}`)"""


def _check(page: Page) -> None:
    options: dict[str, Any] = {"runOnly": {"type": "tag", "values": TAGS}}
    found = Axe().run(page, options=options)
    faults = [
        f"{one['id']}: {node['html'][:160]} {node['failureSummary']}"
        for one in found.response["violations"]
        for node in one["nodes"]
    ]
    assert faults == []
    assert len(found.response["passes"]) >= 10
    assert page.evaluate(SMALL_TARGETS) == []
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert wide <= 0, "the page scrolls sideways"


@pytest.mark.parametrize(("size", "scheme"), [("phone", "dark"), ("desktop", "light")])
def test_every_page_passes(
    browser: Browser, live: Live, tmp_path: Path, size: str, scheme: str
) -> None:
    context = open_context(browser, size, color_scheme=scheme)
    page = context.new_page()
    page.goto(f"{live.url}/login")
    _check(page)
    page.goto(f"{live.url}/l/wrong")
    _check(page)
    case_id, address = live.new_case()
    file = tmp_path / "a.jpg"
    file.write_bytes(jpeg(3))
    page.goto(address)
    page.set_input_files("#take-intake", str(file))
    expect(page.locator("#result")).to_contain_text("Both carburettors")
    _check(page)
    page.locator('[data-camera="top"]').click()
    expect(page.get_by_role("button", name="Take the photo")).to_be_enabled()
    _check(page)
    page.keyboard.press("Escape")
    log_in(page, live.url)
    _check(page)
    page.goto(f"{live.url}/desk/cases/{case_id}")
    page.evaluate("document.querySelectorAll('details').forEach(e => { e.open = true; })")
    _check(page)
    page.get_by_role("button", name="Mark holes").first.click()
    _check(page)
    page.goto(f"{live.url}/desk/cases/{case_id}/report")
    _check(page)
    page.goto(f"{live.url}/desk/cases/{case_id}/delete")
    _check(page)
    context.close()


def test_other_language_passes_and_is_declared(browser: Browser, live: Live) -> None:
    _, address = live.new_case()
    context = open_context(browser)
    page = context.new_page()
    page.goto(address)
    page.get_by_role("button", name="Deutsch").click()
    expect(page.locator("html")).to_have_attribute("lang", "de")
    expect(page.get_by_role("heading", level=1)).to_have_text("Fotos Ihrer Vergaser")
    _check(page)
    context.close()
