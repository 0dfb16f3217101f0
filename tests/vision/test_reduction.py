"""Block means, against scikit-image's own."""

import numpy as np
import pytest
from skimage.data import coffee
from skimage.transform import downscale_local_mean

from carbpair.vision.reduction import reduced


@pytest.mark.parametrize("factor", [2, 3, 5])
def test_means_of_whole_blocks(factor: int) -> None:
    picture = coffee()[: 40 * factor, : 60 * factor]
    want = downscale_local_mean(picture.astype(float), (factor, factor, 1))
    assert reduced(picture, factor).astype(float) == pytest.approx(want, abs=1.01)


def test_what_is_beyond_a_whole_block_is_left_out_and_nothing_moves() -> None:
    picture = np.zeros((101, 203, 3), np.uint8)
    picture[40:50, 60:70] = 200
    picture[100], picture[:, 200:] = 255, 255
    small = reduced(picture, 10)
    assert small.shape == (10, 20, 3)
    assert (small[4, 6] == 200).all()
    assert int(small.astype(int).sum()) == 3 * 200


def test_one_and_less_change_nothing() -> None:
    picture = coffee()[:30, :30]
    assert reduced(picture, 1) is picture
    assert reduced(picture, 0) is picture
