"""Against the equal-spacing table for bolt circles of unit diameter.

Source: the jig-boring coordinate tables of engineering handbooks (diameter 1, first hole at
0°); the literal values are from memory of elementary trigonometry, cos 60° = 1/2 and so on.
"""

import math

import numpy as np
import pytest

from carbpair.geometry.bolt_circle import bolt_circle


def test_literal_coordinates() -> None:
    assert bolt_circle(2, 0.5) == pytest.approx(np.array([[0.5, 0], [-0.5, 0]]))
    assert bolt_circle(3, 0.5) == pytest.approx(
        np.array([[0.5, 0], [-0.25, 0.4330127], [-0.25, -0.4330127]])
    )
    assert bolt_circle(4, 0.5, 45) == pytest.approx(
        0.3535534 * np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]])
    )
    assert bolt_circle(6, 0.5)[1] == pytest.approx([0.25, 0.4330127])


@pytest.mark.parametrize("count", [2, 3, 4, 5, 8])
def test_neighbours_are_one_chord_apart(count: int) -> None:
    # Handbook chord formula: c = 2 R sin(180°/n).
    holes = bolt_circle(count, 3.0, 17.0)
    chords = np.hypot(*(np.roll(holes, -1, axis=0) - holes).T)
    assert chords == pytest.approx(np.full(count, 6.0 * math.sin(math.pi / count)))


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one hole"):
        bolt_circle(0)
    with pytest.raises(ValueError, match="positive radius"):
        bolt_circle(3, -1)
