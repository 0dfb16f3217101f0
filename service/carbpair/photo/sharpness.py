"""How far edges are spread, from the ratio of an edge's slope before and after a known blur.

Source: Zhuo and Sim, "Defocus map estimation from a single image", Pattern Recognition 44
(2011): an edge of Gaussian spread σ blurred once more by σ₀ keeps σ / √(σ² + σ₀²) of its
slope, so σ = σ₀ / √(R² − 1) with R the ratio of slopes.
"""

import math
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

Grey = NDArray[np.uint8]

REBLUR_SIGMA = 1.0
"""σ₀, pixels of the picture measured."""

STRONG_SHARE = 0.02
"""Share of pixels, those with the steepest slopes, that count as edges."""

MIN_SLOPE = 12
"""Half grey levels per pixel (Sobel / 4) that a re-blurred edge must keep, above noise."""

SHARP_QUANTILE = 0.25
"""A photo is as sharp as its sharpest quarter of edges: a soft background is no fault."""

MIN_EDGES = 60
"""Fewer strong edges than this in a direction say nothing about blur in it."""

SLOPE_VARIANCE = 0.45
"""Pixels² that taking slopes over three pixels adds to σ²; measured on ideal edges."""

MAX_SIGMA = 6.0
"""Spreads beyond this are all the same: hopeless."""

_BORDER = 4  # pixels at a tile's rim whose blur saw no neighbours


def edge_spread(tiles: Sequence[Grey]) -> float | None:
    """Gaussian spread σ in pixels of the sharpest edges in grey pictures (H, W).

    Measured across and along separately, so that camera shake in one direction shows; the
    larger of both. None if there are too few edges to tell, as in fog or behind a lens cap.
    """
    pairs: tuple[list[Grey], list[Grey]] = ([], [])
    for tile in tiles:
        soft = np.asarray(cv2.GaussianBlur(tile, (0, 0), REBLUR_SIGMA), dtype=np.uint8)
        for direction, collected in enumerate(pairs):
            collected.append(np.stack([_slope(tile, direction), _slope(soft, direction)]))
    spreads = [_spread(np.concatenate([p.reshape(2, -1) for p in pair], axis=1)) for pair in pairs]
    known = [spread for spread in spreads if spread is not None]
    return max(known) if known else None


def _slope(grey: Grey, direction: int) -> Grey:
    slope = cv2.Sobel(grey, cv2.CV_16S, 1 - direction, direction)
    level = cv2.convertScaleAbs(slope, alpha=0.25)
    return np.asarray(level[_BORDER:-_BORDER, _BORDER:-_BORDER], dtype=np.uint8)


def _spread(slopes: NDArray[np.uint8]) -> float | None:
    before, after = slopes
    # How many pixels are at least as steep as each of the 256 levels.
    steeper = np.cumsum(np.bincount(after, minlength=256)[::-1])[::-1]
    floor = max(int(np.argmax(steeper <= STRONG_SHARE * after.size)), MIN_SLOPE)
    edges = after >= floor
    if int(edges.sum()) < MIN_EDGES:
        return None
    ratio = before[edges].astype(np.float32) / after[edges]
    steep = float(np.quantile(ratio, 1.0 - SHARP_QUANTILE))
    if steep <= 1.0:
        return MAX_SIGMA
    variance = REBLUR_SIGMA**2 / (steep * steep - 1.0) - SLOPE_VARIANCE
    return min(MAX_SIGMA, math.sqrt(max(0.0, variance)))
