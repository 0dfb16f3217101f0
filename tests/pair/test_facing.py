"""Carbs that face the same way or against each other, with axes written out by hand."""

import numpy as np
import pytest

from carbpair.pair.facing import Facing, opposed


def turned(degrees: float, certainty: float = 0.9, upright: float = 0.5) -> Facing:
    """A carb turned about its own axis, seen from an elevation whose sine is `upright`."""
    a = np.radians(degrees)
    front, right = (np.sin(a), np.cos(a)), (np.cos(a), -np.sin(a))
    return Facing(
        (10 * front[0], 10 * upright * front[1]),
        (10 * right[0], 10 * upright * right[1]),
        certainty,
    )


@pytest.mark.parametrize("upright", [0.05, 0.5, 1.0])
@pytest.mark.parametrize(("apart", "against"), [(0, False), (40, False), (140, True), (180, True)])
def test_two_carbs(upright: float, apart: float, against: bool) -> None:
    # From aside one axis is all but gone, and the other still tells.
    for first in (0.0, 70.0, 200.0):
        pair = [turned(first, upright=upright), turned(first + apart, upright=upright)]
        assert opposed(pair) == (against, against), (first, apart)


def test_the_surest_other_decides() -> None:
    carbs = [turned(0, 0.9), turned(175, 0.6), turned(5, 0.8)]
    assert opposed(carbs) == (False, True, False)
    carbs = [turned(0, 0.7), turned(180, 0.9), turned(5, 0.8)]
    assert opposed(carbs) == (True, True, True)  # the surest stands against the next


def test_alone_nothing_is_against_it() -> None:
    assert opposed([turned(0)]) == (False,)
    assert opposed([]) == ()
