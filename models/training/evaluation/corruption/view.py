"""Where the phone was held: too close to the edge, tilted. The truth moves with the picture."""

from __future__ import annotations

import cv2
import numpy as np

from ..truth_warp import warped
from .picture import Picture, Truths

KEPT = (0.9, 0.8, 0.7, 0.6, 0.5)
"""Side that is left of the picture."""

ROLL_DEG = (5.0, 10.0, 15.0, 22.0, 30.0)
PITCH_DEG = (2.0, 4.0, 6.0, 8.0, 10.0)
FOCAL = 0.9
"""Focal length over the picture's width, of a phone's main camera."""


def crop(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """Part of the picture, anywhere in it."""
    h, w = picture.shape[:2]
    place = rng.random(2)
    size = round(w * KEPT[severity - 1]), round(h * KEPT[severity - 1])
    x0, y0 = round((w - size[0]) * place[0]), round((h - size[1]) * place[1])
    cut = np.ascontiguousarray(picture[y0 : y0 + size[1], x0 : x0 + size[0]])
    shift = np.array([[1.0, 0, -x0], [0, 1, -y0], [0, 0, 1]])
    return cut, [warped(t, shift, (w, h), size) for t in truth]


def tilt(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """The phone turned about its axis and leaning; what was outside repeats the edge."""
    h, w = picture.shape[:2]
    signs = rng.choice([-1.0, 1.0], 2)
    roll = np.radians(ROLL_DEG[severity - 1]) * signs[0]
    pitch = np.radians(PITCH_DEG[severity - 1]) * signs[1]
    c, s = np.cos(roll), np.sin(roll)
    about_z = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
    c, s = np.cos(pitch), np.sin(pitch)
    about_x = np.array([[1.0, 0, 0], [0, c, -s], [0, s, c]])
    k = np.array([[FOCAL * w, 0, w / 2], [0, FOCAL * w, h / 2], [0, 0, 1]])
    homography = k @ about_x @ about_z @ np.linalg.inv(k)
    # OpenCV counts from the first pixel's centre, we from the picture's corner.
    half = np.array([[1.0, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    moved = cv2.warpPerspective(
        picture,
        np.linalg.inv(half) @ homography @ half,
        (w, h),
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(moved, np.uint8), [warped(t, homography, (w, h), (w, h)) for t in truth]
