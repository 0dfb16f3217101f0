"""The close-up shows where the landmarks say; what the refiner finds there lands in the photo."""

import importlib.util

import numpy as np
import pytest

from carbpair.vision import closeup
from carbpair.vision.closeup import MARGIN, SIZE, cut, refined, refiner_input
from carbpair.vision.crop import Crop
from carbpair.vision.halvings import Halvings
from carbpair.vision.landmarks import Landmarks
from tests.vision.views import Camera, landmarks

CROP = Crop(np.zeros((384, 384, 3), np.uint8), (100.0, 50.0), 0.5)
PHOTO = np.zeros((1600, 2000, 3), np.uint8)
BLANK = Halvings(PHOTO)


def framed() -> Landmarks:
    """Landmarks whose box in CROP runs from (40, 90) to (140, 210), the bowl's far outside."""
    marks = landmarks(Camera().project)
    marks.points[:] = (90.0, 150.0)
    marks.points[1], marks.points[2] = (40.0, 120.0), (140.0, 130.0)
    marks.points[6], marks.points[11] = (60.0, 90.0), (70.0, 210.0)
    marks.points[12] = (300.0, 300.0)
    return marks


def maps_of(points: np.ndarray, sharpness: float = 1.0) -> np.ndarray:
    """Logits (12, 64, 64) whose softmax is a Gaussian about each close-up point (12, 2)."""
    c = np.arange(64) + 0.5
    cells = (points - 21.0) / (406 / 64)
    off = (c - cells[:, :1])[:, None] ** 2 + (c - cells[:, 1:])[:, :, None] ** 2
    return (-sharpness * off / 2).astype(np.float32)


def test_the_window_is_1_6_boxes_wide_about_the_boxs_middle() -> None:
    # In the photo the box runs from (180, 230) to (380, 470): middle (280, 350), longer side 240.
    view = cut(BLANK, CROP, framed())
    assert view.pixels.shape == (448, 448, 3)
    assert view.origin == pytest.approx((280 - 192, 350 - 192))
    assert view.scale == pytest.approx(448 / 384)


def test_a_spot_of_the_photograph_is_where_the_view_says() -> None:
    photo = PHOTO.copy()
    photo[296:304, 316:324] = 255  # about (320, 300)
    view = cut(Halvings(photo), CROP, framed())
    weight = view.pixels[..., 1].astype(float)
    c = np.arange(SIZE) + 0.5
    at = np.array([weight.sum(0) @ c, weight.sum(1) @ c]) / weight.sum()
    assert at == pytest.approx([232 * 448 / 384, 142 * 448 / 384], abs=0.1)
    small = refiner_input(view)[1]
    # 21 pixels are left out at every edge, and 406 become 256
    c = np.arange(256) + 0.5
    seen = np.array([small.sum(0) @ c, small.sum(1) @ c]) / small.sum()
    assert seen == pytest.approx((at - 21) * 256 / 406, abs=0.1)


def test_the_refiners_input_is_the_middle_as_float() -> None:
    view = cut(Halvings(np.full_like(PHOTO, 77)), CROP, framed())
    shown = refiner_input(view)
    assert (shown.shape, shown.dtype) == ((3, 256, 256), np.float32)
    assert (shown == 77).all()
    assert MARGIN == 21
    # margins are not shown
    view.pixels[:21], view.pixels[-21:], view.pixels[:, :21], view.pixels[:, -21:] = 0, 0, 0, 0
    assert (refiner_input(view) == 77).all()


def test_all_points_on_one_spot_still_give_a_window() -> None:
    marks = framed()
    marks.points[:12] = (90.0, 150.0)
    view = cut(BLANK, CROP, marks)
    assert view.scale == pytest.approx(448 / 8)
    assert view.origin == pytest.approx((276.0, 346.0))


def test_a_window_beside_the_photograph_is_black() -> None:
    marks = framed()
    marks.points[:] += 9000
    assert not cut(Halvings(np.full_like(PHOTO, 200)), CROP, marks).pixels.any()


def test_twelve_points_are_the_refiners_and_the_bowl_is_moved() -> None:
    marks = framed()
    marks.confidence[:] = 0.7
    view = cut(BLANK, CROP, marks)
    want = view.from_photo(CROP.to_photo(marks.points[:12])) + np.array([9.0, -7.0])
    got = refined(view, maps_of(want), CROP, marks)
    assert np.abs(got.points[:12] - want).max() < 0.2
    # (300, 300) in the crop is (700, 650) in the photo, 612 and 492 from the close-up's corner
    assert got.points[12] == pytest.approx([612 * 448 / 384, 492 * 448 / 384])
    assert got.refined is not None
    assert (got.refined > 0.98).all()
    assert got.certainty == 0.7
    assert got.confidence == pytest.approx(marks.confidence)
    answers = ("diaphragm", "filtered", "bowl_readable", "flange_readable", "mark_readable")
    for name in answers:
        assert getattr(got, name) == getattr(marks, name)


@pytest.mark.parametrize(
    ("shift", "sharpness", "kept"),
    [
        # the rim is 100 crop pixels from front to back, 233 close-up pixels: 0.2 of it are 47
        ((44.0, 0.0), 1.0, False), ((0.0, 50.0), 1.0, True), ((-35.0, -35.0), 1.0, True),
        ((0.0, 0.0), 0.001, True), ((0.0, 0.0), 0.3, False),
    ],
)  # fmt: skip
def test_another_carbs_or_vague_points_are_refused(shift, sharpness, kept) -> None:
    marks = framed()
    view = cut(BLANK, CROP, marks)
    moved = view.from_photo(CROP.to_photo(marks.points))
    found = moved[:12].copy()
    found[0] += shift
    got = refined(view, maps_of(found, sharpness), CROP, marks)
    assert (got.refined is None) == kept
    if kept:
        assert got.points == pytest.approx(moved)


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
@pytest.mark.parametrize("spoilt", [slice(0, 1), slice(3, 4), slice(0, 12)])
def test_nothing_that_is_not_finite_gets_through(value: float, spoilt: slice) -> None:
    marks = framed()
    view = cut(BLANK, CROP, marks)
    maps = maps_of(view.from_photo(CROP.to_photo(marks.points[:12])))
    maps[spoilt] = value
    got = refined(view, maps, CROP, marks)
    assert np.isfinite(got.points).all()
    assert got.refined is None or np.isfinite(got.refined).all()
    if spoilt.stop == 12:
        assert got.refined is None


def test_it_can_be_done_again_on_what_was_refined() -> None:
    marks = framed()
    view = cut(BLANK, CROP, marks)
    want = view.from_photo(CROP.to_photo(marks.points[:12]))
    first = refined(view, maps_of(want), CROP, marks)
    again = cut(BLANK, view, first)
    vague = np.zeros((12, 64, 64), np.float32)
    second = refined(again, vague, view, first)
    assert second.refined is None
    assert again.to_photo(second.points) == pytest.approx(view.to_photo(first.points))


@pytest.mark.skipif(importlib.util.find_spec("torch") is None, reason="needs the training extra")
def test_training_cuts_the_same_window() -> None:
    from models.training.scene import photograph
    from models.training.windows import REFINER_SIDE, REFINER_SIZE

    assert (photograph.CLOSEUP, photograph.CLOSEUP_SIDE) == (closeup.SIZE, closeup.SIDE)
    assert (REFINER_SIZE, REFINER_SIDE) == (closeup.REFINER_SIZE, closeup.REFINER_SIDE)
