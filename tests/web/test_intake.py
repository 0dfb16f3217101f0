"""The customer's page, in a browser: phone size, bad connections, closed pages."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageFilter
from playwright.sync_api import Browser, Page, expect

from tests.web.live import Live, open_context, slow, watch

MBIT = 1_000_000


def _take(page: Page, file: Path, view: str = "intake") -> None:
    page.set_input_files(f"#take-{view}", str(file))


def _received(page: Page, view: str = "intake") -> None:
    shot = page.locator(f'[data-view="{view}"] .shot.kept')
    expect(shot).to_have_count(1, timeout=60_000)
    expect(shot).to_contain_text("Received")


@pytest.mark.parametrize("size", ["phone", "desktop"])
def test_photo_in_answer_out(browser: Browser, live: Live, photo_file: Path, size: str) -> None:
    _, address = live.new_case()
    context = open_context(browser, size)
    page = context.new_page()
    faults = watch(page)
    page.goto(address)
    expect(page.get_by_text("Before you lean over the engine")).to_be_visible()
    _take(page, photo_file)
    _received(page)
    result = page.locator("#result")
    expect(result).to_contain_text("Both carburettors were found.")
    expect(result).to_contain_text("piston dashpot")
    expect(result).to_contain_text("These photos are enough.")
    # Nothing of our insides: no candidate, no probability, no catalogue.
    for word in ("%", "bits", "posterior", "Ostrel"):
        expect(result).not_to_contain_text(word)
    assert faults == []
    context.close()


def test_upload_survives_a_lost_connection(browser: Browser, live: Live, photo_file: Path) -> None:
    _, address = live.new_case()
    context = open_context(browser)
    page = context.new_page()
    page.goto(address)
    slow(page, 4 * MBIT)
    _take(page, photo_file)
    expect(page.locator(".shot .said")).to_contain_text("%", timeout=20_000)
    context.set_offline(True)
    expect(page.locator("#offline")).to_be_visible()
    page.wait_for_timeout(1500)
    context.set_offline(False)
    _received(page)
    sent = page.evaluate(
        "performance.getEntriesByType('resource').filter(e => e.name.includes('/uploads/')).length"
    )
    assert sent >= 2
    expect(page.locator("#result")).to_contain_text("Both carburettors were found.")
    context.close()


def test_upload_goes_on_after_the_page_was_closed(
    browser: Browser, live: Live, photo_file: Path
) -> None:
    _, address = live.new_case()
    context = open_context(browser)
    page = context.new_page()
    page.goto(address)
    slow(page, 2 * MBIT)
    _take(page, photo_file)
    expect(page.locator(".shot .said")).to_contain_text("%", timeout=20_000)
    page.close()
    parts = list((live.workspace.settings.data_dir / "uploads").iterdir())
    assert len(parts) == 1
    again = context.new_page()
    again.goto(address)
    _received(again)
    expect(again.locator("#result")).to_contain_text("Both carburettors were found.")
    context.close()


def test_upload_goes_on_when_the_server_was_restarted(
    browser: Browser, live: Live, photo_file: Path
) -> None:
    _, address = live.new_case()
    context = open_context(browser)
    page = context.new_page()
    page.goto(address)
    slow(page, 4 * MBIT)
    _take(page, photo_file)
    expect(page.locator(".shot .said")).to_contain_text("%", timeout=20_000)
    live.stop_server()
    page.wait_for_timeout(500)
    live.restart_server()
    _received(page)
    context.close()


def test_file_that_is_no_photo_says_what_to_do(
    browser: Browser, live: Live, tmp_path: Path
) -> None:
    _, address = live.new_case()
    page = open_context(browser).new_page()
    page.goto(address)
    file = tmp_path / "notes.jpg"
    file.write_text("not a photo at all " * 50)
    _take(page, file)
    shot = page.locator('[data-view="intake"] .shot.rejected')
    expect(shot).to_contain_text("Not sent")
    expect(shot.get_by_role("button", name="Try again")).to_be_visible()
    page.context.close()


def _picture(kind: str) -> Image.Image:
    rng = np.random.default_rng(5)
    noise = Image.fromarray(rng.integers(0, 256, (1200, 1600, 3), dtype=np.uint8))
    return {
        "dark": lambda: noise.point(lambda level: level // 12),
        "blurred": lambda: noise.filter(ImageFilter.GaussianBlur(25)),
        "small": lambda: noise.resize((640, 480)),
        "good": lambda: noise,
    }[kind]()


@pytest.mark.parametrize(
    ("kind", "told"),
    [("dark", "Too dark"), ("blurred", "Blurred"), ("small", "Too small"), ("good", None)],
)
def test_poor_photo_is_told_in_the_browser_before_it_is_sent(
    browser: Browser, live: Live, tmp_path: Path, kind: str, told: str | None
) -> None:
    file = tmp_path / f"{kind}.jpg"
    _picture(kind).save(file, quality=90)
    _, address = live.new_case()
    page = open_context(browser).new_page()
    page.goto(address)
    # Without a connection nobody but the browser can have looked at it.
    page.context.set_offline(True)
    _take(page, file)
    expect(page.locator(".shot")).to_have_count(1)
    expect(page.locator(".shot .said")).to_contain_text("Waiting for a connection")
    advice = page.locator(".shot .advice")
    if told is None:
        expect(advice).to_be_empty()
    else:
        expect(advice).to_contain_text(told)
    page.context.set_offline(False)
    page.context.close()


def test_what_the_customer_says_is_kept_as_typed(browser: Browser, live: Live) -> None:
    _, address = live.new_case()
    page = open_context(browser).new_page()
    page.goto(address)
    page.get_by_label("Text on the tag").fill("AB <b>12</b>")
    page.get_by_label("Model year").fill("1965")
    expect(page.locator("#kept")).to_have_text("Kept.")
    page.reload()
    expect(page.get_by_label("Text on the tag")).to_have_value("AB <b>12</b>")
    page.context.close()


def test_owner_deletes_a_photo(browser: Browser, live: Live, photo_file: Path) -> None:
    _, address = live.new_case()
    page = open_context(browser).new_page()
    page.goto(address)
    _take(page, photo_file)
    _received(page)
    page.on("dialog", lambda dialog: dialog.accept())
    page.locator(".shot.kept .remove").click()
    expect(page.locator(".shot")).to_have_count(0)
    folder = live.workspace.settings.data_dir / "photos"
    assert [path for path in folder.rglob("*") if path.is_file()] == []
    page.context.close()
