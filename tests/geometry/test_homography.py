"""Against OpenCV's getPerspectiveTransform and getAffineTransform and scikit-image's transforms."""

import cv2
import numpy as np
import pytest
from skimage.transform import AffineTransform, ProjectiveTransform

from carbpair.geometry.homography import (
    apply_affine,
    apply_homography,
    compose_affine,
    fit_affine,
    fit_homography,
    invert_affine,
)

SQUARE = np.array([[0, 0], [100, 0], [100, 100], [0, 100]], dtype=float)
QUAD = np.array([[812, 300], [930, 322], [905, 441], [790, 415]], dtype=float)


def test_four_pairs_agree_with_opencv() -> None:
    theirs = cv2.getPerspectiveTransform(SQUARE.astype(np.float32), QUAD.astype(np.float32))
    assert fit_homography(SQUARE, QUAD) == pytest.approx(theirs, rel=1e-6, abs=1e-9)


def test_many_noisy_pairs_agree_with_scikit_image() -> None:
    rng = np.random.default_rng(1)
    source = rng.uniform(0, 1000, (30, 2))
    target = apply_homography(fit_homography(SQUARE, QUAD), source) + rng.normal(0, 0.2, (30, 2))
    theirs = ProjectiveTransform.from_estimate(source, target)
    ours = fit_homography(source, target)
    assert apply_homography(ours, source) == pytest.approx(theirs(source), abs=0.05)


def test_three_pairs_agree_with_opencv() -> None:
    theirs = cv2.getAffineTransform(SQUARE[:3].astype(np.float32), QUAD[:3].astype(np.float32))
    assert fit_affine(SQUARE[:3], QUAD[:3]) == pytest.approx(theirs)


def test_many_pairs_agree_with_scikit_image() -> None:
    rng = np.random.default_rng(2)
    source = rng.uniform(0, 900, (40, 2))
    target = apply_affine([[0.8, -0.3, 40], [0.2, 1.1, -7]], source) + rng.normal(0, 0.3, (40, 2))
    theirs = AffineTransform.from_estimate(source, target)
    # scikit-image minimises the algebraic error of both sides, we that of the target.
    assert apply_affine(fit_affine(source, target), source) == pytest.approx(
        theirs(source), abs=0.05
    )


def test_inverse_and_composition() -> None:
    first = fit_affine(SQUARE[:3], QUAD[:3])
    back = compose_affine(invert_affine(first), first)
    assert back == pytest.approx(np.array([[1, 0, 0], [0, 1, 0]]), abs=1e-9)
    second = np.array([[0, -1, 5], [1, 0, 7]], dtype=float)
    assert apply_affine(compose_affine(second, first), SQUARE) == pytest.approx(
        apply_affine(second, apply_affine(first, SQUARE))
    )


def test_a_quarter_turn_of_the_target_turns_the_map() -> None:
    turn = np.array([[0.0, -1.0, 600.0], [1.0, 0.0, 0.0]])
    turned = fit_affine(SQUARE, apply_affine(turn, QUAD))
    assert turned == pytest.approx(compose_affine(turn, fit_affine(SQUARE, QUAD)))


@pytest.mark.parametrize("fit", [fit_affine, fit_homography])
def test_degenerate_points_are_refused(fit: object) -> None:
    line = np.array([[0, 0], [1, 1], [2, 2], [3, 3]], dtype=float)
    with pytest.raises(ValueError, match="one line"):
        fit(line, QUAD)  # type: ignore[operator]
    with pytest.raises(ValueError, match="at least"):
        fit(SQUARE[:2], QUAD[:2])  # type: ignore[operator]
    with pytest.raises(ValueError, match="finite"):
        fit(SQUARE, QUAD * np.nan)  # type: ignore[operator]


def test_three_of_four_on_a_line_give_no_homography() -> None:
    three = np.array([[0, 0], [1, 0], [2, 0], [0, 1]], dtype=float)
    with pytest.raises(ValueError, match="homography"):
        fit_homography(three, QUAD)


def test_a_squashed_map_has_no_inverse() -> None:
    with pytest.raises(ValueError, match="no inverse"):
        invert_affine([[1, 2, 0], [2, 4, 0]])
