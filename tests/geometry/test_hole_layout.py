"""Layouts of bolt holes, on literal positions: x right, y down, seen facing the flange."""

import math

import numpy as np
import pytest

from carbpair.geometry.hole_layout import (
    COUNT_OF,
    LAYOUTS,
    NAMES,
    layout_chances,
    nearest_layout,
    pattern_direction,
)

S3 = math.sqrt(3) / 2


@pytest.mark.parametrize(
    ("holes", "layout"),
    [
        ([(-1.8, 0), (1.8, 0)], "side_by_side"),
        ([(0, -1.8), (0, 1.8)], "one_above_other"),
        ([(-1, 1), (1, -1)], "diagonal"),
        ([(-1, -1), (1, 1)], "diagonal"),
        ([(0, -1), (S3, 0.5), (-S3, 0.5)], "one_above"),
        ([(0, 1), (S3, -0.5), (-S3, -0.5)], "one_below"),
        ([(1, 0), (-0.5, S3), (-0.5, -S3)], "one_aside"),
        ([(-1, 0), (0.5, S3), (0.5, -S3)], "one_aside"),
        ([(1, 1), (-1, 1), (-1, -1), (1, -1)], "square"),
        ([(1, 0.8), (-1, 0.8), (-1, -0.8), (1, -0.8)], "square"),
        ([(1, 0), (0, 1), (-1, 0), (0, -1)], "diamond"),
    ],
)
def test_layouts_as_a_person_calls_them(holes: list[tuple[float, float]], layout: str) -> None:
    count = len(holes)
    assert COUNT_OF[layout] == count
    assert nearest_layout(pattern_direction(holes, count), count) == layout
    mirrored = [(-x, y) for x, y in holes]
    assert nearest_layout(pattern_direction(mirrored, count), count) == layout


def test_the_names_are_those_of_the_layouts() -> None:
    assert tuple(name for layouts in LAYOUTS.values() for name in layouts) == NAMES


def test_direction_is_modulo_the_patterns_own_turn() -> None:
    a = np.radians(10 + np.array([0, 120, 240]))
    holes = np.stack([np.cos(a), np.sin(a)], 1)
    assert pattern_direction(holes, 3) == pytest.approx(10)
    assert pattern_direction(holes[[2, 0, 1]], 3) == pytest.approx(10)
    with pytest.raises(ValueError, match="2 holes are needed, not 3"):
        pattern_direction(holes, 2)


def test_chances_are_even_half_way_and_sure_on_the_spot() -> None:
    half = layout_chances(22.5, 2)
    assert half["side_by_side"] == pytest.approx(half["diagonal"])
    assert half["side_by_side"] > 0.49
    assert layout_chances(0.0, 2)["side_by_side"] > 0.999
    # 10 degrees from one layout, 20 from the next: the ratio of two Gaussians of 7 degrees
    odds = layout_chances(40.0, 3)
    assert odds["one_above"] / odds["one_aside"] == pytest.approx(math.exp((400 - 100) / 98))
    for count, layouts in LAYOUTS.items():
        for direction in np.linspace(0, 360, 37):
            chances = layout_chances(float(direction), count)
            assert set(chances) == set(layouts)
            assert sum(chances.values()) == pytest.approx(1)
