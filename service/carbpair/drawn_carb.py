"""A carburettor that a person drew on a photo because the locator missed it."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class DrawnCarb:
    """Where it is and which one: `box` is x0, y0, x1, y1 in pixels of the upright photo."""

    position: Literal["left", "right"]
    box: tuple[float, float, float, float]
