"""What is in the way: a hose across a carb, a sticker on it. Truth knows what they hide."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..truth_warp import occluded
from .picture import Picture, Truths, to_unit

HOSE_WIDTH = (0.05, 0.08, 0.12, 0.17, 0.24)
"""Hose diameter over the carb's box width."""

STICKER_SIDE = (0.22, 0.32, 0.42, 0.53, 0.65)
"""Sticker's side over that of the carb's box."""

INKS = ((0.93, 0.92, 0.88), (0.85, 0.75, 0.15), (0.75, 0.15, 0.12), (0.12, 0.2, 0.5))


def hose(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """A shaded tube across every carb, from one side of its box to the other."""
    h, w = picture.shape[:2]
    out = to_unit(picture)
    whole = np.zeros((h, w), bool)
    tone = float(rng.uniform(0.03, 0.25))
    for t in _shown(truth):
        x0, y0, x1, y1 = (float(v) for v in t["box"])
        side = max(x1 - x0, y1 - y0)
        a, b = float(rng.uniform(0, np.pi)), rng.uniform(-0.22, 0.22, 2)
        bend = float(rng.uniform(-0.25, 0.25))
        radius = HOSE_WIDTH[severity - 1] * (x1 - x0) / 2
        along, across = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
        middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2]) + b * side
        s = np.linspace(-1.1, 1.1, 60)[:, None]
        path = middle + s * side * along + bend * side * (s**2 - 0.3) * across
        shade, mask = _tube(path, radius, h, w)
        out[mask] = (tone * (0.25 + 1.4 * shade[mask]))[:, None]
        whole |= mask
    return (np.clip(out, 0, 1) * 255 + 0.5).astype(np.uint8), [occluded(t, whole) for t in truth]


def _shown(truth: Truths) -> Truths:
    """The carbs that the picture has a part of: another's box may lie beyond all picture points."""
    return [t for t in truth if t["in_front"] and t["in_frame"] > 0]


def _tube(path: Any, radius: float, h: int, w: int) -> tuple[NDArray[np.float32], Any]:
    """Brightness across a tube along a path, and the pixels that it covers."""
    line = np.full((h, w), 255, np.uint8)
    points = np.round(path * 16).astype(np.int32)[:, None]
    cv2.polylines(line, [points], False, 0, 1, cv2.LINE_8, 4)
    distance = cv2.distanceTransform(line, cv2.DIST_L2, 5)
    # a path outside the picture has no nearest pixel: OpenCV then says "very far"
    off = np.minimum(distance / max(radius, 1.0), 2.0)
    return np.sqrt(np.clip(1 - off**2, 0, 1)).astype(np.float32), off <= 1.0


def sticker(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """A printed label on every carb, somewhere on its box."""
    h, w = picture.shape[:2]
    out = picture.copy()
    whole = np.zeros((h, w), bool)
    for t in _shown(truth):
        x0, y0, x1, y1 = (float(v) for v in t["box"])
        ink = np.array(INKS[rng.integers(len(INKS))])
        place, turn = rng.uniform(0, 1, 2), float(rng.uniform(-25, 25))
        size = STICKER_SIDE[severity - 1] * np.array([x1 - x0, y1 - y0])
        centre = np.array([x0, y0]) + size / 2 + place * (np.array([x1 - x0, y1 - y0]) - size)
        corners = cv2.boxPoints((tuple(map(float, centre)), tuple(map(float, size)), turn))
        mask = np.zeros((h, w), np.uint8)
        cv2.fillConvexPoly(mask, np.round(corners).astype(np.int32), 1)
        covered = mask.astype(bool)
        out[covered] = (ink * 235).astype(np.uint8)
        _print_lines(out, corners, rng)
        whole |= covered
    return out, [occluded(t, whole) for t in truth]


def _print_lines(out: Picture, corners: Any, rng: np.random.Generator) -> None:
    """A few dark lines of "text" along the label."""
    a, b, c, d = (np.asarray(p, float) for p in corners)
    for k in (0.25, 0.5, 0.75):
        first, last = a + k * (d - a), b + k * (c - b)
        start = first + 0.1 * (last - first)
        end = first + float(rng.uniform(0.5, 0.9)) * (last - first)
        thick = max(1, round(0.06 * float(np.linalg.norm(d - a))))
        ends = [tuple(int(v) for v in np.round(p)) for p in (start, end)]
        cv2.line(out, ends[0], ends[1], (40, 40, 45), thick)
