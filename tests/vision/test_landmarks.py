"""Points from made maps, below the size of a map's cell."""

import numpy as np
import pytest
from scipy.special import expit
from scipy.special import softmax as scipy_softmax

from carbpair.vision.landmarks import KEYPOINTS, decode, peaks, sigmoid, softmax


def maps(points: np.ndarray, sigma: float = 1.2) -> np.ndarray:
    """Logits (13, 64, 64) whose softmax is a Gaussian about each view point."""
    c = np.arange(64) + 0.5
    cells = points / 6.0
    square = (c[None, None] - cells[:, :1, None]) ** 2 + (
        c[None, :, None] - cells[:, 1:, None]
    ) ** 2
    return (-square / (2 * sigma**2)).astype(np.float32)


ANSWERS = np.array([2.0, -3.0, 0.1, 0.2, 0.3, 1.0, -1.0, 0.0], np.float32)


@pytest.mark.parametrize("shift", [0.0, 1.3, 2.9, 4.7])
def test_gaussians_are_found_within_a_twentieth_of_a_cell(shift: float) -> None:
    rng = np.random.default_rng(3)
    points = np.round(rng.uniform(60, 320, (13, 2))) + shift
    got = decode(maps(points), ANSWERS)
    assert np.abs(got.points - points).max() < 0.3
    assert (got.confidence > 0.98).all()


def test_a_second_peak_lowers_confidence_and_does_not_pull() -> None:
    points = np.full((13, 2), 120.0)
    first, second = maps(points), maps(points + 150)
    both = np.log(0.7 * np.exp(first) + 0.3 * np.exp(second) + 1e-30).astype(np.float32)
    got = decode(both, ANSWERS)
    assert got.points == pytest.approx(points, abs=0.3)
    assert got.confidence == pytest.approx(np.full(13, 0.7), abs=0.02)


def test_certainty_leaves_the_bowl_out() -> None:
    points = np.full((13, 2), 120.0)
    made = maps(points)
    made[12] = 0.0  # says nothing of the bowl
    sure = decode(made, ANSWERS).certainty
    assert sure > 0.98
    made[:8] = 0.0
    assert decode(made, ANSWERS).certainty < 0.1


def test_peaks_are_in_pixels_of_the_stride() -> None:
    # Cell (40, 20) holds nearly all; its middle is at (40.5, 20.5) cells.
    made = np.zeros((1, 64, 64), np.float32)
    made[0, 20, 40] = 20.0
    points, confidence = peaks(made, 4.0)
    assert points == pytest.approx(np.array([[162.0, 82.0]]), abs=0.01)
    assert confidence == pytest.approx([1.0], abs=1e-3)


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_a_map_that_is_not_finite_says_nothing(value: float) -> None:
    points = np.full((13, 2), 120.0)
    made = maps(points)
    made[3, 5, 5] = value
    got = decode(made, ANSWERS)
    assert got.points[3] == pytest.approx([192.0, 192.0])
    assert got.confidence[3] == 0
    assert np.delete(got.points, 3, 0) == pytest.approx(np.delete(points, 3, 0), abs=0.3)


def test_at_the_border() -> None:
    points = np.array([[3.0, 3.0], [381.0, 381.0]])
    assert np.abs(decode(maps(points, 0.8), ANSWERS).points - points).max() < 3


def test_answers_and_names() -> None:
    got = decode(maps(np.arange(26.0).reshape(13, 2) * 10 + 40), ANSWERS)
    assert (got.diaphragm, got.filtered) == (2.0, -3.0)
    assert got.hand == pytest.approx([0.1, 0.2, 0.3])
    chances = (got.bowl_readable, got.flange_readable, got.mark_readable)
    assert chances == pytest.approx(tuple(expit([1.0, -1.0, 0.0])))
    k = KEYPOINTS.index("throat")
    assert got.point("throat") == pytest.approx([40 + 20 * k, 50 + 20 * k], abs=0.3)


def test_chances_against_scipy() -> None:
    logits = np.array([3.0, -1.0, 0.5])
    assert softmax(logits, 1.7) == pytest.approx(scipy_softmax(logits / 1.7))
    assert [sigmoid(v) for v in logits] == pytest.approx(expit(logits))
    assert softmax(np.array([900.0, 0.0])) == pytest.approx([1.0, 0.0])
