import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from carbpair.geometry.angles import (
    axis_difference_deg,
    difference_deg,
    wrap_deg,
    wrap_deg_array,
)


@pytest.mark.parametrize(
    ("angle", "wrapped"),
    [(0, 0), (180, 180), (-180, 180), (181, -179), (540, 180), (-541, 179), (359, -1)],
)
def test_wraps_into_the_half_open_turn(angle: float, wrapped: float) -> None:
    assert wrap_deg(angle) == wrapped


@given(st.floats(-1e6, 1e6))
def test_wrapping_keeps_the_direction(angle: float) -> None:
    wrapped = wrap_deg(angle)
    assert -180 < wrapped <= 180
    assert math.isclose(math.cos(math.radians(wrapped - angle)), 1.0, abs_tol=1e-9)


@given(st.lists(st.floats(-1e4, 1e4), min_size=1, max_size=9))
def test_the_array_form_agrees_with_the_scalar_form(angles: list[float]) -> None:
    assert np.array_equal(wrap_deg_array(angles), [wrap_deg(a) for a in angles])


def test_differences_take_the_short_way_round() -> None:
    assert difference_deg(-170, 170) == 20
    assert difference_deg(170, -170) == -20
    assert axis_difference_deg(5, 175) == 10
    assert axis_difference_deg(0, 90) == 90
