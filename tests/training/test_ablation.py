"""Stations are taken away for a while and come back; what stands in for them is what it says."""

from __future__ import annotations

import numpy as np
import pytest
from models.training.evaluation.ablation import (
    VARIANTS,
    affine,
    face_on,
    found_once,
    half_cut,
    one_look,
    two_looks,
    without,
)
from skimage.transform import AffineTransform

from carbpair.geometry.homography import apply_homography
from carbpair.vision import carb, closeup, features, flange, locator, rim
from carbpair.vision.crop import Crop
from carbpair.vision.halvings import Halvings
from tests.vision.views import Camera, landmarks


class Blind:
    """A locator that finds nothing and remembers the sizes that it was shown."""

    def __init__(self) -> None:
        self.seen: list[tuple[int, ...]] = []

    def run(self, image: np.ndarray) -> list[np.ndarray]:
        self.seen.append(image.shape[2:])
        return [np.full((1, 8, image.shape[2] // 4, image.shape[3] // 4), -9.0, np.float32)]


def test_every_variant_is_undone() -> None:
    def stations() -> tuple:
        read = closeup.cut, closeup.refined, features._objection, flange.plane_of, rim.plane_of
        return carb.locate, *read

    before = stations()
    for variant in VARIANTS:
        with without(variant):
            changed = sum(a is not b for a, b in zip(before, stations(), strict=True))
        want = {
            "everything": 0,
            "finds not confirmed": 0,
            "tilt ignored": 2,
            "perspective ignored": 2,
        }
        assert changed == want.get(variant, 1), variant
        assert stations() == before


def test_face_on_is_a_circle_upright() -> None:
    points = np.array([[50.0, 60], [80, 61], [20, 59], [50, 50], [50, 70]])
    flange_plane = face_on(points, False)
    got = apply_homography(flange_plane, flange.REFERENCE)
    r = np.hypot(30, 1)
    want = [[50, 60], [50 + r, 60], [50 - r, 60], [50, 60 - r], [50, 60 + r]]
    assert got == pytest.approx(np.array(want))
    # on a rim, the front is down in the picture and the carb's right is on the right
    front, right = apply_homography(face_on(points, True), np.array([[1.0, 0], [0, 1]]))
    assert front == pytest.approx([50, 60 + r])
    assert right == pytest.approx([50 + r, 60])


def test_landmarks_found_once_stay_where_they_are_in_the_photograph() -> None:
    marks = landmarks(Camera().project)
    crop = Crop(np.zeros((384, 384, 3), np.uint8), (30.0, 40.0), 0.5)
    view = Crop(np.zeros((448, 448, 3), np.uint8), (100.0, 90.0), 1.25)
    got = found_once(view, np.zeros((12, 64, 64), np.float32), crop, marks)
    assert view.to_photo(got.points) == pytest.approx(marks.points * 2 + [30.0, 40.0])
    assert got.refined is None  # maps that say nothing
    near = closeup.cut(Halvings(np.zeros((900, 900, 3), np.uint8)), crop, marks)
    sharp = np.zeros((12, 64, 64), np.float32)
    for k, (x, y) in enumerate((near.from_photo(crop.to_photo(marks.points[:12])) - 21) / 406):
        sharp[k, int(y * 64), int(x * 64)] = 20.0
    again = found_once(near, sharp, crop, marks)
    assert near.to_photo(again.points) == pytest.approx(crop.to_photo(marks.points))
    assert again.refined is not None  # so that the same finds are confirmed


def test_affine_is_scikit_images_where_points_fit_and_least_squares_else() -> None:
    exact = AffineTransform(matrix=np.array([[20.0, 3, 50], [-4, 30, 60], [0, 0, 1]]))
    points = exact(flange.REFERENCE)
    assert affine(flange.REFERENCE, points) == pytest.approx(exact.params, abs=1e-9)
    rng = np.random.default_rng(0)
    noisy = points + rng.normal(0, 2, (5, 2))
    best = apply_homography(affine(flange.REFERENCE, noisy), flange.REFERENCE)
    residual = noisy - best  # at the least squares it is orthogonal to what explains it
    assert residual.T @ np.c_[flange.REFERENCE, np.ones(5)] == pytest.approx(0, abs=1e-9)


def test_one_look_runs_the_network_once_at_its_scale() -> None:
    network = Blind()
    picture = Halvings(np.zeros((960, 1280, 3), np.uint8))
    for side, shape in ((locator.LONG_SIDE, (384, 512)), (locator.FINE_SIDE, (928, 1216))):
        assert one_look(side)(picture, network, 0.2) == []
        assert network.seen.pop() == shape
    assert not network.seen


def test_two_looks_run_the_network_at_their_scales_and_leave_it_as_it_was() -> None:
    network = Blind()
    picture = Halvings(np.zeros((960, 1280, 3), np.uint8))
    before = locator.LONG_SIDE, locator.FINE_SIDE
    assert two_looks(448, 864)(picture, network, 0.2) == []
    assert network.seen == [(352, 448), (672, 864)]  # 336 and 648 rows, padded to a multiple of 32
    assert before == (locator.LONG_SIDE, locator.FINE_SIDE)


def test_a_half_close_up_shows_the_same_place_with_a_quarter_of_the_pixels() -> None:
    noise = np.random.default_rng(5).integers(0, 256, (900, 900, 3), dtype=np.uint8)
    marks = landmarks(Camera().project)
    crop = Crop(np.zeros((384, 384, 3), np.uint8), (30.0, 40.0), 0.5)
    whole, half = (cut(Halvings(noise), crop, marks) for cut in (closeup.cut, half_cut))
    assert (half.origin, half.scale) == (whole.origin, whole.scale)
    assert half.pixels.shape == whole.pixels.shape
    assert half.pixels.mean() == pytest.approx(whole.pixels.mean(), abs=1)
    assert half.pixels.std() < 0.75 * whole.pixels.std()
