"""Planted patterns, moved and turned; the layouts are common practice, no source."""

import math
import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize

from carbpair.geometry.bolt_circle import bolt_circle
from carbpair.geometry.bolt_pattern import (
    bolt_patterns,
    diagonal_difference,
    fit_bolt_pattern,
    unexplained_holes,
)


def rectangle(half_width: float, half_height: float) -> np.ndarray:
    return np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]]) * (half_width, half_height)


@pytest.mark.parametrize("count", [2, 3, 4])
@given(phase=st.floats(0, 360), radius=st.floats(1.4, 2.4))
def test_an_equal_pattern_is_found_exactly(count: int, phase: float, radius: float) -> None:
    found = fit_bolt_pattern(bolt_circle(count, radius, phase))
    assert found is not None
    assert found.count == count
    assert found.radius == pytest.approx(radius)
    assert found.residual < 1e-9
    assert found.outliers == ()


def test_a_rectangle_is_a_four_hole_pattern() -> None:
    found = fit_bolt_pattern(rectangle(1.6, 0.9))
    assert found is not None
    assert (found.count, found.outliers) == (4, ())


def test_two_bolts_and_two_vents_are_two_bolts() -> None:
    bolts, vents = bolt_circle(2, 1.85, 0), bolt_circle(2, 1.33, 90)
    found = fit_bolt_pattern(np.concatenate([vents, bolts]))
    assert found is not None
    assert found.count == 2


def test_every_pattern_is_offered_best_first() -> None:
    bolts, vents = bolt_circle(2, 1.85, 0), bolt_circle(2, 1.33, 90)
    found = bolt_patterns(np.concatenate([vents, bolts]))
    assert {frozenset(pattern.used) for pattern in found} == {frozenset({0, 1}), frozenset({2, 3})}
    noisy = bolt_patterns(np.concatenate([bolt_circle(4, 1.7, 45), [[1.9, 0.1]]]))
    assert [p.count for p in noisy] == sorted((p.count for p in noisy), reverse=True)


def test_a_stray_hole_is_an_outlier() -> None:
    points = np.concatenate([bolt_circle(3, 1.8, 90), [[1.9, 1.4]]])
    found = fit_bolt_pattern(points)
    assert found is not None
    assert (found.count, found.outliers) == (3, (3,))


def test_four_bolts_among_six_points() -> None:
    points = np.concatenate([bolt_circle(2, 1.3, 0), rectangle(1.5, 1.2)])
    found = fit_bolt_pattern(points)
    assert found is not None
    assert (found.count, found.outliers) == (4, (0, 1))


def test_points_inside_the_throat_or_off_the_flange_are_no_bolts() -> None:
    assert fit_bolt_pattern(bolt_circle(3, 0.8)) is None
    assert fit_bolt_pattern(bolt_circle(2, 4.0)) is None


def test_no_pattern_in_unrelated_points() -> None:
    assert fit_bolt_pattern([[1.8, 0], [0.2, 1.7], [1.3, 1.3]]) is None
    assert fit_bolt_pattern([[1.8, 0]]) is None
    assert fit_bolt_pattern(np.empty((0, 2))) is None


@pytest.mark.parametrize("count", [2, 3])
def test_residual_is_the_least_squares_minimum(count: int) -> None:
    # Against SciPy's general minimiser over radius and phase.
    rng = np.random.default_rng(count)
    points = bolt_circle(count, 1.8, 30) + rng.normal(0, 0.05, (count, 2))

    def rms(parameters: np.ndarray) -> float:
        radius, phase = parameters
        angle = 2 * np.pi * np.arange(count) / count + phase
        ideal = radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        return float(np.sqrt(((points - ideal) ** 2).sum(axis=1).mean()))

    found = fit_bolt_pattern(points)
    best = minimize(rms, [1.8, math.radians(30)], method="Nelder-Mead", tol=1e-10)
    assert found is not None
    assert found.residual == pytest.approx(best.fun, abs=1e-6)


def test_turning_the_flange_turns_only_the_phase() -> None:
    rng = np.random.default_rng(9)
    points = bolt_circle(3, 1.7, 10) + rng.normal(0, 0.03, (3, 2))
    turned = np.stack([-points[:, 1], points[:, 0]], axis=1)
    first, second = fit_bolt_pattern(points), fit_bolt_pattern(turned)
    assert first is not None
    assert second is not None
    assert second.residual == pytest.approx(first.residual)
    assert (second.phase_deg - first.phase_deg - 90) % 120 == pytest.approx(0, abs=1e-6)


def test_too_many_points_are_refused() -> None:
    with pytest.raises(ValueError, match="handful"):
        fit_bolt_pattern(np.ones((13, 2)))


@pytest.mark.parametrize("count", [2, 3, 4])
@given(phase=st.floats(0, 360), kept=st.integers(1, 4))
def test_a_pattern_seen_in_part_has_nothing_against_it(count: int, phase: float, kept: int) -> None:
    assert unexplained_holes(bolt_circle(count, 1.8, phase)[:kept], count) == ()


@pytest.mark.parametrize(
    ("points", "count", "left_over"),
    [
        # a third hole of a two-hole flange, wherever it is
        ([(1.8, 0), (-1.8, 0), (0, 1.8)], 2, (2,)),
        # two at a right angle are no three-hole flange, but two corners of a square
        ([(1.8, 0), (0, 1.8)], 3, (1,)),
        ([(1.8, 0), (0, 1.8)], 4, ()),
        # three corners of a rectangle 1.6 by 0.9, and the same with one pulled out to 2.6
        ([(1.6, 0.9), (-1.6, 0.9), (-1.6, -0.9)], 4, ()),
        ([(1.6, 0.9), (-1.6, 0.9), (-2.3, -1.3)], 4, (2,)),
        # a fifth hole
        ([(1.3, 1.3), (-1.3, 1.3), (-1.3, -1.3), (1.3, -1.3), (2.0, 0.0)], 4, (4,)),
        # two neighbours 20 degrees apart are no corners of any four-hole flange
        ([(1.8, 0), (1.69, 0.62)], 4, (1,)),
        # in the throat or off the flange: no bolt hole
        ([(1.8, 0), (-1.8, 0), (0.5, 0), (3.2, 1.0)], 2, ()),
        ([], 3, ()),
    ],
)  # fmt: skip
def test_holes_that_a_count_cannot_have(
    points: list[tuple[float, float]], count: int, left_over: tuple[int, ...]
) -> None:
    assert unexplained_holes(points, count) == left_over


def test_a_hole_found_twice_is_no_two_corners() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")  # no division by their distance
        assert unexplained_holes([(1.6, 0.0), (1.6, 0.0)], 4) == (1,)


def test_no_flange_has_five_bolt_holes() -> None:
    with pytest.raises(ValueError, match="2, 3 or 4"):
        unexplained_holes([(1.8, 0)], 5)


def test_diagonals_tell_four_bolts_from_two_with_two_vents() -> None:
    corners = [(1.6, 1.0), (-1.6, 1.0), (-1.6, -1.0), (1.6, -1.0)]
    assert diagonal_difference(corners) == pytest.approx(0.0)
    assert diagonal_difference(corners[::-1]) == pytest.approx(0.0)
    # bolts 1.8 throat radii out, vents 1.35: (3.6 - 2.7) / 3.15
    vents = [(1.8, 0.0), (0.0, 1.35), (-1.8, 0.0), (0.0, -1.35)]
    assert diagonal_difference(vents) == pytest.approx(0.9 / 3.15)
    with pytest.raises(ValueError, match="need four holes, not 3"):
        diagonal_difference(vents[:3])
