"""A planted Gaussian blur, by SciPy's filter, must come back as its σ."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from skimage import data as pictures

from carbpair.photo.sharpness import edge_spread


def bars(sigma: float) -> np.ndarray:
    """Black and white fields whose edges have exactly the spread σ in both directions."""
    squares = np.kron(np.indices((6, 6)).sum(axis=0) % 2, np.ones((40, 40))) * 200.0 + 20
    fine = np.kron(squares, np.ones((4, 4)))  # filter finely, then sample: no pixel steps
    return np.rint(gaussian_filter(fine, 4 * sigma)[2::4, 2::4]).astype(np.uint8)


@pytest.mark.parametrize("sigma", [0.8, 1.2, 2.0, 3.0])
def test_ideal_edges_give_their_spread(sigma: float) -> None:
    assert edge_spread([bars(sigma)]) == pytest.approx(sigma, rel=0.12)


def test_more_blur_never_looks_sharper() -> None:
    photo = pictures.coffee()[..., 1]
    found = [edge_spread([gaussian_filter(photo, s)]) for s in (0.0, 0.7, 1.2, 2.0, 3.0)]
    assert all(value is not None for value in found)
    assert found == sorted(found)  # type: ignore[type-var]


def test_shake_in_one_direction_shows() -> None:
    sharp = pictures.coffee()[..., 1]
    shaken = np.stack([np.roll(sharp, k, axis=1) for k in range(9)]).mean(axis=0)
    before, after = edge_spread([sharp]), edge_spread([shaken.astype(np.uint8)])
    assert before is not None
    assert after is not None
    assert after > 1.7 * before


def test_a_quarter_turn_changes_nothing() -> None:
    photo = pictures.coffee()[..., 1]
    turned = np.ascontiguousarray(np.rot90(photo))
    assert edge_spread([turned]) == pytest.approx(edge_spread([photo]), rel=0.02)


def test_nothing_to_see_gives_no_answer() -> None:
    fog = np.random.default_rng(0).normal(128, 2, (128, 128)).astype(np.uint8)
    assert edge_spread([fog]) is None
