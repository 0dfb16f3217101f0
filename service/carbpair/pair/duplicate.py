"""Near-duplicate photographs: the same shot twice must not count as two witnesses."""

import cv2
import numpy as np
from numpy.typing import NDArray

GRID = (9, 8)
SAME_BITS = 6
"""Hashes of one shot, sent twice or taken in a burst, differ by at most this many of 64 bits."""


def difference_hash(pixels: NDArray[np.uint8]) -> int:
    """64-bit difference hash of an RGB image: is each cell brighter than its left neighbour."""
    step = max(1, max(pixels.shape[:2]) // 512)  # every pixel of 12 million would cost 40 ms
    thumbnail = cv2.resize(
        np.ascontiguousarray(pixels[::step, ::step]), (72, 64), interpolation=cv2.INTER_AREA
    )
    grey = cv2.cvtColor(thumbnail, cv2.COLOR_RGB2GRAY)
    small = cv2.resize(grey, GRID, interpolation=cv2.INTER_AREA).astype(int)
    bits = (small[:, 1:] > small[:, :-1]).ravel()
    return int("".join("1" if b else "0" for b in bits), 2)


def groups(hashes: list[int]) -> list[int]:
    """For each photograph the index of the first that it repeats (itself if none)."""
    out: list[int] = []
    for i, h in enumerate(hashes):
        match = next((j for j in range(i) if (h ^ hashes[j]).bit_count() <= SAME_BITS), i)
        out.append(out[match] if match < i else i)
    return out
