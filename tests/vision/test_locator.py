"""Boxes from made maps; overlap against the definition of intersection over union."""

import numpy as np
import pytest

from carbpair.vision.halvings import Halvings
from carbpair.vision.locator import (
    LONG_SIDE,
    MAX_CARBS,
    SETTLED,
    LocatedCarb,
    decode,
    distinct,
    hidden_by,
    locate,
    look,
    overlap,
)


def maps(*peaks: tuple[int, int, float, float, float, float, float]) -> np.ndarray:
    """(8, 120, 160) maps; a peak: row, column, score, width, height (pixels), offset (cells)."""
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
    assert found[0].extent == pytest.approx(found[0].box, abs=0.01)


def test_boxes_are_cut_to_the_photograph() -> None:
    (carb,) = decode(maps((1, 1, 0.8, 80, 80, 0.0, 0.0)), 0.5, 2.0, 2.0, 1280, 960)
    assert carb.box == pytest.approx((0.0, 0.0, 92.0, 92.0), abs=0.01)
    # Centre (6, 6) and 80 a side in network pixels, twice that in the photograph's.
    assert carb.extent == pytest.approx((-68.0, -68.0, 92.0, 92.0), abs=0.01)


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
    """Stands for the network: keeps the sizes it was shown and finds carbs of one score.

    `at`: centres in shares of the picture.
    """

    def __init__(self, score: float, *at: tuple[float, float]) -> None:
        self.score, self.at = score, at
        self.shown: list[np.ndarray] = []

    def run(self, image: np.ndarray) -> list[np.ndarray]:
        self.shown.append(image[0])
        height, width = image.shape[2:]
        filled = (
            np.flatnonzero(image[0].sum((0, 1))).max() + 1,
            (np.flatnonzero(image[0].sum((0, 2))).max() + 1),
        )
        out = np.full((1, 8, height // 4, width // 4), -9.0, np.float32)
        out[0, 4:] = 0.0
        out[0, 4:6] = np.log(max(height, width) / 10 / 32)
        for x, y in self.at:
            column, row = int(x * filled[0] / 4), int(y * filled[1] / 4)
            out[0, 0, row, column] = np.log(self.score / (1 - self.score))
        return [out]

    @property
    def sides(self) -> list[int]:
        return [max(image.shape[1:]) for image in self.shown]


TWO = ((0.3, 0.5), (0.7, 0.5))


@pytest.mark.parametrize("size", [(2000, 3000), (3000, 2000), (240, 320)])
def test_the_network_sees_the_photograph_whole_and_the_box_is_in_its_pixels(
    size: tuple[int, int],
) -> None:
    height, width = size
    network = Fake(0.95, *TWO)
    found = locate(Halvings(np.full((height, width, 3), (10, 20, 30), np.uint8)), network, 0.5)  # type: ignore[arg-type]
    (shown,) = network.shown
    assert [n % 32 for n in shown.shape[1:]] == [0, 0]
    assert max(shown.shape[1:]) == LONG_SIDE
    assert shown[:, 0, 0] == pytest.approx([10, 20, 30])
    middles = sorted(((c.box[0] + c.box[2]) / 2, (c.box[1] + c.box[3]) / 2) for c in found)
    want = [(0.3 * width, 0.5 * height), (0.7 * width, 0.5 * height)]
    assert np.array(middles) == pytest.approx(np.array(want), abs=0.01 * max(size))


def test_what_halving_leaves_over_does_not_move_a_box() -> None:
    # Quarters of 4003 x 2403 leave 3 pixels over: the network's 640 x 384 show 4000 x 2400.
    network = Fake(0.95, (0.99, 0.5))
    found = look(Halvings(np.full((2403, 4003, 3), 90, np.uint8)), network, 640, 0.5)  # type: ignore[arg-type]
    whole = found[0].extent
    column, row = int(0.99 * 640 / 4), int(0.5 * 384 / 4)
    middle = ((column + 0.5) * 4 * 4000 / 640, (row + 0.5) * 4 * 2400 / 384)
    assert ((whole[0] + whole[2]) / 2, (whole[1] + whole[3]) / 2) == pytest.approx(middle, abs=0.1)


@pytest.mark.parametrize(
    ("longer", "side", "left"),
    [
        (4000, 640, 1000),  # 500 would be coarser than 640
        (4000, 1216, 2000),
        (2500, 1216, 1250),  # hardly finer than 1216, and taken for speed
        (1800, 640, 1800),  # 900 is not half as fine again as 640
        (1200, 640, 1200),
    ],
)
def test_a_look_is_taken_of_a_half_that_is_still_finer(longer: int, side: int, left: int) -> None:
    picture = Halvings(np.full((longer // 2, longer, 3), 90, np.uint8))
    given = []
    whole = picture.reduced
    picture.reduced = lambda ratio: given.append(whole(ratio)) or given[-1]  # type: ignore[method-assign]
    look(picture, Fake(0.95), side, 0.5)  # type: ignore[arg-type]
    assert [level.shape[1] for level, _ in given] == [left]


@pytest.mark.parametrize(
    ("score", "at", "side", "sides"),
    [
        (0.95, TWO, 3000, [512]),
        (0.95, TWO[:1], 3000, [512, 1216]),
        (0.95, (), 3000, [512, 1216]),
        (SETTLED - 0.05, TWO, 3000, [512, 1216]),
        (0.95, TWO[:1], 900, [512, 928]),  # nothing is enlarged, only padded to 32
        (0.95, TWO[:1], 500, [512]),
    ],
)
def test_a_second_look_where_the_first_is_not_settled(
    score: float, at: tuple[tuple[float, float], ...], side: int, sides: list[int]
) -> None:
    network = Fake(score, *at)
    found = locate(Halvings(np.full((side * 2 // 3, side, 3), 90, np.uint8)), network, 0.3)  # type: ignore[arg-type]
    assert network.sides == sides
    assert len(found) == len(at)  # what both looks find counts once


@pytest.mark.parametrize(("score", "kept"), [(SETTLED - 0.05, 1), (SETTLED + 0.05, 2)])
def test_what_the_first_look_is_not_sure_of_is_left_to_the_second(score: float, kept: int) -> None:
    network = Fake(score, TWO[0])
    first = network.run

    def then_the_other(image: np.ndarray) -> list[np.ndarray]:
        maps = first(image)
        network.score, network.at = 0.9, TWO[1:]
        return maps

    network.run = then_the_other  # type: ignore[method-assign]
    found = locate(Halvings(np.full((2000, 3000, 3), 90, np.uint8)), network, 0.3)  # type: ignore[arg-type]
    assert [round(c.score, 2) for c in found] == [0.9, round(score, 2)][:kept]


@pytest.mark.parametrize(
    ("box", "share"),
    [
        ((2.0, 2.0, 4.0, 4.0), 1.0), ((-10.0, -10.0, 20.0, 20.0), 1.0),
        ((8.0, 0.0, 12.0, 5.0), 0.5), ((10.0, 0.0, 12.0, 5.0), 0.0), ((3.0, 3.0, 3.0, 9.0), 0.0),
    ],
)  # fmt: skip
def test_how_much_of_the_smaller_box_the_other_hides(box, share) -> None:
    ten = (0.0, 0.0, 10.0, 10.0)
    assert hidden_by(box, ten) == hidden_by(ten, box) == share


def test_the_best_of_overlapping_boxes() -> None:
    a, b, c = (
        LocatedCarb((x, 0.0, x + 10, 10.0), score) for x, score in ((0, 0.5), (2, 0.9), (30, 0.7))
    )
    assert distinct([a, b, c]) == [b, c]
    assert len(distinct(LocatedCarb((20.0 * k, 0, 20.0 * k + 9, 9), 0.5) for k in range(9))) == 6
