"""Boxes from made maps; overlap against the definition of intersection over union."""

import numpy as np
import pytest

from carbpair.vision.locator import MAX_CARBS, LocatedCarb, decode, locate, overlap


def maps(*peaks: tuple[int, int, float, float, float, float, float]) -> np.ndarray:
    """(8, 120, 160) maps: per peak row, column, score, width, height (pixels), offset x, y (cells)."""
    out = np.full((8, 120, 160), -9.0, np.float32)
    out[4:] = 0.0
    for row, column, score, width, height, dx, dy in peaks:
        out[0, row, column] = np.log(score / (1 - score))
        out[4:6, row, column] = np.log(width / 32), np.log(height / 32)
        out[6:8, row, column] = dx, dy
    return out


def test_a_peak_becomes_a_box_in_the_photographs_pixels() -> None:
    # Cell (row 50, column 40) with offset (0.25, -0.5): centre (163, 200) in network pixels.
    found = decode(maps((50, 40, 0.9, 64, 96, 0.25, -0.5)), 0.5, 5.0, 4.0, 3200, 1920)
    assert len(found) == 1
    assert found[0].box == pytest.approx((655.0, 608.0, 975.0, 992.0), abs=0.01)
    assert found[0].score == pytest.approx(0.9, abs=1e-5)
    assert found[0].side == pytest.approx(384.0, abs=0.02)


def test_boxes_are_cut_to_the_photograph() -> None:
    (carb,) = decode(maps((1, 1, 0.8, 80, 80, 0.0, 0.0)), 0.5, 2.0, 2.0, 1280, 960)
    assert carb.box == pytest.approx((0.0, 0.0, 92.0, 92.0), abs=0.01)


def test_threshold_order_and_one_box_for_one_carb() -> None:
    found = decode(
        maps(
            (60, 40, 0.7, 60, 60, 0, 0),
            (60, 43, 0.9, 60, 60, 0, 0),  # 12 pixels beside it: the same carb
            (60, 100, 0.8, 60, 60, 0, 0),
            (20, 20, 0.3, 60, 60, 0, 0),
        ),
        0.5, 1.0, 1.0, 640, 480,
    )  # fmt: skip
    assert [round(c.score, 3) for c in found] == [0.9, 0.8]


def test_never_more_than_the_most() -> None:
    peaks = [(10 + 15 * (k // 4), 10 + 30 * (k % 4), 0.9, 20, 20, 0, 0) for k in range(9)]
    assert len(decode(maps(*peaks), 0.5, 1.0, 1.0, 640, 480)) == MAX_CARBS


@pytest.mark.parametrize(
    ("other", "share"),
    [
        ((0, 0, 10, 10), 1.0),
        ((5, 0, 15, 10), 50 / 150),
        ((5, 5, 15, 15), 25 / 175),
        ((10, 0, 20, 10), 0.0),
        ((2, 2, 4, 4), 4 / 100),
    ],
)
def test_overlap_is_intersection_over_union(
    other: tuple[float, float, float, float], share: float
) -> None:
    assert overlap((0, 0, 10, 10), other) == pytest.approx(share)
    assert overlap(other, (0, 0, 10, 10)) == pytest.approx(share)


class Fake:
    """Stands for the network: keeps what it was shown and finds one carb at cell (row, column)."""

    def __init__(self, row: int, column: int) -> None:
        self.at = row, column

    def run(self, image: np.ndarray) -> list[np.ndarray]:
        self.image = image
        out = np.full((1, 8, image.shape[2] // 4, image.shape[3] // 4), -9.0, np.float32)
        out[0, 4:] = 0.0
        out[0, 0][self.at] = 3.0
        return [out]


@pytest.mark.parametrize("size", [(2000, 3000), (3000, 2000), (240, 320)])
def test_the_network_sees_the_photograph_whole_at_one_scale(size: tuple[int, int]) -> None:
    height, width = size
    network = Fake(30, 20)
    pixels = np.full((height, width, 3), (10, 20, 30), np.uint8)
    (carb,) = locate(pixels, network, 0.5)  # type: ignore[arg-type]
    shown = network.image[0]
    assert shown.shape[1] % 32 == 0
    assert shown.shape[2] % 32 == 0
    assert max(shown.shape[1:]) == 640
    assert shown[:, 0, 0] == pytest.approx([10, 20, 30])
    k = max(size) / 640
    x0, y0, x1, y1 = carb.box
    assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx((82 * k, 122 * k), rel=0.01)
    assert isinstance(carb, LocatedCarb)
