"""How a flange's bolt pattern lies: which of a few customary layouts its direction is nearest to.

Coordinates are the flange's own, seen facing it: x right, y down. Layouts (common practice, no
source) are the same for a left and a right casting that mirror each other.
"""

import math
from collections.abc import Mapping
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

LAYOUTS: Mapping[int, Mapping[str, tuple[float, ...]]] = {
    2: {"side_by_side": (0.0,), "one_above_other": (90.0,), "diagonal": (45.0, 135.0)},
    3: {"one_above": (30.0,), "one_below": (90.0,), "one_aside": (0.0, 60.0)},
    4: {"square": (45.0,), "diamond": (0.0,)},
}
"""Bolt-hole count → layout → directions of a hole, degrees, each modulo 360 / count."""

HoleLayout = Literal[
    "side_by_side", "one_above_other", "diagonal", "one_above", "one_below", "one_aside", "square",
    "diamond",
]  # fmt: skip
"""The layouts' names, those of LAYOUTS in its order."""

NAMES: tuple[str, ...] = get_args(HoleLayout)

COUNT_OF: Mapping[str, int] = {
    name: count for count, layouts in LAYOUTS.items() for name in layouts
}

SPREAD_DEG = 7.0
"""Standard deviation of a pattern's direction about its layout's: castings, and the flange's plane
as it is read. A judgement; the measured errors of the answers stand beside it in the evaluation."""


def pattern_direction(points: ArrayLike, count: int) -> float:
    """Direction of `count` bolt holes (count, 2) about the origin, degrees in [0, 360 / count).

    The mean of the holes' directions modulo 360 / count, so that a rectangle lies as its sides do.
    Raises ValueError for another number of points.
    """
    array = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    if len(array) != count:
        raise ValueError(f"{count} holes are needed, not {len(array)}")
    turned = np.exp(1j * count * np.arctan2(array[:, 1], array[:, 0])).mean()
    return math.degrees(float(np.angle(turned))) / count % (360.0 / count)


def layout_chances(
    direction_deg: float, count: int, spread_deg: float = SPREAD_DEG
) -> dict[str, float]:
    """Chance of each layout of `count` holes at a direction, all alike likely before; sums to 1."""
    period = 360.0 / count
    logs: dict[str, float] = {}
    for name, directions in LAYOUTS[count].items():
        off = min(abs((direction_deg - d + period / 2) % period - period / 2) for d in directions)
        logs[name] = -0.5 * (off / spread_deg) ** 2
    top = max(logs.values())
    raw = {name: math.exp(value - top) for name, value in logs.items()}
    total = sum(raw.values())
    return {name: value / total for name, value in raw.items()}


def nearest_layout(direction_deg: float, count: int) -> str:
    """The layout whose direction is nearest."""
    chances = layout_chances(direction_deg, count)
    return max(chances, key=lambda name: chances[name])
