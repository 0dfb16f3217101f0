"""A classical pipeline for bolt holes: circles by the Hough gradient transform, no learning.

H. K. Yuen, J. Princen, J. Illingworth and J. Kittler, "Comparative study of Hough transform methods
for circle finding", Image and Vision Computing 8 (1990), as OpenCV has it. Used by `peers.py` for
time and `hole_counting.py` for accuracy.
"""

from dataclasses import dataclass

import cv2
import numpy as np

LONG_SIDE = 1216
BANDS_PX = ((10, 18), (18, 32), (32, 56), (56, 100))
MOST_THROATS = 8
"""Circles kept of each band of radii."""

PATCH = 256
REACH = 2.6
"""Half a patch in throat radii."""

THROAT_PX = PATCH / 2 / REACH


@dataclass(frozen=True)
class HoughSettings:
    """What is tuned: votes for throat and hole, a hole's radius and ring in throat radii."""

    throat_votes: float = 45.0
    votes: float = 18.0
    least: float = 0.16
    most: float = 0.34
    inner: float = 1.5
    outer: float = 2.2


def throats(grey: np.ndarray, votes: float) -> list[tuple[float, float, float]]:
    """Circles (x, y, radius) of a grey photo that may be throats, strongest first in each band.

    One search over all radii finds covers and flange outlines before it finds a throat.
    """
    k = min(1.0, LONG_SIDE / max(grey.shape))
    small = cv2.resize(grey, None, fx=k, fy=k, interpolation=cv2.INTER_AREA) if k < 1 else grey
    soft = cv2.medianBlur(small, 5)
    out: list[tuple[float, float, float]] = []
    for least, most in BANDS_PX:
        found = cv2.HoughCircles(
            soft,
            cv2.HOUGH_GRADIENT,
            1.5,
            least,
            param1=140,
            param2=votes,
            minRadius=least,
            maxRadius=most,
        )
        if found is not None:
            out += [tuple(float(v) / k for v in c[:3]) for c in found[0, :MOST_THROATS]]
    return out


def patch_of(
    grey: np.ndarray, centre: np.ndarray, right: np.ndarray, down: np.ndarray
) -> np.ndarray:
    """Square patch in which the throat, given by centre and two half axes, is a circle."""
    s = 2 * REACH / PATCH
    to_photo = np.column_stack([right * s, down * s, centre - REACH * (right + down)])
    return cv2.warpAffine(
        grey,
        to_photo,
        (PATCH, PATCH),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )


def count_holes(patch: np.ndarray, settings: HoughSettings) -> int | None:
    """Circles of a hole's size in the ring around the throat; None unless there are 2 to 4."""
    found = cv2.HoughCircles(
        cv2.GaussianBlur(patch, (0, 0), 1.0),
        cv2.HOUGH_GRADIENT,
        1.0,
        18,
        param1=120,
        param2=settings.votes,
        minRadius=int(settings.least * THROAT_PX),
        maxRadius=int(np.ceil(settings.most * THROAT_PX)),
    )
    if found is None:
        return None
    away = np.hypot(found[0, :, 0] - PATCH / 2, found[0, :, 1] - PATCH / 2) / THROAT_PX
    count = int(((away >= settings.inner) & (away <= settings.outer)).sum())
    return count if 2 <= count <= 4 else None


def whole_photo(pixels: np.ndarray, settings: HoughSettings) -> list[tuple[float, float, int]]:
    """Throats with a hole count (x, y, holes) of an RGB photo, seen as if face on."""
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    out = []
    for x, y, r in throats(grey, settings.throat_votes):
        patch = patch_of(grey, np.array([x, y]), np.array([r, 0.0]), np.array([0.0, r]))
        count = count_holes(patch, settings)
        if count is not None:
            out.append((x, y, count))
    return out
