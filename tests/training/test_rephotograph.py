"""A picture of a picture: points go where the homography says."""

from __future__ import annotations

import numpy as np
import pytest
from models.training.evaluation.rephotograph import rephotograph
from models.training.evaluation.truth_warp import warp_points


@pytest.mark.parametrize("seed", range(8))
def test_a_bright_spot_goes_where_the_homography_says(seed: int) -> None:
    picture = np.zeros((480, 640, 3), np.uint8)
    picture[100:121, 200:221] = 255
    again = rephotograph(picture, np.random.default_rng(seed))
    assert again.picture.shape == picture.shape
    (want,) = warp_points([[210.5, 110.5]], again.homography)
    x, y = np.round(want).astype(int)
    near = again.picture[y - 25 : y + 26, x - 25 : x + 26].mean(2)
    rows, cols = np.nonzero(near > 0.5 * (near.max() + np.median(near)))
    found = x - 25 + cols.mean() + 0.5, y - 25 + rows.mean() + 0.5
    assert found == pytest.approx(tuple(want), abs=1.5)


def test_the_whole_picture_stays_in_frame_and_a_seed_is_a_picture() -> None:
    picture = np.full((480, 640, 3), 120, np.uint8)
    for seed in range(20):
        again = rephotograph(picture, np.random.default_rng(seed))
        corners = warp_points([[0, 0], [640, 0], [640, 480], [0, 480]], again.homography)
        assert (corners > 0).all()
        assert (corners < (640, 480)).all()
    first, second = (rephotograph(picture, np.random.default_rng(3)) for _ in range(2))
    np.testing.assert_array_equal(first.picture, second.picture)
