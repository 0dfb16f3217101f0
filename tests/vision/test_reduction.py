"""Block means, against scikit-image's own."""

import numpy as np
import pytest
from skimage.data import coffee
from skimage.transform import downscale_local_mean

from carbpair.vision.reduction import power_of_two, reduced


@pytest.mark.parametrize("factor", [2, 4, 8])
def test_means_of_whole_blocks(factor: int) -> None:
    picture = coffee()[: 40 * factor, : 60 * factor]
    want = downscale_local_mean(picture.astype(float), (factor, factor, 1))
    assert reduced(picture, factor).astype(float) == pytest.approx(want, abs=1.51)


def test_what_is_beyond_a_whole_block_is_left_out_and_nothing_moves() -> None:
    picture = np.zeros((101, 203, 3), np.uint8)
    picture[40:48, 64:72] = 200
    picture[96:], picture[:, 200:] = 255, 255
    small = reduced(picture, 8)
    assert small.shape == (12, 25, 3)
    assert (small[5, 8] == 200).all()
    assert int(small.astype(int).sum()) == 3 * 200


def test_one_and_less_change_nothing() -> None:
    picture = coffee()[:30, :30]
    assert reduced(picture, 1) is picture
    assert reduced(picture, 0) is picture


def test_powers_of_two() -> None:
    ratios = (0.0, 0.3, 1.0, 1.99, 2.0, 3.29, 4.0, 7.9, 8.1)
    assert [power_of_two(r) for r in ratios] == [1, 1, 1, 1, 2, 2, 4, 4, 8]
