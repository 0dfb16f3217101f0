"""Bolt-circle coordinates by the handbook formula."""

import math

import numpy as np
from numpy.typing import NDArray


def bolt_circle(count: int, radius: float = 1.0, phase_deg: float = 0.0) -> NDArray[np.float64]:
    """`count` equally spaced holes (count, 2): x = R cos(2πk/n + φ), y = R sin(2πk/n + φ).

    `phase_deg` is the direction of hole 0 from +x towards +y. Raises ValueError for a count
    below 1 or a radius that is not positive.
    """
    if count < 1 or radius <= 0.0:
        raise ValueError("a bolt circle needs at least one hole and a positive radius")
    angle = 2.0 * np.pi * np.arange(count) / count + math.radians(phase_deg)
    return radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
