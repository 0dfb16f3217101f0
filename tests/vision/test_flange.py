"""The flange's plane, what faces the camera, and holes at known places in it."""

import numpy as np
import pytest

from carbpair.geometry.bolt_circle import bolt_circle
from carbpair.geometry.homography import apply_homography
from carbpair.vision import flange
from carbpair.vision.crop import SIZE, Crop
from tests.vision.views import (
    THROAT_R,
    THROAT_X,
    THROAT_Z,
    Camera,
    homography_of,
    landmarks,
    on_plane,
)

VIEWS = [
    Camera(0, 5), Camera(25, 30), Camera(-35, 40), Camera(10, 20, 5.0),
    Camera(20, 30, 7.0, roll=90),
]  # fmt: skip


def true_plane(camera: Camera) -> np.ndarray:
    """Flange coordinates (x right, y down, throat radii) to view pixels, from the camera alone."""
    return homography_of(
        camera.project,
        np.array([THROAT_X, 0.0, THROAT_Z]),
        np.array([0.0, THROAT_R, 0.0]),
        np.array([0.0, 0.0, -THROAT_R]),
    )


@pytest.mark.parametrize("camera", VIEWS)
def test_the_plane_is_found_in_perspective(camera: Camera) -> None:
    got = flange.plane_of(landmarks(camera.project))
    assert got is not None
    corners = np.array([[2.0, 2.0], [-2.0, 1.0], [0.5, -2.5]])
    want = apply_homography(true_plane(camera), corners)
    assert apply_homography(got, corners) == pytest.approx(want, abs=1e-3)


def test_no_plane_in_points_on_a_line() -> None:
    marks = landmarks(Camera(0, 20).project)
    marks.points[7:12] = [[0, 0], [1, 1], [2, 2], [3, 3], [4, 4]]
    assert flange.plane_of(marks) is None


@pytest.mark.parametrize("tilt", [0.0, 30.0, 60.0, 75.0])
def test_facing_is_the_cosine_of_the_tilt_from_afar(tilt: float) -> None:
    # far away, a circle tilted by t shows axes 1 : cos t (weak perspective)
    ahead = flange.facing(landmarks(Camera(tilt, 0.0, 4000.0).project))
    assert ahead == pytest.approx(np.cos(np.radians(tilt)), abs=2e-3)
    behind = flange.facing(landmarks(Camera(180 - tilt, 0.0, 4000.0).project))
    assert behind == pytest.approx(-np.cos(np.radians(tilt)), abs=2e-3)


def test_edge_on_faces_nobody() -> None:
    assert abs(flange.facing(landmarks(Camera(90, 0.0, 4000.0).project))) < 1e-3


@pytest.mark.parametrize("camera", VIEWS)
def test_rectifying_brings_a_hole_to_its_place(camera: Camera) -> None:
    h = true_plane(camera)
    plane = on_plane(h)
    near = np.linalg.norm(plane - (1.3, -0.9), axis=-1) < 0.2
    view = np.where(near[..., None], 250, 40).astype(np.uint8).repeat(3, 2)
    face = flange.rectify(Crop(view, (0.0, 0.0), 1.0), h)
    assert face.shape == (3, flange.SIZE, flange.SIZE)
    weight = np.clip(face[1] - 60, 0, None)
    c = ((np.arange(flange.SIZE) + 0.5) / flange.SIZE * 2 - 1) * flange.REACH
    found = np.array([weight.sum(0) @ c, weight.sum(1) @ c]) / weight.sum()
    assert found == pytest.approx([1.3, -0.9], abs=0.05)


def hole_maps(bolts: np.ndarray, vents: np.ndarray) -> np.ndarray:
    """Logits (2, 64, 64) with a smooth peak of 4 over -6 at each plane point."""
    c = ((np.arange(64) + 0.5) / 32 - 1) * flange.REACH
    grid = np.stack(np.meshgrid(c, c), -1)
    out = []
    for points in (bolts, vents):
        peaks = [np.exp(-((grid - p) ** 2).sum(-1) / 0.02) for p in points]
        out.append(-6 + 10 * np.max(peaks, axis=0) if peaks else np.full((64, 64), -6.0))
    return np.array(out, np.float32)


@pytest.mark.parametrize("camera", VIEWS)
@pytest.mark.parametrize("count", [2, 3, 4])
def test_holes_are_counted_and_vents_are_not(count: int, camera: Camera) -> None:
    h = true_plane(camera)
    bolts, vents = bolt_circle(count, 1.8, 37.0), bolt_circle(2, 1.33, 100.0)
    answers = np.array([0.0, 1.0, 2.0, 3.0], np.float32)
    got = flange.decode(hole_maps(bolts, vents), answers, h, 0.3)
    assert got.pattern_count == count
    assert got.logits == pytest.approx([0.0, 1.0, 2.0])
    assert got.whole == pytest.approx(1 / (1 + np.exp(-3.0)))
    kinds = [hole.kind for hole in got.holes]
    assert (kinds.count("bolt"), kinds.count("vent")) == (count, 2)
    cell = 2 * flange.REACH / 64
    for points, kind in ((bolts, "bolt"), (vents, "vent")):
        for point, at in zip(points, apply_homography(h, points), strict=True):
            hole = min(
                (x for x in got.holes if x.kind == kind),
                key=lambda x, p=point: float(np.linalg.norm(np.array(x.plane) - p)),
            )
            assert hole.plane == pytest.approx(tuple(point), abs=cell)
            step = np.linalg.norm(apply_homography(h, [point + cell]) - at) + 1.0
            assert np.linalg.norm([hole.x - at[0], hole.y - at[1]]) < step
    bolt = next(hole for hole in got.holes if hole.kind == "bolt")
    vent = next(hole for hole in got.holes if hole.kind == "vent")
    assert bolt.radius > vent.radius > 0


def test_one_hole_too_many_speaks_against_the_count_and_one_too_few_does_not() -> None:
    h = np.array([[50.0, 0, SIZE / 2], [0, 50.0, SIZE / 2], [0, 0, 1]])
    none, answers = np.empty((0, 2)), np.zeros(4, np.float32)
    three = bolt_circle(3, 1.8, 37.0)
    too_many = flange.decode(hole_maps(np.r_[three, [[0.3, -2.4]]], none), answers, h, 0.3)
    assert too_many.pattern_count is None
    assert too_many.against[3] == max(hole.score for hole in too_many.holes)
    too_few = flange.decode(hole_maps(three[:2], none), answers, h, 0.3)
    assert too_few.pattern_count is None
    assert too_few.against[3] == 0.0
    assert too_few.against[2] == 0.0
    # with the plane off by half a radius four holes fit no pattern, and none of them is too many
    shifted = bolt_circle(4, 1.6, 37.0) + np.array([0.1, 0.5])
    moved = flange.decode(hole_maps(shifted, none), answers, h, 0.3)
    assert (moved.pattern_count, moved.against[4]) == (None, 0.0)
    assert moved.against[3] > 0.5
    # what lies off the flange is no hole of it: the corner of the picture is 3.5 radii away
    off = flange.decode(hole_maps(np.r_[three, [[2.5, 2.5]]], none), answers, h, 0.3)
    assert (off.pattern_count, off.against[3]) == (3, 0.0)


def test_holes_that_form_no_pattern_count_nothing() -> None:
    h = np.array([[50.0, 0, SIZE / 2], [0, 50.0, SIZE / 2], [0, 0, 1]])
    answers = np.zeros(4, np.float32)
    none = np.empty((0, 2))
    two_askew = np.array([[1.8, 0.0], [0.0, 1.8]])
    assert flange.decode(hole_maps(two_askew, none), answers, h, 0.3).pattern_count is None
    three_and_one_more = np.r_[bolt_circle(3, 1.8, 90.0), [[2.4, 0.3]]]
    assert flange.decode(hole_maps(three_and_one_more, none), answers, h, 0.3).pattern_count is None
    assert flange.decode(hole_maps(none, none), answers, h, 0.3).holes == ()


def test_a_peak_below_the_limit_is_no_hole() -> None:
    h = np.array([[50.0, 0, SIZE / 2], [0, 50.0, SIZE / 2], [0, 0, 1]])
    weak = hole_maps(bolt_circle(4, 1.8, 45.0), np.empty((0, 2)))
    weak += -1.0 - weak.max()  # the highest score is sigmoid(-1) = 0.27
    assert flange.decode(weak, np.zeros(4, np.float32), h, 0.28).holes == ()
    assert len(flange.decode(weak, np.zeros(4, np.float32), h, 0.15).holes) == 4
