"""Is it a photograph, and have we seen it before? The two rules that precede a person's look."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

HASH_SIDE = 32  # pixels of the grey picture that is hashed
HASH_BITS = 64
SAME = 8  # bits that may differ between two copies of one capture
PROBE_SIDE = 256
FLAT = 0.60  # share of neighbouring pixels that are equal: drawings have more
COLOURS = 120  # distinct 5-bit colours: drawings have fewer
MANY_COLOURS = 220  # a soft photograph (sky, snow, fog) is flat but has many


def perceptual_hash(bgr: NDArray[np.uint8]) -> int:
    """The 64 signs of the lowest 8 × 8 cosine terms about their median, row by row.

    Args:
        bgr: shape (h, w, 3), any size.
    """
    grey = cv2.cvtColor(bgr, cv2.COLOR_BGR2GRAY)
    small = cv2.resize(grey, (HASH_SIDE, HASH_SIDE), interpolation=cv2.INTER_AREA)
    low = cv2.dct(small.astype(np.float32))[:8, :8].ravel()
    # the mean's own term only says how bright the picture is: it never sets its bit
    bits = low > np.median(low[1:])
    bits[0] = False
    return int("".join("1" if bit else "0" for bit in bits), 2)


def hash_distance(a: int, b: int) -> int:
    """Bits in which two perceptual hashes differ, 0 to 64."""
    return (a ^ b).bit_count()


def looks_photographic(bgr: NDArray[np.uint8], lossy: bool) -> bool:
    """False for most drawings, plots, screenshots and masks; a person looks at the rest.

    A JPEG gets the benefit of the doubt: soft photographs are as flat as drawings.

    Args:
        bgr: shape (h, w, 3), any size.
        lossy: the file is a JPEG or a lossy WebP, as nearly all photographs are.
    """
    scale = PROBE_SIDE / max(bgr.shape[:2])
    if scale < 1.0:
        small = cv2.resize(bgr, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        bgr = np.asarray(small, np.uint8)
    coarse = (bgr >> 3).astype(np.int32)
    colours = len(np.unique(coarse[..., 0] * 1024 + coarse[..., 1] * 32 + coarse[..., 2]))
    steps = np.abs(np.diff(bgr.astype(np.float32).mean(axis=2), axis=1))
    flat = float((steps < 1.0).mean())
    return (flat < FLAT and colours > COLOURS) or (lossy and colours > MANY_COLOURS)
