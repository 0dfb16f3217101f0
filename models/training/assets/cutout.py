"""A cut-out object (a picture with alpha) laid on a real background: a negative with objects."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

SIZE = (768, 576)  # width, height of the composite
SHARE = (0.25, 0.75)  # the object's larger side over the composite's height
ENLARGE = 2.0  # small cut-outs are not blown up further than this
ZOOM = 1.6  # a large background is cropped by up to this much
FEATHER = 1.2  # pixels of blur on the alpha edge


def compose(
    cutout: NDArray[np.uint8], background: NDArray[np.uint8], rng: np.random.Generator
) -> NDArray[np.uint8]:
    """One composite, BGR, shape (SIZE[1], SIZE[0], 3).

    Args:
        cutout: BGRA, shape (h, w, 4).
        background: BGR, any size; a random crop of it fills the picture.
        rng: decides crop, size, place, mirror and turn.
    """
    width, height = SIZE
    canvas = _crop(background, width, height, rng).astype(np.float32)
    # colour under transparent pixels is arbitrary: resample it premultiplied by alpha
    alpha = cutout[..., 3:].astype(np.float32) / 255.0
    layer = np.dstack([cutout[..., :3].astype(np.float32) * alpha, alpha])
    scale = min(rng.uniform(*SHARE) * height / max(cutout.shape[:2]), ENLARGE)
    area = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_LINEAR
    layer = cv2.resize(layer, None, fx=scale, fy=scale, interpolation=area)
    turn = np.radians(rng.uniform(-25.0, 25.0))
    mirror = -1.0 if rng.random() < 0.5 else 1.0
    centre = rng.uniform((0.2 * width, 0.2 * height), (0.8 * width, 0.8 * height))
    cos, sin = np.cos(turn), np.sin(turn)
    linear = np.array([[mirror * cos, -sin], [mirror * sin, cos]])
    middle = np.array([layer.shape[1], layer.shape[0]]) / 2.0
    warp = np.column_stack([linear, centre - linear @ middle])
    layer = cv2.warpAffine(layer, warp, (width, height), flags=cv2.INTER_LINEAR)
    layer = cv2.GaussianBlur(layer, (0, 0), FEATHER / 2.0)
    light = rng.uniform(0.75, 1.2)
    out = canvas * (1.0 - layer[..., 3:]) + layer[..., :3] * light
    return np.asarray(np.clip(np.rint(out), 0, 255), np.uint8)


def _crop(
    picture: NDArray[np.uint8], width: int, height: int, rng: np.random.Generator
) -> NDArray[np.uint8]:
    scale = max(width / picture.shape[1], height / picture.shape[0])
    if scale * ZOOM < 1.0:
        scale *= rng.uniform(1.0, ZOOM)
    wide = max(width, round(picture.shape[1] * scale))
    high = max(height, round(picture.shape[0] * scale))
    sized = cv2.resize(picture, (wide, high), interpolation=cv2.INTER_AREA)
    x, y = rng.integers(0, wide - width + 1), rng.integers(0, high - height + 1)
    return np.asarray(sized[y : y + height, x : x + width], np.uint8)
