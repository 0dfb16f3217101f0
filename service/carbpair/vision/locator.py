"""Find the carbs in a whole photograph.

The network sees the photograph with its longer side at LONG_SIDE pixels and answers on a grid of
stride 4: a map of carb centres, and at each centre the box's size and the centre's offset.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from carbpair.vision.halvings import Halvings
from carbpair.vision.network import Network

LONG_SIDE = 512
FINE_SIDE = 1216
"""Longer side of the second, finer look, taken only when the first is not settled."""

LEFT_FINER = 1.5
"""For a look the photograph is halved as long as it stays this much finer than the network sees
it: the last step, by a broken factor, would blur what is as fine already. Halves that leave
FINE_SIDE pixels are taken in any case, for speed."""

SETTLED = 0.4
"""Two carbs found with at least this score settle a photograph at the first look. Where they do
not, what the first look found with less is left to the second: beside the second's finds the first
one's weak boxes were mostly the same carbs once more, askew."""

STRIDE = 4
MULTIPLE = 32
MAX_CARBS = 6
OVERLAP = 0.4
"""Two boxes that overlap by more than this (intersection over union) are one carb."""


@dataclass(frozen=True, slots=True)
class LocatedCarb:
    """A carb's box (x0, y0, x1, y1) in photo pixels, and the locator's score in [0, 1].

    `whole` is the box before it was cut at the photograph's edges; None stands for the same box.
    """

    box: tuple[float, float, float, float]
    score: float
    whole: tuple[float, float, float, float] | None = None

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """The whole carb's box, which may reach beyond the photograph."""
        return self.whole or self.box


def locate(picture: Halvings, network: Network, threshold: float) -> list[LocatedCarb]:
    """Carbs in a photograph, best first, at most MAX_CARBS.

    A photograph from farther off gets a second look at over twice the resolution, since a carb
    of 4 % of the width is too small at the first. Nothing is enlarged beyond the photograph.
    """
    found = look(picture, network, LONG_SIDE, threshold)
    sure = [c for c in found if c.score >= SETTLED]
    longer = max(picture.size)
    if len(sure) == 2 or longer <= LONG_SIDE:
        return found
    return distinct([*sure, *look(picture, network, min(FINE_SIDE, longer), threshold)])


def look(
    picture: Halvings, network: Network, long_side: int, threshold: float
) -> list[LocatedCarb]:
    """Carbs found with the photograph's longer side brought to ``long_side`` pixels."""
    width, height = picture.size
    scale = long_side / max(width, height)
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    level, factor = picture.reduced(max(1 / scale / LEFT_FINER, max(width, height) / FINE_SIDE))
    how = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    small = cv2.resize(level, size, interpolation=how)
    padded_w, padded_h = (-(-s // MULTIPLE) * MULTIPLE for s in size)
    image = np.zeros((padded_h, padded_w, 3), np.float32)
    image[: size[1], : size[0]] = small
    maps = network.run(np.ascontiguousarray(image.transpose(2, 0, 1))[None])[0][0]
    sx, sy = level.shape[1] * factor / size[0], level.shape[0] * factor / size[1]
    return decode(maps, threshold, sx, sy, width, height)


def distinct(found: Iterable[LocatedCarb]) -> list[LocatedCarb]:
    """The best of boxes that overlap, best first, at most MAX_CARBS."""
    kept: list[LocatedCarb] = []
    for carb in sorted(found, key=lambda c: -c.score):
        if all(overlap(carb.box, k.box) < OVERLAP for k in kept):
            kept.append(carb)
    return kept[:MAX_CARBS]


def decode(
    maps: NDArray[np.float32], threshold: float, sx: float, sy: float, width: int, height: int
) -> list[LocatedCarb]:
    """Boxes from the network's maps (8, h, w); sx, sy: photo pixels to a pixel of its input."""
    score = 1.0 / (1.0 + np.exp(-maps[0]))
    peak = (score >= cv2.dilate(score, np.ones((3, 3), np.uint8))) & (score >= threshold)
    found = []
    for y, x in zip(*np.nonzero(peak), strict=True):
        w, h = np.exp(np.clip(maps[4:6, y, x], -4, 4)) * 32
        cx = (x + 0.5 + maps[6, y, x]) * STRIDE
        cy = (y + 0.5 + maps[7, y, x]) * STRIDE
        x0, x1 = float((cx - w / 2) * sx), float((cx + w / 2) * sx)
        y0, y1 = float((cy - h / 2) * sy), float((cy + h / 2) * sy)
        box = (max(x0, 0.0), max(y0, 0.0), min(x1, float(width)), min(y1, float(height)))
        if box[2] - box[0] >= 2 and box[3] - box[1] >= 2:
            found.append(LocatedCarb(box, float(score[y, x]), (x0, y0, x1, y1)))
    return distinct(found)


def hidden_by(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> float:
    """Share of the smaller of two boxes (x0, y0, x1, y1) that lies in the other one."""
    smaller = min((x1 - x0) * (y1 - y0) for x0, y0, x1, y1 in (a, b))
    return _common(a, b) / smaller if smaller > 0 else 0.0


def _common(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> float:
    """Area that two boxes share."""
    w = min(a[2], b[2]) - max(a[0], b[0])
    h = min(a[3], b[3]) - max(a[1], b[1])
    return max(w, 0.0) * max(h, 0.0)


def overlap(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> float:
    """Intersection over union of two boxes (x0, y0, x1, y1)."""
    common = _common(a, b)
    if common <= 0:
        return 0.0
    return common / ((a[2] - a[0]) * (a[3] - a[1]) + (b[2] - b[0]) * (b[3] - b[1]) - common)
