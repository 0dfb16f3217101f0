"""Against OpenCV's ellipse2Poly, scikit-image's EllipseModel and literal conics."""

import math

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage.measure import EllipseModel

from carbpair.geometry.ellipse import (
    Ellipse,
    circle_image,
    conic_to_ellipse,
    ellipse_to_conic,
    fit_ellipse,
    make_ellipse,
    same_ellipse,
)

ellipses = st.builds(
    make_ellipse,
    st.floats(-2000, 2000),
    st.floats(-2000, 2000),
    st.floats(20, 500),
    st.floats(20, 500),
    st.floats(0, 180),
)


def test_literal_conic() -> None:
    # x²/25 + y²/9 = 1 moved to (2, −1): (x−2)²·9 + (y+1)²·25 − 225 = 0.
    ellipse = conic_to_ellipse([9, 0, 25, -36, 50, 36 + 25 - 225])
    assert ellipse.as_tuple() == pytest.approx((2, -1, 5, 3, 0))


def test_shorter_first_axis_is_swapped() -> None:
    assert make_ellipse(1, 2, 3, 5, 10).as_tuple() == (1, 2, 5, 3, 100)


@given(ellipses)
def test_conic_round_trip(ellipse: Ellipse) -> None:
    back = conic_to_ellipse(-7.5 * ellipse_to_conic(ellipse))
    assert same_ellipse(back, ellipse, 1e-3)


@given(ellipses)
def test_its_points_satisfy_its_conic_and_have_radius_one(ellipse: Ellipse) -> None:
    points = ellipse.points(17)
    x, y = points.T
    terms = np.stack([x * x, x * y, y * y, x, y, np.ones_like(x)])
    conic = ellipse_to_conic(ellipse)
    assert np.abs(conic @ terms).max() <= 1e-9 * np.abs(conic[:, None] * terms).max()
    assert ellipse.normalised_radius(points) == pytest.approx(np.ones(17))


def test_points_agree_with_opencv_drawing() -> None:
    # OpenCV's documented ellipse2Poly: rounded to whole pixels, hence one pixel of slack.
    ellipse = make_ellipse(400, 300, 200, 120, 30)
    polygon = cv2.ellipse2Poly((400, 300), (200, 120), 30, 0, 360, 5).astype(float)
    away = np.abs(ellipse.normalised_radius(polygon) - 1) * ellipse.semi_minor
    assert away.max() < 1.0


@given(ellipses)
def test_fit_recovers_exact_points(ellipse: Ellipse) -> None:
    assert same_ellipse(fit_ellipse(ellipse.points(40)), ellipse, 0.5)


def test_noisy_fit_agrees_with_scikit_image() -> None:
    # scikit-image's EllipseModel: Halíř and Flusser's direct method, an independent solver.
    rng = np.random.default_rng(3)
    truth = make_ellipse(812.0, 455.0, 140.0, 90.0, 65.0)
    points = truth.points(80)[:55] + rng.normal(0, 0.7, (55, 2))
    ours = fit_ellipse(points)
    model = EllipseModel.from_estimate(points)
    centre, axes = model.center, model.axis_lengths
    other = make_ellipse(centre[0], centre[1], axes[0], axes[1], math.degrees(model.theta))
    assert same_ellipse(ours, other, 0.2)
    assert same_ellipse(ours, truth, 2.0)


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_fit_turns_with_the_picture(turns: int) -> None:
    # A quarter turn of the picture, (x, y) → (−y, x), turns the fit and changes nothing else.
    rng = np.random.default_rng(5)
    points = make_ellipse(50, 20, 80, 30, 20).points(30) + rng.normal(0, 0.5, (30, 2))
    first, turned = fit_ellipse(points), points
    cx, cy = first.cx, first.cy
    for _ in range(turns):
        turned = np.stack([-turned[:, 1], turned[:, 0]], axis=1)
        cx, cy = -cy, cx
    expected = make_ellipse(
        cx, cy, first.semi_major, first.semi_minor, first.angle_deg + 90 * turns
    )
    assert same_ellipse(fit_ellipse(turned), expected, 1e-2)


def test_affine_image_of_the_circle_holds_the_mapped_points() -> None:
    c, u, v = np.array([10.0, 20.0]), np.array([30.0, 5.0]), np.array([-4.0, 12.0])
    ellipse = circle_image(c, u, v)
    t = np.linspace(0, 6, 25)[:, None]
    assert ellipse.normalised_radius(c + np.cos(t) * u + np.sin(t) * v) == pytest.approx(
        np.ones(25)
    )
    assert ellipse.area == pytest.approx(math.pi * abs(30 * 12 + 5 * 4))


def test_unfit_input_is_refused() -> None:
    line = np.stack([np.arange(9.0), 2 * np.arange(9.0)], axis=1)
    with pytest.raises(ValueError, match="one line"):
        fit_ellipse(line)
    with pytest.raises(ValueError, match="at least 5"):
        fit_ellipse(line[:4])
    with pytest.raises(ValueError, match="edge on"):
        circle_image((0, 0), (1, 2), (2, 4))
    with pytest.raises(ValueError, match="no ellipse"):
        conic_to_ellipse([1, 0, -1, 0, 0, -1])
    with pytest.raises(ValueError, match="no real ellipse"):
        conic_to_ellipse([1, 0, 1, 0, 0, 1])
    with pytest.raises(ValueError, match="positive semi-axes"):
        make_ellipse(0, 0, 1, 0, 0)
