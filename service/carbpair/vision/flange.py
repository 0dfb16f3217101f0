"""Count the bolt holes of an air flange, seen face on.

The throat's landmarks give the flange's plane; the flange is warped to face the camera, holes are
found and told apart from vents there, and their positions must form a bolt pattern.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from carbpair.geometry.bolt_pattern import bolt_patterns, on_flange, unexplained_holes
from carbpair.geometry.hole_layout import pattern_direction
from carbpair.geometry.homography import apply_homography, fit_homography
from carbpair.vision.crop import Crop, sample
from carbpair.vision.landmarks import Landmarks, sigmoid

SIZE = 128
REACH = 2.7
"""The rectified flange shows this many throat radii to each side of the throat's centre."""

REFERENCE = np.array([[0.0, 0], [1, 0], [-1, 0], [0, -1], [0, 1]])
"""Throat centre, right, left, up and down in flange coordinates: throat radii, x right, y down."""

MAX_HOLES = 8

PLANE_TOLERANCE = 0.25
"""Largest root-mean-square miss of found holes from a pattern, throat radii: the plane's own
error is part of it."""


@dataclass(frozen=True, slots=True)
class Hole:
    """A hole in view pixels with its radius, kind ("bolt" or "vent") and score."""

    x: float
    y: float
    radius: float
    kind: str
    score: float
    plane: tuple[float, float]


@dataclass(frozen=True, slots=True)
class FlangeReading:
    """Raw reading: logits of 2, 3 and 4 holes, chance that all are in view, holes, what fits.

    `pattern_count`: the count of a pattern that the bolt holes form, all of them and whole; None
    for too few of them, for holes out of place (the plane may be off) and for one too many alike.
    `against` tells the last apart: for each count the score, 0 to 1, of the surest bolt hole that
    is more than such a flange has; 0 where there are no more holes than that.
    `pattern_deg`: how the pattern of `pattern_count` holes lies, as `pattern_direction` has it.
    """

    logits: NDArray[np.float64]
    whole: float
    holes: tuple[Hole, ...]
    pattern_count: int | None
    homography: NDArray[np.float64]
    against: Mapping[int, float] = field(default_factory=dict)
    pattern_deg: float | None = None


def plane_of(marks: Landmarks) -> NDArray[np.float64] | None:
    """Homography (3, 3) from flange coordinates to view pixels; None if the points fit no plane."""
    try:
        return fit_homography(REFERENCE, marks.points[7:12])
    except ValueError:
        return None


def facing(marks: Landmarks) -> float:
    """How squarely the flange faces the camera: signed minor-to-major ratio of the throat, (−1, 1].

    Positive when the flange's front is seen, by the turn from its right to its up.
    """
    right = (marks.point("throat_right") - marks.point("throat_left")) / 2
    down = (marks.point("throat_down") - marks.point("throat_up")) / 2
    m = np.stack([right, down], 1)
    s = np.linalg.svd(m, compute_uv=False)
    return float(np.sign(np.linalg.det(m)) * s[1] / max(s[0], 1e-9))


def rectify(crop: Crop, h: NDArray[np.float64]) -> NDArray[np.float32]:
    """The flange face on, float32 (3, 128, 128)."""
    c = ((np.arange(SIZE) + 0.5) / SIZE * 2 - 1) * REACH
    gx, gy = np.meshgrid(c, c)
    at = apply_homography(h, np.stack([gx.ravel(), gy.ravel()], 1)).reshape(SIZE, SIZE, 2)
    return sample(crop, np.nan_to_num(at, nan=-1e4, posinf=1e4, neginf=-1e4))


def decode(
    maps: NDArray[np.float32], answers: NDArray[np.float32], h: NDArray[np.float64], peak: float
) -> FlangeReading:
    """Holes from maps (2, 64, 64), the count's logits, and the pattern the bolts form."""
    holes: list[Hole] = []
    cells = maps.shape[-1]
    for kind, logits in zip(("bolt", "vent"), maps, strict=True):
        score = 1.0 / (1.0 + np.exp(-logits))
        top = (score >= cv2.dilate(score, np.ones((5, 5), np.uint8))) & (score >= peak)
        ranked = sorted(zip(*np.nonzero(top), strict=True), key=lambda p: -score[p[0], p[1]])
        for y, x in ranked[:MAX_HOLES]:
            plane = ((np.array([x, y]) + 0.5) / cells * 2 - 1) * REACH
            r = 0.23 if kind == "bolt" else 0.12
            around = plane + r * np.array([[0.0, 0], [1, 0], [0, 1], [-1, 0], [0, -1]])
            p = apply_homography(h, around)
            size = float(np.linalg.norm(p[1:] - p[0], axis=1).mean())
            holes.append(
                Hole(float(p[0, 0]), float(p[0, 1]), size, kind, float(score[y, x]),
                     (float(plane[0]), float(plane[1])))
            )  # fmt: skip
    bolts = [hole for hole in holes if hole.kind == "bolt"]
    planes = np.array([hole.plane for hole in bolts]).reshape(-1, 2)
    fits = bolt_patterns(planes, PLANE_TOLERANCE)
    scores = [hole.score for hole in bolts]
    against = {n: _extra_hole(planes, scores, n) for n in (2, 3, 4)}
    count = fits[0].count if fits and not against[fits[0].count] else None
    lies = None if count is None else pattern_direction(planes[list(fits[0].used)], count)
    return FlangeReading(
        answers[:3].astype(float), sigmoid(answers[3]), tuple(holes), count, h, against, lies
    )


def _extra_hole(planes: NDArray[np.float64], scores: list[float], count: int) -> float:
    """Score of the surest hole that is more than a flange of `count` holes has; 0 for none.

    Only as many can be too many as there are more than `count`: with the flange's plane off, a
    whole pattern fits nowhere, and its own holes are not evidence against it.
    """
    spare = int(on_flange(planes).sum()) - count
    left_over = sorted(scores[i] for i in unexplained_holes(planes, count, PLANE_TOLERANCE))
    return max(left_over[: max(spare, 0)], default=0.0)
