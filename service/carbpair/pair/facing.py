"""Whether the carbs of a photograph face the same way, as those of one installation do.

A round cover looks much the same from in front and from behind. A carb whose front was taken for
its back has every bearing turned by half a turn; its neighbour gives that away.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Facing:
    """Images (pixels) of a carb's front and right, in its rim's plane, and how sure they are."""

    front: tuple[float, float]
    right: tuple[float, float]
    certainty: float


def opposed(carbs: Sequence[Facing]) -> tuple[bool, ...]:
    """For each carb whether it is turned against the surest of the others.

    Each axis counts by the length of its image, so that one that points at the camera says little.
    Which of the two is wrong is not known: the surest is held against the next, and one that is
    not sure of itself still silences its neighbour. Silence costs one more photograph, a bearing
    that is half a turn off may cost a wrong part.
    """
    axes = [np.array([*c.front, *c.right], float) for c in carbs]
    out = []
    for i, own in enumerate(axes):
        others = [j for j in range(len(carbs)) if j != i]
        surest = max(others, key=lambda j: carbs[j].certainty, default=None)
        out.append(surest is not None and float(own @ axes[surest]) < 0)
    return tuple(out)
