"""Against carb points projected with SciPy's rotations."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from carbpair.geometry.angles import difference_deg
from carbpair.geometry.frame import (
    CarbFrame,
    bearing_of_point,
    fit_frame,
    foreshortening,
    plane_coordinates,
    point_at_bearing,
    third_axes,
    towards_viewer,
    view_angles_deg,
)

# Facing the intake from slightly above: y to the right, z up (image y runs down), x down.
FACING = CarbFrame(c=(500, 400), ux=(0, 50), uy=(100, 0), uz=(0, -86.602540))


def camera(azimuth: float, elevation: float, roll: float = 0.0, scale: float = 100.0) -> CarbFrame:
    """Orthographic view from bearing `azimuth` and `elevation`, by an independent construction."""
    a, e = math.radians(azimuth), math.radians(elevation)
    towards = np.array([math.cos(a) * math.cos(e), -math.sin(a) * math.cos(e), math.sin(e)])
    right = np.cross([0, 0, 1], towards)
    right /= np.linalg.norm(right)
    down = -np.cross(towards, right)
    spin = Rotation.from_rotvec(-math.radians(roll) * towards)
    rows = scale * np.stack([spin.apply(right), spin.apply(down)])
    return CarbFrame((640.0, 480.0), *(tuple(rows[:, i]) for i in range(3)))  # type: ignore[arg-type]


def test_left_of_a_viewer_facing_the_intake_is_plus_ninety() -> None:
    assert bearing_of_point(FACING, (400, 400)) == pytest.approx(90)
    assert bearing_of_point(FACING, (600, 400)) == pytest.approx(-90)
    assert bearing_of_point(FACING, (500, 450)) == pytest.approx(0)
    assert bearing_of_point(FACING, (500, 350)) == pytest.approx(180)


def test_height_shifts_along_the_upright_axis() -> None:
    top = (500, 400 - 86.602540)
    assert plane_coordinates(FACING, top, 1.0) == pytest.approx((0, 0), abs=1e-9)
    assert bearing_of_point(FACING, (top[0] - 100, top[1]), 1.0) == pytest.approx(90)


def test_ignoring_tilt_would_cost_four_degrees_at_thirty() -> None:
    # At 60° above the plane (30° from its normal) a bearing of 45° is drawn at atan(sin 60°).
    frame = camera(0, 60)
    x, y = np.subtract(point_at_bearing(frame, 45), frame.c)
    naive = math.degrees(math.atan2(-x, y))
    assert naive - 45 == pytest.approx(4.1, abs=0.05)
    assert bearing_of_point(frame, point_at_bearing(frame, 45)) == pytest.approx(45)


@given(
    st.floats(-180, 180), st.floats(5, 85), st.floats(-180, 180), st.floats(-179, 180),
    st.floats(-2, 2),
)  # fmt: skip
def test_bearing_round_trip_from_any_view(
    azimuth: float, elevation: float, roll: float, bearing: float, height: float
) -> None:
    frame = camera(azimuth, elevation, roll)
    point = point_at_bearing(frame, bearing, 1.3, height)
    assert abs(difference_deg(bearing_of_point(frame, point, height), bearing)) < 1e-6


@given(st.floats(-179, 180), st.floats(-80, 80), st.floats(-180, 180))
def test_viewing_direction_is_recovered(azimuth: float, elevation: float, roll: float) -> None:
    bearing, height = view_angles_deg(camera(azimuth, elevation, roll))
    assert abs(difference_deg(bearing, azimuth)) < 1e-5
    assert height == pytest.approx(elevation, abs=1e-5)


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_a_quarter_turn_of_the_picture_keeps_the_bearing(turns: int) -> None:
    frame, point = camera(20, 35), np.array([700.0, 500.0])
    before = bearing_of_point(frame, point, 0.4)
    for _ in range(turns):
        point = np.array([-point[1], point[0]])
        frame = CarbFrame(*((-v[1], v[0]) for v in (frame.c, frame.ux, frame.uy, frame.uz)))
    assert bearing_of_point(frame, point, 0.4) == pytest.approx(before)
    assert view_angles_deg(frame) == pytest.approx(view_angles_deg(camera(20, 35)))


def test_a_mirrored_picture_turns_the_viewing_direction_round() -> None:
    frame = camera(15, 30)
    mirrored = CarbFrame(*((-v[0], v[1]) for v in (frame.c, frame.ux, frame.uy, frame.uz)))
    assert towards_viewer(mirrored) == pytest.approx([-v for v in towards_viewer(frame)])


def test_fit_from_points_in_space() -> None:
    rng = np.random.default_rng(4)
    carb = rng.uniform(-2, 2, (8, 3))
    truth = camera(-30, 40, 12)
    fitted = fit_frame(carb, truth.project(carb))
    assert fitted.matrix == pytest.approx(truth.matrix)
    assert fitted.c == pytest.approx(truth.c)


def test_the_third_axis_is_one_of_two() -> None:
    frame = camera(-30, 40, 12)
    plus, minus = third_axes(frame.ux, frame.uy)
    assert any(v == pytest.approx(frame.uz) for v in (plus, minus))
    assert minus == pytest.approx((-plus[0], -plus[1]))


def test_foreshortening_is_the_sine_of_the_elevation() -> None:
    frame = camera(70, 25)
    assert foreshortening(frame.ux, frame.uy) == pytest.approx(math.sin(math.radians(25)))


def test_what_cannot_be_read_is_refused() -> None:
    with pytest.raises(ValueError, match="edge on"):
        bearing_of_point(camera(0, 1), (600, 400))
    with pytest.raises(ValueError, match="no bearing"):
        bearing_of_point(FACING, FACING.c)
    with pytest.raises(ValueError, match="flat"):
        towards_viewer(CarbFrame((0, 0), (1, 0), (2, 0), (3, 0)))
    with pytest.raises(ValueError, match="one plane"):
        fit_frame([[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]], np.zeros((4, 2)))
    with pytest.raises(ValueError, match="at least 4"):
        fit_frame(np.eye(3), np.zeros((3, 2)))


def test_json_form() -> None:
    assert FACING.as_json()["uy"] == [100, 0]
