"""What a sensor or a file does to a picture: noise, JPEG, fewer pixels."""

from __future__ import annotations

import cv2
import numpy as np

from ..truth_warp import warped
from .picture import Picture, Truths, stored, to_unit

NOISE_SIGMA = (0.08, 0.12, 0.18, 0.26, 0.38)
"""Gaussian noise of ImageNet-C, standard deviation of values in [0, 1]."""

JPEG_QUALITY = (25, 18, 15, 10, 7)
"""JPEG of ImageNet-C."""

SCALE = (0.6, 0.5, 0.4, 0.3, 0.25)
"""Pixelate of ImageNet-C: the side that is left. Here the picture stays small."""


def noise(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """Gaussian noise, the same draw at every severity."""
    field = rng.standard_normal(picture.shape, dtype=np.float32)
    return stored(to_unit(picture) + NOISE_SIGMA[severity - 1] * field), truth


def jpeg(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """Stored once more as JPEG of low quality."""
    quality = [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY[severity - 1]]
    ok, data = cv2.imencode(".jpg", picture[..., ::-1], quality)
    decoded = cv2.imdecode(data, cv2.IMREAD_COLOR)
    assert ok
    assert decoded is not None
    return np.ascontiguousarray(decoded[..., ::-1]).astype(np.uint8), truth


def low_resolution(
    picture: Picture, truth: Truths, severity: int, rng: np.random.Generator
) -> tuple[Picture, Truths]:
    """Fewer pixels, as a messenger sends pictures on."""
    h, w = picture.shape[:2]
    k = SCALE[severity - 1]
    size = max(1, round(w * k)), max(1, round(h * k))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    shrink = np.diag([size[0] / w, size[1] / h, 1.0])
    return np.asarray(small, np.uint8), [warped(t, shrink, (w, h), size) for t in truth]
