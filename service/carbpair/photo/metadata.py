"""Photos without the personal data that cameras add.

A photo is decoded and encoded anew, so nothing of the old file but the picture survives:
no position, date, serial number, maker's notes, thumbnail or owner's name.
"""

import cv2
import numpy as np
import simplejpeg
from numpy.typing import NDArray

QUALITY = 92
"""JPEG quality: at this value re-encoding changes less than the sensor's noise."""


def clean_jpeg(
    pixels: NDArray[np.uint8], quality: int = QUALITY, max_side: int | None = None
) -> bytes:
    """JPEG bytes of an upright RGB picture (H, W, 3), with no metadata at all.

    `max_side`: the longer side is scaled down to this many pixels if it is larger.
    Raises ValueError for a picture of another shape or type.
    """
    if pixels.ndim != 3 or pixels.shape[2] != 3 or pixels.dtype != np.uint8:
        raise ValueError("a picture to encode must be uint8 RGB of shape (H, W, 3)")
    longest = max(pixels.shape[:2])
    if max_side is not None and longest > max_side:
        scale = max_side / longest
        size = (
            max(1, round(pixels.shape[1] * scale)),
            max(1, round(pixels.shape[0] * scale)),
        )
        pixels = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    encoded = simplejpeg.encode_jpeg(
        np.ascontiguousarray(pixels), quality=quality, colorspace="RGB", colorsubsampling="420"
    )
    return bytes(encoded)
