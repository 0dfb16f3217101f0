"""Unrolling the cover's rim: a mark painted at a known bearing shows in the right column."""

import importlib.util

import numpy as np
import pytest

from carbpair.geometry.frame import CarbFrame, towards_viewer
from carbpair.geometry.homography import apply_homography
from carbpair.vision import rim
from carbpair.vision.crop import SIZE, Crop
from tests.vision.views import Camera, carb_points, homography_of, landmarks, on_plane

VIEWS = [
    Camera(0, 30), Camera(-30, 45), Camera(40, 60, 6.0), Camera(15, 35, 5.0, roll=90),
    Camera(5, 80, 20.0, roll=180), Camera(0, 50, 4.0, roll=-30),
]  # fmt: skip
BEARINGS = [0.0, 12.0, 90.0, -90.0, 179.0, -133.0]


def painted(camera: Camera, bearing: float) -> Crop:
    """A grey rim top seen by the camera, with a light mark 8 degrees wide on its edge."""
    h = homography_of(
        camera.project, np.zeros(3), np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
    )
    plane = on_plane(h)
    radius = np.linalg.norm(plane, axis=-1)
    # Bearings run clockwise from above, from the intake (+x): +90 degrees is -y.
    here = np.degrees(np.arctan2(-plane[..., 1], plane[..., 0]))
    off = np.abs((here - bearing + 180) % 360 - 180)
    view = np.full((SIZE, SIZE, 3), 30, np.uint8)
    view[radius < 1.12] = 110
    view[(off < 4) & (radius > 0.75) & (radius < 1.2)] = 240
    return Crop(view, (0.0, 0.0), 1.0)


def brightest(strip: np.ndarray, rows: slice) -> float:
    """Bearing of the bright columns, outside the margins, degrees."""
    keep = slice(rim.MARGIN, rim.MARGIN + rim.WIDTH)
    level = strip[1, rows, keep].mean(0)
    weight = np.clip(level - (level.max() + np.median(level)) / 2, 0, None)
    angle = np.radians(rim.bearings()[keep])
    return float(np.degrees(np.angle((weight * np.exp(1j * angle)).sum())))


@pytest.mark.parametrize("camera", VIEWS)
@pytest.mark.parametrize("bearing", BEARINGS)
def test_a_mark_shows_in_the_column_of_its_bearing(camera: Camera, bearing: float) -> None:
    plane = rim.plane_of(landmarks(camera.project))
    assert plane is not None
    strip = rim.unroll(painted(camera, bearing), plane)
    assert strip.shape == (6, rim.HEIGHT, rim.WIDTH + 2 * rim.MARGIN)
    found = brightest(strip, slice(2, 12))
    assert abs((found - bearing + 180) % 360 - 180) < 1.5


def test_the_margins_repeat_the_other_end() -> None:
    camera = VIEWS[1]
    plane = rim.plane_of(landmarks(camera.project))
    assert plane is not None
    strip = rim.unroll(painted(camera, 175.0), plane)
    m, w = rim.MARGIN, rim.WIDTH
    assert strip[:, :, :m] == pytest.approx(strip[:, :, w : w + m], abs=0.05)
    assert strip[:, :, m + w :] == pytest.approx(strip[:, :, m : 2 * m], abs=0.05)


def test_a_mark_on_the_rims_side_shows_in_the_lower_rows() -> None:
    # An affine view (carbpair.geometry.frame): the side wall at 1.03 radii, painted point by point.
    frame = CarbFrame((192.0, 192.0), (-12.0, 40.0), (70.0, 8.0), (2.0, -62.0))
    view = np.full((SIZE, SIZE, 3), 60, np.uint8)
    for z in np.linspace(-0.30, -0.05, 60):
        for b in np.radians(np.linspace(16, 24, 60)):
            x, y = frame.project([[1.03 * np.cos(b), -1.03 * np.sin(b), z]])[0]
            view[int(y), int(x)] = 250
    plane = rim.plane_of(landmarks(frame.project))
    assert plane is not None
    strip = rim.unroll(Crop(view, (0.0, 0.0), 1.0), plane)
    # rows 16 to 39 run from 0.06 above the rim's top to 0.34 below it
    heights = np.linspace(0.06, -0.34, rim.HEIGHT - rim.TOP_ROWS)
    inside = rim.TOP_ROWS + np.flatnonzero((heights < -0.1) & (heights > -0.25))
    assert brightest(strip, slice(int(inside[0]), int(inside[-1]) + 1)) == pytest.approx(
        20, abs=1.5
    )
    column = int(np.abs(rim.bearings() - 20).argmin())
    level = strip[1, rim.TOP_ROWS :, column]
    assert level[(heights < -0.08) & (heights > -0.27)].min() > level[heights > 0.02].max() + 0.5


def test_the_camera_is_found_from_the_rim() -> None:
    for camera in (
        Camera(0, 30, 3000.0),
        Camera(-60, 20, 3000.0),
        Camera(100, 70, 3000.0, roll=90),
    ):
        marks = landmarks(camera.project)
        plane = rim.plane_of(marks)
        assert plane is not None
        d = rim.towards_camera(plane)
        assert d == pytest.approx(camera.towards, abs=2e-3)
        centre, ux, uy = plane.axes()
        frame = CarbFrame(tuple(centre), tuple(ux), tuple(uy), tuple(plane.up))
        assert towards_viewer(frame) == pytest.approx(tuple(d))


def test_which_half_of_the_rim_faces_the_camera() -> None:
    plane = rim.plane_of(landmarks(Camera(30, 25).project))  # from 30 degrees to the right
    assert plane is not None
    # the bearing that faces the camera most is its own; a bearing runs clockwise from above, the
    # azimuth to the right of somebody who faces the intake
    towards = max(range(-180, 180), key=lambda b: rim.viewing(plane, np.radians([b]))[0, 0])
    assert abs(towards) == pytest.approx(30, abs=2)
    for off, faces in ((0, True), (80, True), (-80, True), (100, False), (180, False)):
        assert rim.faces_camera(plane, towards + off) is faces


def test_the_viewing_channels() -> None:
    camera = Camera(0, 30, 3000.0)
    plane = rim.plane_of(landmarks(camera.project))
    assert plane is not None
    facing, height, side = rim.viewing(plane, np.radians([0.0, 90.0, 180.0]))
    assert facing == pytest.approx([np.cos(np.radians(30)), 0.0, -np.cos(np.radians(30))], abs=5e-3)
    assert height == pytest.approx([0.5] * 3, abs=5e-3)
    assert side == pytest.approx([0.0, -np.cos(np.radians(30)), 0.0], abs=5e-3)


def test_points_that_fit_no_plane() -> None:
    marks = landmarks(Camera(0, 30).project)
    marks.points[:5] = np.arange(10.0).reshape(5, 2)
    assert rim.plane_of(marks) is None


def test_bins_are_two_degrees_wide_and_start_behind() -> None:
    at = rim.bin_bearings()
    assert (len(at), at[0], at[90], at[-1]) == (180, -179.0, 1.0, 179.0)


@pytest.mark.skipif(importlib.util.find_spec("torch") is None, reason="needs the training extra")
def test_the_reader_was_trained_on_the_same_strip(monkeypatch: pytest.MonkeyPatch) -> None:
    import torch
    from models.training.windows import strip_grid, viewing_channels

    camera = Camera(20, 40, 6.0)
    plane = rim.plane_of(landmarks(camera.project))
    assert plane is not None
    h = torch.tensor(plane.homography)[None].float()
    up = torch.tensor(plane.up)[None].float()
    start = torch.tensor([rim.START_DEG])
    grid = strip_grid(h, up, start)[0].numpy()
    column = rim.MARGIN + 37
    b = np.radians(rim.bearings()[column])
    top = apply_homography(plane.homography, 0.82 * np.array([[np.cos(b), -np.sin(b)]]))[0]
    assert grid[0, column] == pytest.approx(top, abs=0.02)
    low = apply_homography(plane.homography, 1.03 * np.array([[np.cos(b), -np.sin(b)]]))[0]
    assert grid[-1, column] == pytest.approx(low - 0.34 * plane.up, abs=0.02)
    asked = []
    monkeypatch.setattr(rim, "sample", lambda crop, at: asked.append(at) or np.zeros((3, 48, 792)))
    rim.unroll(painted(camera, 0.0), plane)
    assert asked[0] == pytest.approx(grid, abs=0.05)
    channels = viewing_channels(h, up, start)[0].numpy()
    assert channels == pytest.approx(rim.viewing(plane, np.radians(rim.bearings())), abs=2e-3)


def test_the_landmarks_used_are_the_rims() -> None:
    points = carb_points()
    assert points[:5, :2] == pytest.approx(rim.REFERENCE)


def test_the_longer_diameter() -> None:
    marks = landmarks(Camera(0, 30).project)
    marks.points[1:5] = [[10.0, 40], [10, 0], [40, 5], [10, 45]]
    assert rim.diameter(marks) == 50
    marks.points[1] = (10.0, 60.0)
    assert rim.diameter(marks) == 60
