"""Against circles projected with SciPy's rotations, which share no code with ours."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from carbpair.geometry.ellipse import circle_image, make_ellipse
from carbpair.geometry.homography import apply_affine
from carbpair.geometry.tilt import circle_tilts, unforeshorten


def test_sixty_degrees_halves_the_minor_axis() -> None:
    first, second = circle_tilts(make_ellipse(0, 0, 10, 5, 0))
    assert first.tilt_deg == pytest.approx(60)
    assert first.near_deg == pytest.approx(90)
    assert second.near_deg == pytest.approx(270)
    # Lower rim (image y down) nearer: the plane is seen from above, its normal points up.
    assert first.normal == pytest.approx((0, -math.sin(math.pi / 3), -0.5), abs=1e-12)
    assert second.normal == pytest.approx((0, math.sin(math.pi / 3), -0.5), abs=1e-12)


def test_a_round_image_faces_the_camera_both_ways() -> None:
    first, second = circle_tilts(make_ellipse(3, 4, 7, 7, 33))
    assert first == second
    assert first.tilt_deg == 0
    assert first.near_deg is None


@given(st.floats(2, 85), st.floats(0, 360), st.floats(0, 360))
def test_one_of_the_two_planes_is_the_true_one(tilt: float, about: float, spin: float) -> None:
    turn = Rotation.from_euler("zxz", [spin, tilt, about], degrees=True)
    axes = turn.as_matrix()
    normal = -axes[:, 2] * np.sign(axes[2, 2])
    ellipse = circle_image((5, 6), 40 * axes[:2, 0], 40 * axes[:2, 1])
    misses = [np.abs(np.subtract(t.normal, normal)).max() for t in circle_tilts(ellipse)]
    assert min(misses) < 1e-5
    near = [t for t, miss in zip(circle_tilts(ellipse), misses, strict=True) if miss == min(misses)]
    lowest = math.atan2(-axes[2, 1], -axes[2, 0])  # where cos t · x₃ + sin t · y₃ is least
    nearest = turn.apply([math.cos(lowest), math.sin(lowest), 0.0])
    assert near[0].near_deg is not None
    swing = math.radians(near[0].near_deg) - math.atan2(nearest[1], nearest[0])
    assert math.cos(swing) > math.cos(math.radians(0.01))


def test_unforeshortening_makes_the_unit_circle() -> None:
    ellipse = make_ellipse(120, 80, 50, 20, 35)
    mapped = apply_affine(unforeshorten(ellipse), ellipse.points(20))
    assert np.hypot(*mapped.T) == pytest.approx(np.ones(20))
