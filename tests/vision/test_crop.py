"""A point of the photograph lands where the formula says, at every scale."""

import numpy as np
import pytest

from carbpair.vision.crop import SIZE, WINDOW, Crop, cut, reader_input, sample, window
from carbpair.vision.halvings import Halvings
from carbpair.vision.locator import LocatedCarb
from tests.vision.views import pixel_centres


def spot(width: int, height: int, x: float, y: float, sigma: float) -> np.ndarray:
    """Black RGB photograph with a soft bright spot centred on photo point (x, y)."""
    xs, ys = np.arange(width) + 0.5, np.arange(height) + 0.5
    g = np.exp(-((xs[None] - x) ** 2 + (ys[:, None] - y) ** 2) / (2 * sigma**2))
    return np.repeat((255 * g).astype(np.uint8)[..., None], 3, axis=2)


def centroid(pixels: np.ndarray) -> np.ndarray:
    weight = pixels[..., 1].astype(float)
    return (weight[..., None] * pixel_centres()).sum((0, 1)) / weight.sum()


@pytest.mark.parametrize("side", [90, 150, 202, 260, 400, 700, 1100])
def test_a_known_point_lands_at_a_known_place(side: int) -> None:
    # side 202: the view's scale is 1; far smaller ones magnify, far larger ones are averaged down
    box = (300.0, 250.0, 300.0 + side, 250.0 + 0.8 * side)
    wide = WINDOW * side
    left, top = 300 + side / 2 - wide / 2, 250 + 0.4 * side - wide / 2
    x, y = 300.3 + 0.61 * side, 250.7 + 0.33 * side
    crop = cut(Halvings(spot(1500, 1200, x, y, 0.012 * side)), LocatedCarb(box, 0.9))
    assert crop.pixels.shape == (SIZE, SIZE, 3)
    assert crop.scale == pytest.approx(SIZE / wide)
    assert crop.origin == pytest.approx((left, top))
    want = np.array([x - left, y - top]) * SIZE / wide
    assert centroid(crop.pixels) == pytest.approx(want, abs=0.12)
    assert crop.to_photo(want) == pytest.approx((x, y))


@pytest.mark.parametrize("side", [60, 600])
def test_outside_the_photograph_is_black(side: int) -> None:
    white = np.full((800, 900, 3), 255, np.uint8)
    crop = cut(Halvings(white), LocatedCarb((0.0, 0.0, float(side), float(side)), 0.9))
    edge = (0 - crop.origin[0]) * crop.scale
    assert edge == pytest.approx(384 * 0.45 / 1.9)
    assert (crop.pixels[:, : int(edge) - 2] == 0).all()
    assert (crop.pixels[: int(edge) - 2] == 0).all()
    assert (crop.pixels[int(edge) + 3 : 300, int(edge) + 3 : 300] == 255).all()


def test_fine_stripes_are_averaged_and_not_aliased() -> None:
    # Lines one pixel wide at an eighth of the scale must turn grey, not into wide false lines.
    stripes = np.zeros((2400, 2400, 3), np.uint8)
    stripes[:, ::2] = 255
    crop = cut(Halvings(stripes), LocatedCarb((400.0, 400.0, 2000.0, 2000.0), 0.9))
    inner = crop.pixels[100:280, 100:280]
    assert abs(float(inner.mean()) - 127.5) < 2
    assert float(inner.std()) < 6


def test_the_reader_gets_the_same_picture_smaller() -> None:
    crop = cut(
        Halvings(spot(900, 900, 500.0, 450.0, 8.0)), LocatedCarb((400.0, 350.0, 600.0, 550.0), 0.9)
    )
    small = reader_input(crop)
    assert small.shape == (3, 256, 256)
    assert small.dtype == np.float32
    weight = small[1] / small[1].sum()
    c = np.arange(256) + 0.5
    at = np.array([weight.sum(0) @ c, weight.sum(1) @ c])
    assert at * 1.5 == pytest.approx(centroid(crop.pixels), abs=0.1)


def test_sampling_a_grid_of_view_points() -> None:
    ramp = np.zeros((SIZE, SIZE, 3), np.uint8)
    ramp[..., 0] = (np.arange(SIZE) // 2)[None]  # red: half the column
    ramp[..., 1] = (np.arange(SIZE) // 2)[:, None]
    grid = np.stack(np.meshgrid([60.5, 100.5, 140.5], [40.5, 80.5]), -1)
    got = sample(Crop(ramp, (0.0, 0.0), 1.0), grid)
    assert got.shape == (3, 2, 3)
    # The pixel centred at x = 60.5 is column 60, which holds 30.
    assert got[0, 0] == pytest.approx([30.0, 50.0, 70.0], abs=0.01)
    assert got[1, :, 0] == pytest.approx([20.0, 40.0], abs=0.01)
    assert (got[2] == 0).all()


def test_a_carb_cut_by_the_edge_is_shown_whole() -> None:
    whole = (-100.0, 0.0, 100.0, 150.0)
    crop = cut(
        Halvings(np.full((400, 400, 3), 90, np.uint8)), LocatedCarb((0, 0, 100, 150), 0.9, whole)
    )
    assert crop.origin == pytest.approx((-190.0, 75 - 190.0))
    assert crop.scale == pytest.approx(SIZE / 380)


def test_a_window_beside_the_photograph_is_black() -> None:
    crop = window(Halvings(np.full((100, 100, 3), 200, np.uint8)), (500.0, 500.0), 50.0, 64)
    assert crop.pixels.shape == (64, 64, 3)
    assert not crop.pixels.any()


def test_view_and_photo_points_are_inverse() -> None:
    crop = Crop(np.zeros((4, 4, 3), np.uint8), (30.0, -20.0), 0.25)
    points = np.array([[0.0, 0.0], [100.0, 7.0]])
    assert crop.to_photo(points) == pytest.approx(np.array([[30.0, -20.0], [430.0, 8.0]]))
    assert crop.from_photo(crop.to_photo(points)) == pytest.approx(points)
