"""Angles in degrees: wrapping, differences, direction vectors."""

import numpy as np
from numpy.typing import ArrayLike, NDArray


def wrap_deg(angle: float) -> float:
    """Wrap an angle in degrees into (−180, 180]."""
    wrapped = -((180.0 - angle) % 360.0) + 180.0
    # A tiny positive excess over −180 rounds to −180.0 exactly: the half-open end is +180.
    return 180.0 if wrapped == -180.0 else wrapped


def wrap_deg_array(angles: ArrayLike) -> NDArray[np.float64]:
    """Wrap each angle in degrees into (−180, 180]; any shape."""
    wrapped = 180.0 - (180.0 - np.asarray(angles, dtype=np.float64)) % 360.0
    return np.where(wrapped == -180.0, 180.0, wrapped)


def difference_deg(to: float, start: float) -> float:
    """Signed turn from `start` to `to` in degrees, in (−180, 180]."""
    return wrap_deg(to - start)


def axis_difference_deg(first: float, second: float) -> float:
    """Unsigned angle between two undirected axes in degrees, in [0, 90]."""
    apart = abs(first - second) % 180.0
    return min(apart, 180.0 - apart)
