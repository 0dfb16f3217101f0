"""Block means, against scikit-image's own."""

import numpy as np
import pytest
from skimage.data import coffee
from skimage.transform import downscale_local_mean

from carbpair.vision.halvings import Halvings


@pytest.mark.parametrize("factor", [2, 4, 8])
def test_means_of_whole_blocks(factor: int) -> None:
    picture = coffee()[: 40 * factor, : 60 * factor]
    want = downscale_local_mean(picture.astype(float), (factor, factor, 1))
    small, power = Halvings(picture).reduced(factor)
    assert power == factor
    assert small.astype(float) == pytest.approx(want, abs=1.51)
    assert float((small - want).mean()) == pytest.approx(0, abs=0.4)


def test_what_is_beyond_a_whole_block_is_left_out_and_nothing_moves() -> None:
    picture = np.zeros((101, 203, 3), np.uint8)
    picture[40:48, 64:72] = 200
    picture[96:], picture[:, 200:] = 255, 255
    small, _ = Halvings(picture).reduced(8)
    assert small.shape == (12, 25, 3)
    assert (small[5, 8] == 200).all()
    assert int(small.astype(int).sum()) == 3 * 200


@pytest.mark.parametrize(
    ("ratio", "power"),
    [(0.0, 1), (0.3, 1), (1.0, 1), (1.99, 1), (2.0, 2), (3.29, 2), (4.0, 4), (7.9, 4), (8.1, 8)],
)
def test_the_largest_power_of_two_up_to_a_ratio(ratio: float, power: int) -> None:
    small, got = Halvings(coffee()).reduced(ratio)
    assert got == power
    assert small.shape[:2] == (400 // power, 600 // power)


def test_at_least_one_pixel_is_left() -> None:
    small, power = Halvings(np.full((16, 4000, 3), 9, np.uint8)).reduced(100.0)
    assert (small.shape, power) == ((1, 250, 3), 16)


def test_full_size_is_the_picture_itself_and_each_half_is_made_once() -> None:
    picture = Halvings(coffee()[:33, :50])
    assert picture.size == (50, 33)
    assert picture.reduced(1)[0] is picture.pixels
    quarter, half = picture.reduced(4)[0], picture.reduced(2)[0]
    assert picture.reduced(4.5)[0] is quarter
    assert picture.reduced(3)[0] is half
