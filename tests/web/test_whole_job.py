"""The whole job with the real analysis, as a workshop and its customer do it."""

import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect
from pypdf import PdfReader

from tests.web.live import PASSWORD, open_context, slow, watch
from tests.web.process import ServiceProcess

SAMPLES = Path(__file__).parents[2] / "sample_images"


@pytest.fixture
def service(tmp_path: Path) -> Iterator[ServiceProcess]:
    running = ServiceProcess(tmp_path / "data", CARBPAIR_RATE_LIMITS="false")
    running.start()
    yield running
    running.stop()


@pytest.mark.parametrize("size", ["phone", "desktop"])
def test_link_photos_analysis_correction_report(
    browser: Browser, service: ServiceProcess, size: str
) -> None:
    desk_context = open_context(browser, size)
    desk = desk_context.new_page()
    faults = watch(desk)
    desk.goto(service.setup_address())
    desk.get_by_label("Name").fill("ann")
    desk.get_by_label("Password").fill(PASSWORD)
    desk.get_by_role("button", name="Make the login").click()
    desk.get_by_label("Title").fill("Blue two-seater")
    desk.get_by_role("button", name="Open the case").click()
    address = desk.url
    desk.get_by_role("button", name="Make a customer link").click()
    link = desk.get_by_label("Link", exact=True).input_value()

    customer_context = open_context(browser, size)
    page = customer_context.new_page()
    faults_of_customer = watch(page)
    page.goto(link)
    slow(page, 8e6)
    page.set_input_files("#take-intake", str(SAMPLES / "two-hole-inboard.jpg"))
    expect(page.locator(".shot .said").first).to_contain_text("%", timeout=20_000)
    customer_context.set_offline(True)
    expect(page.locator("#offline")).to_be_visible()
    page.wait_for_timeout(1000)
    customer_context.set_offline(False)
    expect(page.locator(".shot.kept")).to_have_count(1, timeout=60_000)
    result = page.locator("#result")
    expect(result).to_contain_text("carburettor", timeout=60_000)
    expect(result).to_contain_text("piston dashpot")
    customer_context.close()

    desk.goto(address)
    expect(desk.locator("#state")).to_have_text("To review")
    expect(desk.locator("svg.viewer .carb")).to_have_count(2)
    desk.get_by_text("Correct Bolt holes in the air flange, Left").click()
    desk.locator("#flange_holes-left").select_option("4")
    desk.locator("#flange_holes-left").locator("xpath=ancestor::form").get_by_role(
        "button", name="Keep"
    ).click()
    expect(desk.locator(".byhand").first).to_have_text("corrected by hand")
    with desk.expect_download() as download:
        desk.get_by_role("link", name="Report as PDF").click()
    reader = PdfReader(io.BytesIO(download.value.path().read_bytes()))
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    assert "corrected by hand" in text
    assert "model locator" in text
    assert faults == faults_of_customer == []
    desk_context.close()
