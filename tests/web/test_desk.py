"""The workshop's desk, in a browser."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from carbpair.cases import task
from carbpair.cases.source_photo import SourcePhoto
from carbpair.drawn_carb import DrawnCarb
from tests.cases.pictures import jpeg
from tests.http.recorded import inspection
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
    # The reader saw one hole of the left flange: 1 + 2 unless the person says that it is wrong.
    count = page.locator("form.drawing .sum")
    expect(count).to_have_text("found 1, marked 2, together 3")
    page.get_by_label("Count the holes already found").uncheck()
    expect(count).to_have_text("found 1, marked 2, together 2")
    page.locator("form.drawing").get_by_role("button", name="Keep").click()
    expect(page.locator(".drawings circle")).to_have_count(2)
    expect(page.locator("#features")).to_contain_text("corrected by hand")
    # Worked out anew at once: the two flanges now differ.
    expect(page.locator("#features")).to_contain_text("Same pattern on both: no")
    result = page.request.get(address.replace("/desk/", "/api/") + "/corrections").json()
    points = result[0]["drawing"]["points"]
    # The photo is 320 × 240 pixels; the taps were at 30 % and 40 % of its width.
    assert [round(x) for x, _ in points] == pytest.approx([96, 128], abs=2)
    assert [round(y) for _, y in points] == pytest.approx([120, 120], abs=2)
    context.close()


def test_missed_hole_adds_to_those_found(browser: Browser, live: Live, tmp_path: Path) -> None:
    context = open_context(browser, "phone")
    page = context.new_page()
    address = _case_with_photo(page, live, tmp_path)
    page.get_by_role("button", name="Mark holes").click()
    box = page.locator("svg.viewer image").first.bounding_box()
    assert box is not None
    page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    expect(page.locator("form.drawing .sum")).to_have_text("found 1, marked 1, together 2")
    page.locator("form.drawing").get_by_role("button", name="Keep").click()
    expect(page.locator(".drawings circle")).to_have_count(1)
    made = page.request.get(address.replace("/desk/", "/api/") + "/corrections").json()
    assert [(one["feature"], one["value"]) for one in made] == [("flange_holes", 2)]
    context.close()


def test_missed_carburettor_is_read_where_it_is_drawn(
    browser: Browser, live: Live, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[DrawnCarb, ...]] = []

    def analyse(sources: list[SourcePhoto], *_: object) -> dict[str, object]:
        asked.append(sources[0].drawn)
        holes = 2 if sources[0].drawn else None
        return inspection([source.name for source in sources], holes)

    monkeypatch.setattr(task, "analyse", analyse)
    context = open_context(browser, "desktop")
    page = context.new_page()
    _case_with_photo(page, live, tmp_path)
    holes = page.locator("table.features tr", has_text="Bolt holes")
    expect(holes.locator(".value").first).to_have_text("–")
    page.get_by_role("button", name="Draw a box").click()
    page.get_by_label("Carburettor", exact=True).select_option("right")
    expect(page.get_by_label("What is in the box")).to_have_value("carb=True")
    box = page.locator("svg.viewer image").first.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.25)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.75, box["y"] + box["height"] * 0.75, steps=4)
    page.mouse.up()
    page.locator("form.drawing").get_by_role("button", name="Keep").click()
    # The page renews itself when the readers have looked there; the identification follows.
    expect(holes.locator(".value").first).to_have_text("2")
    expect(page.locator(".candidates tbody tr").first).to_contain_text("two-hole")
    assert asked[0] == ()
    ((drawn,),) = asked[1:]
    assert drawn.position == "right"
    # The photo is 320 × 240 pixels.
    assert drawn.box == pytest.approx((160, 60, 240, 180), abs=2)
    page.locator("#features li", has_text="drawn by hand").get_by_role("button").click()
    expect(holes.locator(".value").first).to_have_text("–")
    assert asked[-1] == ()
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
    # A hole is marked in the middle of what is shown: the arrows and + choose the place.
    page.goto(page.url.partition("#")[0])
    file = tmp_path / "a.jpg"
    file.write_bytes(jpeg(3))
    page.get_by_label("Photos (JPEG").set_input_files(str(file))
    page.get_by_role("button", name="Add", exact=True).focus()
    page.keyboard.press("Enter")
    expect(page.locator("#state")).to_have_text("To review")
    page.get_by_role("button", name="Mark holes").focus()
    page.keyboard.press("Enter")
    expect(page.locator("svg.viewer").first).to_be_focused()
    page.keyboard.press("+")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    expect(page.locator(".pending circle")).to_have_count(1)
    page.locator("form.drawing").get_by_role("button", name="Keep").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".drawings circle")).to_have_count(1)
    page.get_by_role("link", name="Delete…").focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Delete for good").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_text("No cases here yet.")).to_be_visible()
    context.close()


QR_SIZES = (1.0, 1.5, 2.0, 3.0)


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
    shown = cv2.imread(str(picture))
    # That reader now and then loses a code at one size of its modules: a phone moves nearer.
    sizes = [cv2.resize(shown, None, fx=k, fy=k, interpolation=cv2.INTER_AREA) for k in QR_SIZES]
    read = {cv2.QRCodeDetector().detectAndDecode(p)[0] for p in sizes}
    assert read - {""} == {address}
    visitor = open_context(browser).new_page()
    visitor.goto(address)
    expect(visitor.get_by_role("heading", level=1)).to_contain_text("Photos of your")
    visitor.context.close()
    context.close()
