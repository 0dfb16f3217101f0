"""Cut a square window out of the full-resolution photograph and bring it to the readers' scale."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from carbpair.vision.halvings import Halvings
from carbpair.vision.locator import LocatedCarb

WINDOW = 1.9
"""Side of the window over the longer side of the carb's box: room for a bowl on either side."""

SIZE = 384
READER_SIZE = 256


@dataclass(frozen=True, slots=True)
class Crop:
    """A square view: `pixels` (n, n, 3) RGB; photo point = `origin` + view point / `scale`."""

    pixels: NDArray[np.uint8]
    origin: tuple[float, float]
    scale: float

    def to_photo(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Photo pixels of view points (..., 2)."""
        return np.asarray(points / self.scale + np.asarray(self.origin))

    def from_photo(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """View points of photo pixels (..., 2)."""
        return np.asarray((points - np.asarray(self.origin)) * self.scale)


def cut(picture: Halvings, carb: LocatedCarb) -> Crop:
    """The window around the whole of a located carb, as training saw those cut by an edge."""
    x0, y0, x1, y1 = carb.extent
    side = WINDOW * max(x1 - x0, y1 - y0)
    return window(picture, ((x0 + x1) / 2, (y0 + y1) / 2), side, SIZE)


def window(picture: Halvings, centre: tuple[float, float], side: float, size: int) -> Crop:
    """A square of ``side`` photo pixels brought to ``size``; black outside the photograph."""
    left, top = centre[0] - side / 2, centre[1] - side / 2
    scale = size / side
    level, factor = picture.reduced(0.8 / scale)  # average first, or thin marks alias away
    height, width = level.shape[:2]
    x, y, wide = left / factor, top / factor, side / factor
    a, b = max(0, int(np.floor(x))), max(0, int(np.floor(y)))
    c, d = min(width, int(np.ceil(x + wide))), min(height, int(np.ceil(y + wide)))
    if a >= c or b >= d:
        return Crop(np.zeros((size, size, 3), np.uint8), (left, top), scale)
    region = level[b:d, a:c]
    k = scale * factor
    # pixel centres lie at +0.5 in all our coordinates, but at integers in warpAffine's
    m = np.array([[k, 0, (a - x + 0.5) * k - 0.5], [0, k, (b - y + 0.5) * k - 0.5]])
    if k < 1:
        ksize = max(3, 2 * round(1 / k) + 1) if k < 0.6 else 0
        blurred = cv2.GaussianBlur(region, (ksize, ksize), 0.4 / k) if ksize else region
        region = np.asarray(blurred, np.uint8)
    view = cv2.warpAffine(region, m, (size, size), flags=cv2.INTER_LINEAR)
    return Crop(np.asarray(view, np.uint8), (left, top), scale)


def reader_input(crop: Crop) -> NDArray[np.float32]:
    """The crop as the landmark reader takes it: float32 (3, 256, 256)."""
    small = cv2.resize(crop.pixels, (READER_SIZE, READER_SIZE), interpolation=cv2.INTER_AREA)
    return np.ascontiguousarray(small.transpose(2, 0, 1), dtype=np.float32)


def sample(crop: Crop, grid: NDArray[np.float64]) -> NDArray[np.float32]:
    """Bilinear samples at view points (h, w, 2), averaged 2 x 2 inside each cell: (3, h, w)."""
    middle = (grid - 0.5).astype(np.float32)
    dx = np.diff(middle, axis=1, append=2 * middle[:, -1:] - middle[:, -2:-1]) / 4
    dy = np.diff(middle, axis=0, append=2 * middle[-1:] - middle[-2:-1]) / 4
    total = np.zeros((*grid.shape[:2], 3), np.float32)
    for half in (dx + dy, dx - dy):
        for at in (middle - half, middle + half):
            total += cv2.remap(crop.pixels, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    return np.ascontiguousarray(total.transpose(2, 0, 1) / 4, dtype=np.float32)
