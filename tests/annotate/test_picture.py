"""Pictures drawn from literal evidence, looked at by their pixels."""

import numpy as np
import pytest

from carbpair.annotate import annotate
from carbpair.annotate.palette import BLUISH_GREEN, DARK, ORANGE, SKY_BLUE, YELLOW, Colour
from carbpair.annotate.picture import MAX_SIDE, MIN_WIDTH, close_up_region
from tests.inspection_example import photo, picture_of


def near(pixels: np.ndarray, colour: Colour) -> np.ndarray:
    return np.abs(pixels.astype(int) - colour).max(axis=2) < 40


@pytest.mark.parametrize(
    ("width", "height", "scale", "carbs"),
    [(3000, 2000, 300.0, 2), (4000, 3000, 75.0, 2), (1500, 2000, 170.0, 1), (320, 240, 20.0, 2)],
)
def test_size_and_original(width: int, height: int, scale: float, carbs: int) -> None:
    entry = photo("a.jpg", width, height, scale, carbs)
    before = picture_of(entry)
    kept = before.copy()
    drawn = annotate(before, entry)
    assert max(drawn.shape[:2]) <= MAX_SIDE
    assert drawn.shape[1] >= min(MIN_WIDTH, 800)
    assert drawn.dtype == np.uint8
    assert np.array_equal(before, kept)


def test_boxes_lie_where_the_carbs_are() -> None:
    entry = photo("a.jpg", 3000, 2000, 300.0)
    drawn = annotate(picture_of(entry), entry)
    scale = drawn.shape[1] / 3000
    for carb, colour in zip(entry["carbs"], (SKY_BLUE, ORANGE), strict=True):
        x0, y0, x1, y1 = (scale * v for v in carb["box"])
        for x in (x0, x1):
            band = drawn[round(y0) : round(y1), round(x) - 4 : round(x) + 4]
            assert near(band, colour).any(axis=1).mean() > 0.4
    # The right box is dashed, the left one is not: no need to see the colours.
    x0, y0, _, y1 = (scale * v for v in entry["carbs"][0]["box"])
    solid = near(drawn[round(y0) : round(y1), round(x0) - 4 : round(x0) + 4], SKY_BLUE)
    assert solid.any(axis=1).mean() > 0.95
    x0, y0, _, y1 = (scale * v for v in entry["carbs"][1]["box"])
    dashed = near(drawn[round(y0) : round(y1), round(x0) - 4 : round(x0) + 4], ORANGE)
    assert dashed.any(axis=1).mean() < 0.8


def test_seen_bolt_holes_are_circled() -> None:
    entry = photo("a.jpg", 3000, 2000, 300.0, carbs=1)
    drawn = annotate(picture_of(entry), entry)
    scale = drawn.shape[1] / 3000
    for hole in entry["carbs"][0]["evidence"]["holes"]:
        x, y, r = (scale * hole[key] for key in ("x", "y", "r"))
        around = drawn[round(y - r) - 4 : round(y + r) + 5, round(x - r) - 4 : round(x + r) + 5]
        assert near(around, BLUISH_GREEN).sum() > 2 * r


def test_no_dial_without_a_bearing() -> None:
    entry = photo("a.jpg", 3000, 2000, 300.0, carbs=1)
    with_dial = annotate(picture_of(entry), entry)
    carb = entry["carbs"][0]
    carb["features"]["mark_bearing_deg"].update(status="unsure", value=None, reason="blurred")
    carb["evidence"]["mark"] = None
    without = annotate(picture_of(entry), entry)
    rim = carb["evidence"]["rim"]
    scale = with_dial.shape[1] / 3000
    x0, x1 = (round(scale * (rim[0] + s * rim[2])) for s in (-1, 1))
    y0, y1 = (round(scale * (rim[1] + s * rim[3])) for s in (-1, 1))
    assert near(with_dial[y0:y1, x0:x1], YELLOW).sum() > 100
    assert near(without[y0:y1, x0:x1], YELLOW).sum() == 0


def test_small_carbs_get_a_close_up() -> None:
    far = photo("bay.jpg", 4000, 3000, 75.0)
    region = close_up_region(far["carbs"], 4000, 3000)
    assert region is not None
    x0, y0, x1, y1 = region
    for carb in far["carbs"]:
        assert x0 <= carb["box"][0] < carb["box"][2] <= x1
        assert y0 <= carb["box"][1] < carb["box"][3] <= y1
    assert (x1 - x0) < 0.3 * 4000
    drawn = annotate(picture_of(far), far)
    assert drawn.shape[0] > 1.2 * drawn.shape[1]
    assert close_up_region(photo("a.jpg", 3000, 2000, 300.0)["carbs"], 3000, 2000) is None
    assert close_up_region([], 3000, 2000) is None


def test_missing_evidence_is_no_obstacle() -> None:
    entry = photo("a.jpg", 1200, 900, 120.0)
    entry["carbs"][0]["evidence"] = {
        "frame": None, "throat": None, "rim": None, "holes": [], "mark": None,
    }  # fmt: skip
    del entry["carbs"][1]["evidence"]
    entry["carbs"][1]["position"] = None
    assert annotate(picture_of(photo("a.jpg", 1200, 900, 120.0)), entry).shape[1] == 1200


def test_a_photo_without_carbs_says_so() -> None:
    entry = photo("a.jpg", 1200, 900, 120.0, carbs=0)
    drawn = annotate(picture_of(entry), entry)
    strip = drawn[900:]
    assert near(strip, DARK).mean() > 0.7
    assert near(strip, (255, 255, 255)).mean() > 0.01
