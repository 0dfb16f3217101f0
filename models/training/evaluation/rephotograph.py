"""A photograph of a photograph: a print on a bench, or a screen, seen at an angle.

Pixels may be uint8 RGB of any size; all choices come from the generator that is handed in.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
Homography = NDArray[np.float64]
Field = NDArray[np.float32]

LEAST, MOST = 0.72, 0.94
"""Width of the picture shown over the width of the photograph taken."""

PRINT_BORDER = 0.035
PIXEL_PITCH_PX = (2.2, 3.6)
"""Period of a screen's pixel grid in the photograph taken."""


@dataclass(frozen=True)
class Rephotograph:
    """The new picture and where each pixel of the old one went."""

    picture: Picture
    homography: Homography


def rephotograph(picture: Picture, rng: np.random.Generator) -> Rephotograph:
    """Photograph a picture (H, W, 3) again; the result has the same size."""
    h, w = picture.shape[:2]
    screen = bool(rng.random() < 0.5)
    homography = _placed(w, h, rng)
    shown = np.asarray(picture, np.float32) / np.float32(255)
    bench = _bench(w, h, rng)
    edge = PRINT_BORDER * (1.0 if not screen else 0.7) * w
    frame = np.full((h, w, 3), 0.03 if screen else 0.88, np.float32)
    outer = np.array([[-edge, -edge], [w + edge, -edge], [w + edge, h + edge], [-edge, h + edge]])
    inner = np.array([[0.0, 0], [w, 0], [w, h], [0, h]])
    out = _over(bench, frame, _mask(outer, homography, w, h))
    shown = _screen(shown, rng) if screen else 0.06 + 0.86 * shown
    flat = np.asarray(
        cv2.warpPerspective(shown, homography, (w, h), flags=cv2.INTER_AREA), np.float32
    )
    out = _over(out, flat, _mask(inner, homography, w, h))
    out = _sheen(out, rng)
    out = np.asarray(cv2.GaussianBlur(out, (0, 0), float(rng.uniform(0.4, 0.8))), np.float32)
    out = out + rng.normal(0, 0.012, out.shape).astype(np.float32)
    return Rephotograph((np.clip(out, 0, 1) * 255 + 0.5).astype(np.uint8), homography)


def _placed(w: int, h: int, rng: np.random.Generator) -> Homography:
    """Shrunk, turned a little and seen at an angle, wholly inside the frame."""
    k = float(rng.uniform(LEAST, MOST - 0.08))
    corners = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]]) * np.array([w, h]) * k
    lean = rng.uniform(-0.10, 0.10, 2)
    corners *= 1 + (corners @ lean / np.array([w, h]).mean())[:, None]
    a = np.radians(float(rng.normal(0, 3)))
    corners = corners @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    reach = np.abs(corners).max(0) / (np.array([w, h]) / 2)
    corners *= min(1.0, MOST / float(reach.max()))
    centre = np.array([w, h]) / 2
    source = np.array([[0, 0], [w, 0], [w, h], [0, h]], np.float32)
    target = (corners + centre).astype(np.float32)
    return np.asarray(cv2.getPerspectiveTransform(source, target), float)


def _bench(w: int, h: int, rng: np.random.Generator) -> Field:
    tone = np.array([[0.42, 0.30, 0.20], [0.25, 0.26, 0.28], [0.55, 0.53, 0.50]])[rng.integers(3)]
    grain = rng.normal(0, 1, (h, w)).astype(np.float32)
    grain = np.asarray(cv2.GaussianBlur(grain, (0, 0), sigmaX=w / 18, sigmaY=1.2), np.float32)
    grain /= max(float(grain.std()), 1e-6)
    return np.asarray(tone * (1 + 0.12 * grain[..., None]), np.float32)


def _mask(quad: NDArray[np.float64], m: Homography, w: int, h: int) -> Field:
    at = cv2.perspectiveTransform(quad[None].astype(np.float64), m)[0]
    mask = np.zeros((h, w), np.uint8)
    cv2.fillConvexPoly(mask, np.round(at * 16).astype(np.int32), 255, cv2.LINE_AA, 4)
    return np.asarray(mask[..., None].astype(np.float32) / 255)


def _over(below: Field, above: Field, m: Field) -> Field:
    return np.asarray(below * (1 - m) + above * m, np.float32)


def _screen(shown: Field, rng: np.random.Generator) -> Field:
    """Pixel rows and columns that beat with the sensor's, a blue cast and raised blacks."""
    h, w = shown.shape[:2]
    pitch = rng.uniform(*PIXEL_PITCH_PX, 2)
    x = np.cos(2 * np.pi * np.arange(w) / pitch[0])
    y = np.cos(2 * np.pi * np.arange(h) / pitch[1])
    grid = 1 + 0.06 * (x[None, :] + y[:, None])
    cast = np.array([0.96, 1.0, 1.06])
    return np.asarray((0.03 + 0.97 * shown) * grid[..., None] * cast, np.float32)


def _sheen(picture: Field, rng: np.random.Generator) -> Field:
    """A soft reflection across the glossy surface."""
    h, w = picture.shape[:2]
    at = rng.uniform(0, 1, 2) * (w, h)
    yy, xx = np.mgrid[0:h, 0:w]
    spot = np.exp(-(((xx - at[0]) / (0.45 * w)) ** 2 + ((yy - at[1]) / (0.3 * w)) ** 2))
    return np.asarray(picture + float(rng.uniform(0, 0.16)) * spot[..., None], np.float32)
