"""The live camera: Chromium's own test camera stands in for a phone's."""

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.web.live import Live, open_context, watch

BROKEN_CAMERA = """navigator.mediaDevices.getUserMedia =
  () => Promise.reject(new DOMException("no", "NotAllowedError"))"""
# A camera that looks into the dark, as the browser gives it: a stream of a black canvas.
DARK_CAMERA = """navigator.mediaDevices.getUserMedia = async () => {
  const canvas = document.createElement("canvas");
  canvas.width = 1280; canvas.height = 960;
  canvas.getContext("2d").fillRect(0, 0, 1280, 960);
  setInterval(() => canvas.getContext("2d").fillRect(0, 0, 1280, 960), 50);
  return canvas.captureStream(20);
}"""
TRACKS = "document.querySelector('#camera video').srcObject?.getTracks().length ?? 0"


def _open(page: Page, live: Live) -> None:
    _, address = live.new_case()
    page.goto(address)
    page.locator('[data-camera="intake"]').click()


@pytest.mark.parametrize("size", ["phone", "desktop"])
def test_photo_from_the_live_picture_is_sent_and_answered(
    browser: Browser, live: Live, size: str
) -> None:
    context = open_context(browser, size)
    page = context.new_page()
    faults = watch(page)
    _open(page, live)
    dialog = page.get_by_role("dialog", name="Air-intake side")
    shoot = dialog.get_by_role("button", name="Take the photo")
    expect(shoot).to_be_enabled()
    assert page.evaluate("document.querySelector('#camera video').videoWidth") > 0
    # The outline lies over the whole live picture.
    outline, picture = dialog.locator(".lines"), dialog.locator("video")
    assert str(outline.get_attribute("src")) == "/icons/view-intake.svg"
    assert outline.bounding_box() == picture.bounding_box()
    assert page.evaluate("document.querySelector('#camera .lines').naturalWidth") > 0
    shoot.click()
    expect(dialog).to_be_hidden()
    assert page.evaluate(TRACKS) == 0, "the camera's light must go out"
    expect(page.locator('[data-view="intake"] .shot.kept')).to_have_count(1)
    expect(page.locator("#result")).to_contain_text("Both carburettors were found.")
    assert faults == []
    context.close()


def test_without_a_camera_the_file_is_chosen(browser: Browser, live: Live) -> None:
    context = open_context(browser)
    context.add_init_script(BROKEN_CAMERA)
    page = context.new_page()
    _open(page, live)
    dialog = page.locator("#camera")
    expect(dialog).to_contain_text("The camera cannot be used here.")
    expect(dialog.get_by_role("button", name="Take the photo")).to_be_disabled()
    with page.expect_file_chooser() as chooser:
        dialog.get_by_role("button", name="Choose a photo instead").click()
    assert chooser.value.element.get_attribute("id") == "take-intake"
    context.close()


def test_browser_that_has_no_camera_interface_shows_no_button(browser: Browser, live: Live) -> None:
    context = open_context(browser)
    context.add_init_script("delete Navigator.prototype.mediaDevices")
    page = context.new_page()
    _, address = live.new_case()
    page.goto(address)
    expect(page.locator(".take").first).to_be_visible()
    expect(page.locator("[data-camera]").first).to_be_hidden()
    context.close()


def test_darkness_is_told_while_looking(browser: Browser, live: Live) -> None:
    context = open_context(browser)
    context.add_init_script(DARK_CAMERA)
    page = context.new_page()
    _open(page, live)
    expect(page.locator("#camera .live")).to_contain_text("Too dark")
    page.keyboard.press("Escape")
    expect(page.locator("#camera")).to_be_hidden()
    assert page.evaluate(TRACKS) == 0
    context.close()
