"""A picture and its halves, quarters and so on, each made once and only when it is asked for.

OpenCV averages blocks of 2 x 2 with vector code; any other whole factor takes it four times as
long, so that halving twice is the quicker quarter.
"""

import cv2
import numpy as np
from numpy.typing import NDArray


class Halvings:
    """An upright RGB photograph (H, W, 3) at full size, `pixels`, and reduced."""

    def __init__(self, pixels: NDArray[np.uint8]) -> None:
        self.pixels = pixels
        self._levels = [pixels]

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the photograph."""
        return self.pixels.shape[1], self.pixels.shape[0]

    def reduced(self, ratio: float) -> tuple[NDArray[np.uint8], int]:
        """Block means by the largest power of two up to ``ratio``, and that power.

        A point (x, y) of the photograph lies at (x / power, y / power); rows and columns beyond a
        whole block are left out. At least one pixel is left.
        """
        most = min(int(ratio), min(self.size))
        level = max(0, most.bit_length() - 1)
        while len(self._levels) <= level:
            finer = self._levels[-1]
            height, width = (side // 2 for side in finer.shape[:2])
            whole = finer[: height * 2, : width * 2]
            half = cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA)
            self._levels.append(np.asarray(half, np.uint8))
        return self._levels[level], 1 << level
