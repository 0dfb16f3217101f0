"""Which carb of a photograph is the left one, as seen by somebody who faces the air intakes."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Position = Literal["left", "right"]

OTHER: dict[Position, Position] = {"left": "right", "right": "left"}

AGREE_DEG = 50.0
"""The carbs of one installation point the same way within this, as their images show it."""


@dataclass(frozen=True, slots=True)
class Stance:
    """A carb's place: rim centre and image of its right (pixels), rim diameter, locator's score."""

    centre: tuple[float, float]
    right: tuple[float, float]
    size: float
    score: float


@dataclass(frozen=True, slots=True)
class Places:
    """Position of each carb in the order given, and why there is none."""

    positions: tuple[Position | None, ...]
    reason: str | None


def place(carbs: list[Stance], given: Sequence[Position] = ()) -> Places:
    """Left and right of exactly two carbs that point the same way; else None and the reason.

    A person said that the first ``len(given)`` carbs are at these positions: that holds, and
    where it names one of two, the other one follows.
    """
    count = len(carbs)
    if given:
        rest: list[Position | None] = [None] * (count - len(given))
        if len(given) == 1 and count == 2:
            rest = [OTHER[given[0]]]
        return Places((*given, *rest), "more_than_two_carbs" if count > 2 else None)
    if count != 2:
        reason = {0: "none_found", 1: "other_carb_not_seen"}.get(count, "more_than_two_carbs")
        return Places((None,) * count, reason)
    a, b = (np.asarray(c.right, float) for c in carbs)
    if angle_deg(a, b) > AGREE_DEG:
        return Places((None, None), "carbs_point_different_ways")
    right = a / max(float(np.linalg.norm(a)), 1e-9) + b / max(float(np.linalg.norm(b)), 1e-9)
    across = float((np.asarray(carbs[1].centre) - np.asarray(carbs[0].centre)) @ right)
    reach = 0.35 * float(np.linalg.norm(right)) * min(c.size for c in carbs)
    if abs(across) < reach * 0.25:
        return Places((None, None), "order_unclear")
    return Places(("left", "right") if across > 0 else ("right", "left"), None)


def angle_deg(a: NDArray[np.float64], b: NDArray[np.float64]) -> float:
    """Angle between two image vectors, degrees in [0, 180]."""
    cos = float(a @ b) / max(float(np.linalg.norm(a) * np.linalg.norm(b)), 1e-9)
    return float(np.degrees(np.arccos(np.clip(cos, -1, 1))))
