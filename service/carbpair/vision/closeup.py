"""A close-up of one carb, and its landmarks found once more in it.

The reader's crop shows the whole carb and room for a bowl; its landmarks frame a closer window of
the photograph. There a second network, the refiner, finds the twelve points that every carb has,
and flange and rim are read.
"""

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from carbpair.vision.crop import Crop, window
from carbpair.vision.halvings import Halvings
from carbpair.vision.landmarks import COMMON, Landmarks, peaks
from carbpair.vision.rim import diameter

SIZE = 448
SIDE = 1.6
"""Side of the close-up over the longer side of the upright box around the twelve landmarks."""

LEAST_SIDE = 8.0
"""Side in photo pixels below which a close-up shows nothing."""

REFINER_SIZE = 256
REFINER_SIDE = 1.45
"""The refiner sees the close-up's middle: its side over that of the landmarks' box."""

MARGIN = round(SIZE * (1 - REFINER_SIDE / SIDE) / 2)

FARTHEST = 0.2
"""A rim's centre farther than this from the reader's, in rim diameters, is another carb's: one in a
hundred of 512 calibration carbs lay 0.12 off (models/training/evaluation/landmark_error.py)."""

LEAST_CERTAINTY = 0.2
"""Median confidence of the refiner's points below which it has found no carb (judgement)."""


def cut(picture: Halvings, crop: Crop, marks: Landmarks) -> Crop:
    """The close-up of a photograph that landmarks in `crop` frame."""
    points = crop.to_photo(marks.points[:COMMON])
    low, high = points.min(0), points.max(0)
    side = max(SIDE * float((high - low).max()), LEAST_SIDE)
    x, y = (low + high) / 2
    return window(picture, (float(x), float(y)), side, SIZE)


def refiner_input(closeup: Crop) -> NDArray[np.float32]:
    """The middle of the close-up as the refiner takes it: float32 (3, 256, 256)."""
    middle = closeup.pixels[MARGIN : SIZE - MARGIN, MARGIN : SIZE - MARGIN]
    small = cv2.resize(middle, (REFINER_SIZE, REFINER_SIZE), interpolation=cv2.INTER_AREA)
    return np.ascontiguousarray(small.transpose(2, 0, 1), dtype=np.float32)


def refined(closeup: Crop, maps: NDArray[np.float32], crop: Crop, marks: Landmarks) -> Landmarks:
    """The landmarks in close-up pixels, twelve of them from the refiner's maps (12, 64, 64).

    `marks` are the reader's, in pixels of `crop`. Its answers and its confidence stay, and its
    bowl; all its points stay where the refiner is vague or has found another carb.
    """
    points = closeup.from_photo(crop.to_photo(marks.points))
    moved = replace(marks, points=points, refined=None)
    found, confidence = peaks(maps, (SIZE - 2 * MARGIN) / maps.shape[-1])
    again = replace(
        moved, points=np.concatenate([found + MARGIN, points[COMMON:]]), refined=confidence
    )
    off = float(np.linalg.norm(again.point("rim") - moved.point("rim")))
    lost = off > FARTHEST * diameter(moved) or np.median(confidence) < LEAST_CERTAINTY
    return moved if lost else again
