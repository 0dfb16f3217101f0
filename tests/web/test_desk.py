"""The workshop's desk, in a browser."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.cases.pictures import jpeg
from tests.web.live import Live, log_in, open_context, watch


def _case_with_photo(page: Page, live: Live, tmp_path: Path) -> str:
    log_in(page, live.url)
    page.get_by_label("Title").fill("Blue two-seater")
    page.get_by_role("button", name="Open the case").click()
    file = tmp_path / "a.jpg"
    file.write_bytes(jpeg(3))
    page.get_by_label("Photos (JPEG").set_input_files(str(file))
    page.get_by_role("button", name="Add", exact=True).click()
    expect(page.locator("#state")).to_have_text("To review")
    return page.url.partition("#")[0]


@pytest.mark.parametrize("size", ["phone", "desktop"])
def test_case_from_photo_to_report(browser: Browser, live: Live, tmp_path: Path, size: str) -> None:
    context = open_context(browser, size)
    page = context.new_page()
    faults = watch(page)
    address = _case_with_photo(page, live, tmp_path)
    best = page.locator(".candidates tbody tr").first
    expect(best).to_contain_text("three-hole")
    for side in ("Left", "Right"):
        page.get_by_text(f"Correct Bolt holes in the air flange, {side}").click()
        form = page.locator(f"#flange_holes-{side.lower()}")
        form.select_option("2")
        form.locator("xpath=ancestor::form").get_by_role("button", name="Keep").click()
        expect(page.locator(".byhand").first).to_have_text("corrected by hand")
    expect(best).to_contain_text("two-hole")
    check = page.locator("article.check").first
    check.get_by_label("Note").fill("looked at it")
    check.get_by_role("button", name="good", exact=False).first.click()
    expect(page.locator("article.check.good").first).to_contain_text("ann")
    expect(page.locator("#history")).to_contain_text("corrected a feature")
    with page.expect_download() as download:
        page.get_by_role("link", name="Report as PDF").click()
    data = download.value.path().read_bytes()
    assert data.startswith(b"%PDF")
    page.goto(f"{address}/report")
    expect(page.locator(".report")).to_contain_text("Made with")
    assert faults == []
    context.close()


def test_holes_are_marked_by_hand_on_the_photo(
    browser: Browser, live: Live, tmp_path: Path
) -> None:
    context = open_context(browser, "desktop")
    page = context.new_page()
    address = _case_with_photo(page, live, tmp_path)
    page.get_by_role("button", name="Mark holes").click()
    svg = page.locator("svg.viewer").first
    # The element may be wider than the picture in it.
    box = svg.locator("image").bounding_box()
    assert box is not None
    for x, y in ((0.3, 0.5), (0.4, 0.5)):
        page.mouse.click(box["x"] + x * box["width"], box["y"] + y * box["height"])
    expect(page.locator(".pending circle")).to_have_count(2)
    page.locator("form.drawing").get_by_role("button", name="Keep").click()
    expect(page.locator(".drawings circle")).to_have_count(2)
    expect(page.locator("#features")).to_contain_text("corrected by hand")
    result = page.request.get(address.replace("/desk/", "/api/") + "/corrections").json()
    points = result[0]["drawing"]["points"]
    # The photo is 320 × 240 pixels; the taps were at 30 % and 40 % of its width.
    assert [round(x) for x, _ in points] == pytest.approx([96, 128], abs=2)
    assert [round(y) for _, y in points] == pytest.approx([120, 120], abs=2)
    context.close()


def test_zoom_layers_and_keyboard(browser: Browser, live: Live, tmp_path: Path) -> None:
    context = open_context(browser, "desktop")
    page = context.new_page()
    _case_with_photo(page, live, tmp_path)
    svg = page.locator("svg.viewer").first
    assert svg.get_attribute("viewBox") == "0 0 320 240"
    page.get_by_role("button", name="Zoom in").click()
    zoomed = [float(value) for value in (svg.get_attribute("viewBox") or "").split()]
    assert zoomed[2] == pytest.approx(320 / 1.4)
    svg.focus()
    page.keyboard.press("ArrowRight")
    moved = [float(value) for value in (svg.get_attribute("viewBox") or "").split()]
    assert moved[0] > zoomed[0]
    page.keyboard.press("0")
    assert svg.get_attribute("viewBox") == "0 0 320 240"
    boxes = page.locator(".boxes").first
    expect(boxes).to_be_visible()
    page.get_by_label("Boxes").uncheck()
    expect(boxes).to_be_hidden()
    context.close()


def test_whole_desk_works_with_the_keyboard_alone(
    browser: Browser, live: Live, tmp_path: Path
) -> None:
    context = open_context(browser, "desktop")
    page = context.new_page()
    page.goto(f"{live.url}/login")
    page.get_by_label("Name").focus()
    page.keyboard.type("ann")
    page.keyboard.press("Tab")
    page.keyboard.type("three quiet carburettors")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Cases").wait_for()
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    page.get_by_label("Title").focus()
    page.keyboard.type("By keyboard")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("By keyboard")
    page.get_by_role("link", name="Delete…").focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Delete for good").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_text("No cases here yet.")).to_be_visible()
    context.close()


def test_link_page_shows_a_code_that_reads_as_the_link(
    browser: Browser, live: Live, tmp_path: Path
) -> None:
    # OpenCV's QR reader is the outside check.
    import cv2

    context = open_context(browser, "desktop")
    page = context.new_page()
    log_in(page, live.url)
    page.get_by_label("Title").fill("t")
    page.get_by_role("button", name="Open the case").click()
    page.get_by_role("button", name="Make a customer link").click()
    address = page.get_by_label("Link", exact=True).input_value()
    picture = tmp_path / "qr.png"
    page.locator(".qrbox").screenshot(path=str(picture))
    text, _, _ = cv2.QRCodeDetector().detectAndDecode(cv2.imread(str(picture)))
    assert text == address
    visitor = open_context(browser).new_page()
    visitor.goto(address)
    expect(visitor.get_by_role("heading", level=1)).to_contain_text("Photos of your")
    visitor.context.close()
    context.close()
